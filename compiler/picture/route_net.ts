/** One net: its trunk and branches over the sparse grid, each input from the nearest point of what is there. */

import type { AreaIndex } from './area_index.ts';
import type { Area, Point } from './marks.ts';
import type { Net, RoutePort, RouteRequest } from './route.ts';
import type { Grid, Stretch } from './route_grid.ts';
import { buildGrid, nodeAt, nodesOn, pointAt, prices } from './route_grid.ts';
import type { Terminal } from './route_search.ts';
import { findPath } from './route_search.ts';
import { boxOf, crosses, distance, pinsOf, stretchBetween, stretchesIn } from './route_shape.ts';
import type { Tree } from './route_tree.ts';
import { straightened, treeFrom } from './route_tree.ts';

/** How far lines keep from cards; where that leaves no way, the lesser distance. */
export const CLEARANCES = [10, 4];
/** How far round a net cards are looked at first. */
const MARGIN = 240;

/** One net: first with the cards nearby, then with all, then closer to the cards. */
export function routeOne(
  net: Net,
  request: RouteRequest,
  index: AreaIndex,
  taken: readonly Stretch[],
  old: readonly Stretch[],
): Tree | undefined {
  const all = index.all;
  const window = windowOf(net, request);
  const near = index.near(window).flatMap((i) => all[i] ?? []);
  for (const clearance of CLEARANCES) {
    for (const cards of near.length < all.length ? [near, all] : [all]) {
      const others = cards === all ? taken : taken.filter((stretch) => overlaps(boxOf(stretch), window));
      const lines = linesOf(net, request, cards, clearance, others, old);
      if (lines === undefined || (cards !== all && meetsOthers(lines, index, near))) continue;
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

/** Whether lines run through cards that were not looked at. */
function meetsOthers(lines: readonly (readonly Point[])[], index: AreaIndex, known: readonly Area[]): boolean {
  return lines.flatMap(stretchesIn).some((stretch) =>
    index.near(boxOf(stretch)).some((i) => {
      const card = index.all[i];
      return card !== undefined && crosses(stretch, card) && !known.includes(card);
    }),
  );
}

export function pointOf(port: RoutePort): Point {
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
  return a.x <= b.x + b.width && b.x <= a.x + a.width && a.y <= b.y + b.height && b.y <= a.y + a.height;
}

/** Where a line comes clear of its own card. */
export function escapeOf(port: RoutePort, card: Area | undefined, clearance: number): Point {
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

/** The way a line leaves a port. */
export function wayOf(port: RoutePort): 'level' | 'upright' {
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
