/** Lines: cards, nets and old routes in, new routes out; orthogonal, round the cards, sharing their trunks. */

import type { PortSide } from './card_size.ts';
import type { Area, Point } from './marks.ts';
import type { Grid, Stretch } from './route_grid.ts';
import { buildGrid, nodeAt, nodesOn, pointAt, prices } from './route_grid.ts';
import type { Terminal } from './route_search.ts';
import { findPath } from './route_search.ts';
import { spread } from './route_spread.ts';
import type { Tree } from './route_tree.ts';
import { drawTree, straightened, stretchOf, treeFrom } from './route_tree.ts';

/** An end of a line, on the edge of a card or inside its rectangle (a circle's port). */
export interface RoutePort {
  /** `tilt.angle`. */
  readonly name: string;
  readonly card: string;
  readonly x: number;
  readonly y: number;
  /** The way a line leaves it. */
  readonly side: PortSide;
}

/** One output and all inputs it feeds. */
export interface Net {
  /** The output: `imu.tilt`. */
  readonly from: RoutePort;
  readonly to: readonly RoutePort[];
}

export interface RouteSegment {
  readonly from: Point;
  readonly to: Point;
}

export interface Route {
  /** Name of the output. */
  readonly net: string;
  /** The tree cut where it branches: every stretch once, to draw. */
  readonly lines: readonly (readonly Point[])[];
  /** Branching points. */
  readonly dots: readonly Point[];
  /** From the output to each input, by the input's name: to pick and to walk. */
  readonly leaves: Readonly<Record<string, readonly Point[]>>;
  /** Pinned stretches that run under a card, to be drawn broken. */
  readonly under: readonly { readonly card: string; readonly segment: RouteSegment }[];
  /** True where no way was found and the line goes straight through. */
  readonly blocked: boolean;
  /** True for a long line drawn in haste, to be settled later. */
  readonly rough: boolean;
}

export interface RouteRequest {
  /** Rectangles of all cards, by name. */
  readonly cards: Readonly<Record<string, Area>>;
  readonly nets: readonly Net[];
  /** Earlier routes by net; one that still ends at its ports and is not blocked is kept as it is. */
  readonly old?: Readonly<Record<string, Route>>;
  /** Nets to route anew even though their old route would do. */
  readonly touched?: ReadonlySet<string>;
  /** Segments a line is held to, in order, by the input it feeds (`desk.lines`). */
  readonly pinned?: Readonly<Record<string, readonly RouteSegment[]>>;
  /** While dragging: lines over 1,500 px are drawn in haste (`rough`). */
  readonly quick?: boolean;
}

/** How far lines keep from cards; where that leaves no way, the lesser distance. */
const CLEARANCES = [10, 4];
/** How far round a net cards are looked at first. */
const MARGIN = 240;
const LONG = 1500;

/** Routes by the name of the net's output, in the order of the nets. */
export function routeNets(request: RouteRequest): Readonly<Record<string, Route>> {
  const cards = Object.values(request.cards);
  const routes: Record<string, Route> = {};
  const waiting: Net[] = [];
  for (const net of request.nets) {
    const old = request.old?.[net.from.name];
    if (old !== undefined && stillGood(old, net, request)) routes[net.from.name] = old;
    else waiting.push(net);
  }
  const fixed = Object.values(routes).flatMap((route) => stretchesOf(route));
  const drawn: { readonly net: Net; readonly tree: Tree; readonly old: readonly Stretch[] }[] = [];
  const taken = [...fixed];
  for (const net of inOrder(waiting)) {
    const old = request.old?.[net.from.name];
    const earlier = old === undefined || old.blocked || old.rough ? [] : stretchesOf(old);
    const rough = request.quick === true && span(net) > LONG;
    const tree = rough ? undefined : routeOne(net, request, taken, earlier);
    if (tree === undefined) {
      const route = straightThrough(net, rough);
      routes[net.from.name] = route;
      fixed.push(...stretchesOf(route));
      taken.push(...stretchesOf(route));
    } else {
      drawn.push({ net, tree, old: earlier });
      taken.push(...tree.bars.map(stretchOf));
    }
  }
  const clearance = CLEARANCES[0] ?? 0;
  const trees = drawn.map((each) => each.tree);
  spread({ trees, cards, clearance, fixed, old: drawn.flatMap((each) => each.old) });
  for (const { net, tree } of drawn) routes[net.from.name] = finished(net, tree, request);
  return Object.fromEntries(
    request.nets.flatMap((net) => {
      const route = routes[net.from.name];
      return route === undefined ? [] : [[net.from.name, route]];
    }),
  );
}

function finished(net: Net, tree: Tree, request: RouteRequest): Route {
  const pins = pinsOf(net, request);
  return {
    net: net.from.name,
    ...drawTree(tree),
    under: pins.length === 0 ? [] : underCards(tree, request),
    blocked: false,
    rough: false,
  };
}

/** Whether an old route still ends at its ports and no card has come in its way. */
function stillGood(old: Route, net: Net, request: RouteRequest): boolean {
  if (old.blocked || old.rough || request.touched?.has(net.from.name) === true) return false;
  if (Object.keys(old.leaves).length !== net.to.length) return false;
  for (const port of net.to) {
    const leaf = old.leaves[port.name];
    const first = leaf?.[0];
    const last = leaf?.at(-1);
    if (first === undefined || last === undefined) return false;
    if (first.x !== net.from.x || first.y !== net.from.y || last.x !== port.x || last.y !== port.y) return false;
  }
  const ports = [net.from, ...net.to];
  const pins = pinsOf(net, request);
  if (!pins.every((pin) => stretchesOf(old).some((each) => each.upright === pin.upright && each.at === pin.at)))
    return false;
  return stretchesOf(old).every(
    (stretch) =>
      pins.some((pin) => pin.upright === stretch.upright && pin.at === stretch.at) ||
      Object.entries(request.cards).every(([name, card]) => {
        if (!crosses(stretch, card)) return true;
        return ports.some((port) => port.card === name && isStub(stretch, port, card));
      }),
  );
}

/** Whether a stretch runs through the inside of a card. */
function crosses(stretch: Stretch, card: Area): boolean {
  const [x1, x2] = stretch.upright ? [stretch.at, stretch.at] : [stretch.from, stretch.to];
  const [y1, y2] = stretch.upright ? [stretch.from, stretch.to] : [stretch.at, stretch.at];
  return x2 > card.x && x1 < card.x + card.width && y2 > card.y && y1 < card.y + card.height;
}

/** Whether a stretch in a card is only the way out of a port that lies inside the rectangle. */
function isStub(stretch: Stretch, port: RoutePort, card: Area): boolean {
  const upright = port.side === 'top' || port.side === 'bottom';
  if (stretch.upright !== upright || stretch.at !== (upright ? port.x : port.y)) return false;
  const at = upright ? port.y : port.x;
  const [near, far] = upright ? [card.y, card.y + card.height] : [card.x, card.x + card.width];
  return port.side === 'left' || port.side === 'top'
    ? Math.min(stretch.to, far) <= at
    : Math.max(stretch.from, near) >= at;
}

function stretchesOf(route: Route): Stretch[] {
  return route.lines.flatMap((line) => stretchesIn(line));
}

function stretchesIn(line: readonly Point[]): Stretch[] {
  const found: Stretch[] = [];
  for (let i = 1; i < line.length; i++) {
    const a = line[i - 1];
    const b = line[i];
    if (a !== undefined && b !== undefined) found.push(stretchBetween(a, b));
  }
  return found;
}

function stretchBetween(a: Point, b: Point): Stretch {
  const upright = a.x === b.x;
  const [p, q] = upright ? [a.y, b.y] : [a.x, b.x];
  return { upright, at: upright ? a.x : a.y, from: Math.min(p, q), to: Math.max(p, q) };
}

function pinsOf(net: Net, request: RouteRequest): Stretch[] {
  return net.to.flatMap((port) => (request.pinned?.[port.name] ?? []).map((pin) => stretchBetween(pin.from, pin.to)));
}

/** Short nets first, so that straight lines get their way. */
function inOrder(nets: readonly Net[]): Net[] {
  return [...nets].sort((a, b) => span(a) - span(b) || (a.from.name < b.from.name ? -1 : 1));
}

/** From the output to its farthest input. */
function span(net: Net): number {
  return Math.max(0, ...net.to.map((port) => distance(net.from, port)));
}

function distance(a: Point, b: Point): number {
  return Math.abs(a.x - b.x) + Math.abs(a.y - b.y);
}

/** One net: first with the cards nearby, then with all, then closer to the cards. */
function routeOne(
  net: Net,
  request: RouteRequest,
  taken: readonly Stretch[],
  old: readonly Stretch[],
): Tree | undefined {
  const all = Object.values(request.cards);
  const window = windowOf(net, request);
  const near = all.filter((card) => overlaps(card, window));
  for (const clearance of CLEARANCES) {
    for (const cards of near.length < all.length ? [near, all] : [all]) {
      const lines = linesOf(net, request, cards, clearance, taken, old);
      if (lines === undefined) continue;
      const farAway =
        cards !== all &&
        lines.some((line) =>
          stretchesIn(line).some((each) => all.some((card) => !near.includes(card) && crosses(each, card))),
        );
      if (farAway) continue;
      return treeFrom(
        lines,
        { name: net.from.name, point: pointOf(net.from) },
        net.to.map((port) => ({ name: port.name, point: pointOf(port) })),
        pinsOf(net, request),
      );
    }
  }
  return undefined;
}

function pointOf(port: RoutePort): Point {
  return { x: port.x, y: port.y };
}

function windowOf(net: Net, request: RouteRequest): Area {
  const points: Point[] = [net.from, ...net.to];
  for (const port of net.to) for (const pin of request.pinned?.[port.name] ?? []) points.push(pin.from, pin.to);
  const x = Math.min(...points.map((point) => point.x)) - MARGIN;
  const y = Math.min(...points.map((point) => point.y)) - MARGIN;
  return {
    x,
    y,
    width: Math.max(...points.map((point) => point.x)) + MARGIN - x,
    height: Math.max(...points.map((point) => point.y)) + MARGIN - y,
  };
}

function overlaps(a: Area, b: Area): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

/** Where a line comes clear of its own card. */
function escapeOf(port: RoutePort, card: Area | undefined, clearance: number): Point {
  const box = card ?? { x: port.x, y: port.y, width: 0, height: 0 };
  switch (port.side) {
    case 'left':
      return { x: box.x - clearance, y: port.y };
    case 'right':
      return { x: box.x + box.width + clearance, y: port.y };
    case 'top':
      return { x: port.x, y: box.y - clearance };
    case 'bottom':
      return { x: port.x, y: box.y + box.height + clearance };
  }
}

function wayOf(port: RoutePort): 'level' | 'upright' {
  return port.side === 'left' || port.side === 'right' ? 'level' : 'upright';
}

/** Polylines that together are the net: trunk first, then each input from the nearest point of what is there. */
function linesOf(
  net: Net,
  request: RouteRequest,
  cards: readonly Area[],
  clearance: number,
  taken: readonly Stretch[],
  old: readonly Stretch[],
): Point[][] | undefined {
  const ports = [net.from, ...net.to];
  const escapes = new Map(ports.map((port) => [port, escapeOf(port, request.cards[port.card], clearance)]));
  const pins = pinsOf(net, request);
  const points = [...escapes.values()];
  const lanes = [...old, ...pins];
  const grid = buildGrid({
    cards,
    clearance,
    xs: [
      ...points.map((point) => point.x),
      ...lanes.flatMap((lane) => (lane.upright ? [lane.at] : [lane.from, lane.to])),
    ],
    ys: [
      ...points.map((point) => point.y),
      ...lanes.flatMap((lane) => (lane.upright ? [lane.from, lane.to] : [lane.at])),
    ],
    taken,
    old,
  });
  const builder = new Builder(grid, net.from, escapes);
  for (const port of byDistance(net)) {
    const own = (request.pinned?.[port.name] ?? []).map((pin) => stretchBetween(pin.from, pin.to));
    if (!builder.connect(port, own)) return undefined;
  }
  return builder.lines;
}

function byDistance(net: Net): RoutePort[] {
  return [...net.to].sort((a, b) => distance(net.from, a) - distance(net.from, b) || (a.name < b.name ? -1 : 1));
}

/** Grows a net over the grid. */
class Builder {
  readonly lines: Point[][] = [];
  private readonly grid: Grid;
  private readonly source: RoutePort;
  private readonly escapes: ReadonlyMap<RoutePort, Point>;
  private readonly nodes = new Set<number>();

  constructor(grid: Grid, source: RoutePort, escapes: ReadonlyMap<RoutePort, Point>) {
    this.grid = grid;
    this.source = source;
    this.escapes = escapes;
  }

  /** Leads the line to an input, along its pinned stretches in their order; false where there is no way. */
  connect(port: RoutePort, pins: readonly Stretch[]): boolean {
    let starts = this.starts();
    for (const pin of pins) {
      const lane = nodesOn(this.grid, pin);
      const isThere = lane.length > 0 && lane.every((node) => this.nodes.has(node));
      if (!isThere) {
        const path = findPath(
          this.grid,
          starts,
          lane.map((node) => ({ node, way: 'either' })),
        );
        if (path === undefined) return false;
        this.add(path);
        this.add(lane);
      }
      starts = lane.map((node) => ({ node, way: 'either', price: prices.branch }));
    }
    const clear = this.escapes.get(port);
    if (clear === undefined) return false;
    const path = findPath(this.grid, starts, [{ node: nodeAt(this.grid, clear), way: wayOf(port) }]);
    if (path === undefined) return false;
    this.add(path);
    this.lines.push([clear, { x: port.x, y: port.y }]);
    return true;
  }

  private starts(): Terminal[] {
    if (this.nodes.size > 0) return [...this.nodes].map((node) => ({ node, way: 'either', price: prices.branch }));
    const clear = this.escapes.get(this.source) ?? pointOf(this.source);
    this.lines.push([pointOf(this.source), clear]);
    return [{ node: nodeAt(this.grid, clear), way: wayOf(this.source) }];
  }

  private add(path: readonly number[]): void {
    for (const node of path) this.nodes.add(node);
    if (path.length > 1) this.lines.push(straightened(path.map((node) => pointAt(this.grid, node))));
  }
}

/** A line drawn without regard to cards: out of the output, across, and into each input. */
function straightThrough(net: Net, rough: boolean): Route {
  const leaves: Record<string, readonly Point[]> = {};
  for (const port of net.to) {
    const start = escapeOf(net.from, undefined, 20);
    const end = escapeOf(port, undefined, 20);
    const middle = Math.round((start.x + end.x) / 20) * 10;
    const bend =
      wayOf(net.from) === 'level' && wayOf(port) === 'level'
        ? [
            { x: middle, y: start.y },
            { x: middle, y: end.y },
          ]
        : [wayOf(net.from) === 'level' ? { x: end.x, y: start.y } : { x: start.x, y: end.y }];
    leaves[port.name] = straightened([pointOf(net.from), start, ...bend, end, pointOf(port)]);
  }
  return { net: net.from.name, lines: Object.values(leaves), dots: [], leaves, under: [], blocked: !rough, rough };
}

/** Pieces of a tree inside cards: only pinned ones get there. */
function underCards(tree: Tree, request: RouteRequest): Route['under'] {
  const found: { card: string; segment: RouteSegment }[] = [];
  for (const bar of tree.bars) {
    if (bar.joints.some((joint) => joint.port !== undefined)) continue;
    const stretch = stretchOf(bar);
    for (const [card, area] of Object.entries(request.cards)) {
      if (!crosses(stretch, area)) continue;
      const [low, high] = bar.upright ? [area.y, area.y + area.height] : [area.x, area.x + area.width];
      const from = Math.max(low, stretch.from);
      const to = Math.min(high, stretch.to);
      found.push({
        card,
        segment: bar.upright
          ? { from: { x: bar.at, y: from }, to: { x: bar.at, y: to } }
          : { from: { x: from, y: bar.at }, to: { x: to, y: bar.at } },
      });
    }
  }
  return found;
}
