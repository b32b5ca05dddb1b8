/** Routes as stretches: what they cross, where they are pinned, where a port lets them out. */

import type { Area, Point } from './marks.ts';
import type { Net, Route, RoutePort, RouteRequest } from './route.ts';
import type { Stretch } from './route_grid.ts';

/** Whether a stretch runs through the inside of a card. */
export function crosses(stretch: Stretch, card: Area): boolean {
  const [x1, x2] = stretch.upright ? [stretch.at, stretch.at] : [stretch.from, stretch.to];
  const [y1, y2] = stretch.upright ? [stretch.from, stretch.to] : [stretch.at, stretch.at];
  return x2 > card.x && x1 < card.x + card.width && y2 > card.y && y1 < card.y + card.height;
}

/** Whether a stretch in a card is only the way out of a port that lies inside the rectangle. */
export function isStub(stretch: Stretch, port: RoutePort, card: Area): boolean {
  const upright = port.side === 'top' || port.side === 'bottom';
  if (stretch.upright !== upright || stretch.at !== (upright ? port.x : port.y)) return false;
  const at = upright ? port.y : port.x;
  const [near, far] = upright ? [card.y, card.y + card.height] : [card.x, card.x + card.width];
  return port.side === 'left' || port.side === 'top'
    ? Math.min(stretch.to, far) <= at
    : Math.max(stretch.from, near) >= at;
}

const known = new WeakMap<Route, readonly Stretch[]>();

/** All stretches of a route; worked out once, since routes never change. */
export function stretchesOf(route: Route): readonly Stretch[] {
  let stretches = known.get(route);
  if (stretches === undefined) {
    stretches = route.lines.flatMap((line) => stretchesIn(line));
    known.set(route, stretches);
  }
  return stretches;
}

export function stretchesIn(line: readonly Point[]): Stretch[] {
  const found: Stretch[] = [];
  for (let i = 1; i < line.length; i++) {
    const a = line[i - 1];
    const b = line[i];
    if (a !== undefined && b !== undefined) found.push(stretchBetween(a, b));
  }
  return found;
}

export function stretchBetween(a: Point, b: Point): Stretch {
  const upright = a.x === b.x;
  const [p, q] = upright ? [a.y, b.y] : [a.x, b.x];
  return { upright, at: upright ? a.x : a.y, from: Math.min(p, q), to: Math.max(p, q) };
}

/** Stretches that a net is held to, by any of its inputs. */
export function pinsOf(net: Net, request: RouteRequest): Stretch[] {
  return net.to.flatMap((port) => (request.pinned?.[port.name] ?? []).map((pin) => stretchBetween(pin.from, pin.to)));
}

/** The rectangle round a stretch. */
export function boxOf(stretch: Stretch): Area {
  const length = stretch.to - stretch.from;
  return stretch.upright
    ? { x: stretch.at, y: stretch.from, width: 0, height: length }
    : { x: stretch.from, y: stretch.at, width: length, height: 0 };
}

/** Along level and upright ways. */
export function distance(a: Point, b: Point): number {
  return Math.abs(a.x - b.x) + Math.abs(a.y - b.y);
}
