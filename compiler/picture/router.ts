/** Lines: cards, nets and old routes in, new routes out; orthogonal, round the cards, sharing their trunks. */

import { AreaIndex } from './area_index.ts';
import type { Point } from './marks.ts';
import type { Net, Route, RouteRequest, RouteSegment } from './route.ts';
import type { Stretch } from './route_grid.ts';
import { CLEARANCES, escapeOf, pointOf, routeOne, wayOf } from './route_net.ts';
import { boxOf, crosses, distance, isStub, pinsOf, stretchesOf } from './route_shape.ts';
import { spread } from './route_spread.ts';
import type { Tree } from './route_tree.ts';
import { drawTree, straightened, stretchOf } from './route_tree.ts';

export type { Net, Route, RoutePort, RouteRequest, RouteSegment } from './route.ts';

/** Lines longer than this are drawn in haste while something is dragged. */
const LONG = 1500;

/** Routes by the name of the net's output, in the order of the nets. */
export function routeNets(request: RouteRequest): Readonly<Record<string, Route>> {
  const cards = Object.values(request.cards);
  const index = new AreaIndex(cards);
  const names = Object.keys(request.cards);
  const routes: Record<string, Route> = {};
  const waiting: Net[] = [];
  for (const net of request.nets) {
    const old = request.old?.[net.from.name];
    if (old !== undefined && stillGood(old, net, request, index, names)) routes[net.from.name] = old;
    else waiting.push(net);
  }
  const fixed = Object.values(routes).flatMap((route) => stretchesOf(route));
  const drawn: { readonly net: Net; readonly tree: Tree; readonly old: readonly Stretch[] }[] = [];
  const taken = [...fixed];
  for (const net of inOrder(waiting)) {
    const old = request.old?.[net.from.name];
    const earlier = old === undefined || old.blocked || old.rough ? [] : stretchesOf(old);
    const rough = request.quick === true && span(net) > LONG;
    const tree = rough ? undefined : routeOne(net, request, index, taken, earlier);
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
function stillGood(old: Route, net: Net, request: RouteRequest, index: AreaIndex, names: readonly string[]): boolean {
  if (old.blocked || old.rough || request.touched?.has(net.from.name) === true) return false;
  if (Object.keys(old.leaves).length !== net.to.length) return false;
  for (const port of net.to) {
    const leaf = old.leaves[port.name];
    const first = leaf?.[0];
    const last = leaf?.at(-1);
    if (first === undefined || last === undefined) return false;
    if (first.x !== net.from.x || first.y !== net.from.y || last.x !== port.x || last.y !== port.y) return false;
  }
  const stretches = stretchesOf(old);
  const pins = pinsOf(net, request);
  if (!pins.every((pin) => stretches.some((each) => each.upright === pin.upright && each.at === pin.at))) return false;
  const ports = [net.from, ...net.to];
  return stretches.every(
    (stretch) =>
      pins.some((pin) => pin.upright === stretch.upright && pin.at === stretch.at) ||
      index.near(boxOf(stretch)).every((i) => {
        const card = index.all[i];
        if (card === undefined || !crosses(stretch, card)) return true;
        return ports.some((port) => port.card === names[i] && isStub(stretch, port, card));
      }),
  );
}

/** Short nets first, so that straight lines get their way. */
function inOrder(nets: readonly Net[]): Net[] {
  return [...nets].sort((a, b) => span(a) - span(b) || (a.from.name < b.from.name ? -1 : 1));
}

/** From the output to its farthest input. */
function span(net: Net): number {
  return Math.max(0, ...net.to.map((port) => distance(net.from, port)));
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
