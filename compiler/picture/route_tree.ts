/** A net as a tree of straight runs: moving a run's coordinate moves everything that hangs on it. */

import type { Point } from './marks.ts';
import type { Stretch } from './route_grid.ts';

/** A straight, unbroken stretch of a net; `at` is its y if level, its x if upright. */
export interface Bar {
  readonly upright: boolean;
  at: number;
  /** Ends at a port, or is pinned: cannot be moved. */
  fixed: boolean;
  /** In order along it; the order never changes. */
  readonly joints: Joint[];
}

/** Where runs meet or a line ends. Without a run that way the coordinate is its own. */
export interface Joint {
  level: Bar | undefined;
  upright: Bar | undefined;
  readonly x: number;
  readonly y: number;
  readonly port: string | undefined;
}

export interface Tree {
  readonly bars: Bar[];
  readonly root: Joint;
  readonly ends: ReadonlyMap<string, Joint>;
}

export interface PortPoint {
  readonly name: string;
  readonly point: Point;
}

export function place(joint: Joint): Point {
  return { x: joint.upright?.at ?? joint.x, y: joint.level?.at ?? joint.y };
}

/** Where a run begins and ends. */
export function extent(bar: Bar): readonly [number, number] {
  const first = bar.joints[0];
  const last = bar.joints.at(-1);
  if (first === undefined || last === undefined) return [bar.at, bar.at];
  const along = (joint: Joint) => (bar.upright ? place(joint).y : place(joint).x);
  return [along(first), along(last)];
}

export function stretchOf(bar: Bar): Stretch {
  const [from, to] = extent(bar);
  return { upright: bar.upright, at: bar.at, from, to };
}

/** The tree that polylines make together; they overlap only where they share the net's trunk. Dangling ends are cut. */
export function treeFrom(
  lines: readonly (readonly Point[])[],
  source: PortPoint,
  sinks: readonly PortPoint[],
  pinned: readonly Stretch[],
): Tree | undefined {
  const graph = new Graph();
  for (const line of lines) graph.addLine(line);
  graph.split();
  const ports = new Map([source, ...sinks].map((port) => [keyOf(port.point), port.name]));
  graph.prune(new Set(ports.keys()));
  return graph.tree(ports, source, sinks, pinned);
}

function keyOf(point: Point): string {
  return `${point.x},${point.y}`;
}

/** Points and the unit steps between them. */
class Graph {
  private readonly stretches: { readonly a: Point; readonly b: Point }[] = [];
  private readonly points = new Map<string, Point>();
  private readonly links = new Map<string, Set<string>>();

  addLine(line: readonly Point[]): void {
    for (let i = 1; i < line.length; i++) {
      const a = line[i - 1];
      const b = line[i];
      if (a !== undefined && b !== undefined && (a.x !== b.x || a.y !== b.y)) this.stretches.push({ a, b });
    }
  }

  /** Cuts every stretch at every end that lies on it, so that shared trunks become shared links. */
  split(): void {
    const ends = this.stretches.flatMap(({ a, b }) => [a, b]);
    for (const end of ends) this.points.set(keyOf(end), end);
    const all = [...this.points.values()];
    for (const { a, b } of this.stretches) {
      const on = all.filter((point) => isBetween(point, a, b));
      on.sort((p, q) => p.x - q.x || p.y - q.y);
      let before: string | undefined;
      for (const point of on) {
        const key = keyOf(point);
        if (before !== undefined) this.link(before, key);
        before = key;
      }
    }
  }

  private link(p: string, q: string): void {
    for (const [one, other] of [
      [p, q],
      [q, p],
    ] as const) {
      const own = this.links.get(one) ?? new Set();
      own.add(other);
      this.links.set(one, own);
    }
  }

  /** Takes away ends that are no ports, over and over. */
  prune(keep: ReadonlySet<string>): void {
    const waiting = [...this.links.keys()];
    for (let key = waiting.pop(); key !== undefined; key = waiting.pop()) {
      const own = this.links.get(key);
      if (own === undefined || own.size !== 1 || keep.has(key)) continue;
      for (const other of own) {
        this.links.get(other)?.delete(key);
        waiting.push(other);
      }
      this.links.delete(key);
    }
  }

  tree(
    ports: ReadonlyMap<string, string>,
    source: PortPoint,
    sinks: readonly PortPoint[],
    pinned: readonly Stretch[],
  ): Tree | undefined {
    const joints = new Map<string, Joint>();
    for (const key of this.links.keys()) {
      const point = this.points.get(key);
      if (point !== undefined)
        joints.set(key, { level: undefined, upright: undefined, x: point.x, y: point.y, port: ports.get(key) });
    }
    const bars = [...this.bars(joints, false), ...this.bars(joints, true)];
    for (const bar of bars) {
      const stretch = stretchOf(bar);
      bar.fixed ||= pinned.some(
        (pin) => pin.upright === bar.upright && pin.at === bar.at && pin.from < stretch.to && pin.to > stretch.from,
      );
    }
    const root = joints.get(keyOf(source.point));
    const ends = new Map<string, Joint>();
    for (const sink of sinks) {
      const joint = joints.get(keyOf(sink.point));
      if (joint !== undefined) ends.set(sink.name, joint);
    }
    return root === undefined || ends.size < sinks.length ? undefined : { bars, root, ends };
  }

  /** Chains of links in one direction, each a run with the joints where something turns, branches or ends. */
  private bars(joints: ReadonlyMap<string, Joint>, upright: boolean): Bar[] {
    const bars: Bar[] = [];
    const seen = new Set<string>();
    const keys = [...joints.keys()].sort((p, q) => {
      const a = joints.get(p);
      const b = joints.get(q);
      return a === undefined || b === undefined ? 0 : upright ? a.x - b.x || a.y - b.y : a.y - b.y || a.x - b.x;
    });
    const ahead = (key: string) =>
      [...(this.links.get(key) ?? [])].find((other) => {
        const a = joints.get(key);
        const b = joints.get(other);
        if (a === undefined || b === undefined) return false;
        return upright ? a.x === b.x && b.y > a.y : a.y === b.y && b.x > a.x;
      });
    for (const key of keys) {
      if (seen.has(key)) continue;
      const chain: string[] = [];
      for (let at: string | undefined = key; at !== undefined; at = ahead(at)) {
        chain.push(at);
        seen.add(at);
      }
      if (chain.length < 2) continue;
      const first = joints.get(key);
      if (first === undefined) continue;
      const bar: Bar = { upright, at: upright ? first.x : first.y, fixed: false, joints: [] };
      chain.forEach((each, i) => {
        const joint = joints.get(each);
        if (joint === undefined) return;
        const turns = [...(this.links.get(each) ?? [])].some((other) => {
          const b = joints.get(other);
          return b !== undefined && (upright ? b.x !== joint.x : b.y !== joint.y);
        });
        if (joint.port === undefined && !turns && i > 0 && i < chain.length - 1) return;
        if (upright) joint.upright = bar;
        else joint.level = bar;
        bar.joints.push(joint);
        if (joint.port !== undefined) bar.fixed = true;
      });
      bars.push(bar);
    }
    return bars;
  }
}

function isBetween(point: Point, a: Point, b: Point): boolean {
  if (a.x === b.x) return point.x === a.x && point.y >= Math.min(a.y, b.y) && point.y <= Math.max(a.y, b.y);
  return point.y === a.y && point.x >= Math.min(a.x, b.x) && point.x <= Math.max(a.x, b.x);
}

/** A jog: a short run between the end of one run and the beginning of the next one the same way. */
export interface Jog {
  readonly bar: Bar;
  readonly before: Bar;
  readonly beyond: Bar;
}

/** The jog that a run is, if it is one and its ends go on in opposite directions. */
export function jogOf(bar: Bar): Jog | undefined {
  const [first, last] = bar.joints;
  if (first === undefined || last === undefined || bar.joints.length !== 2) return undefined;
  const one = bar.upright ? first.level : first.upright;
  const other = bar.upright ? last.level : last.upright;
  if (one === undefined || other === undefined) return undefined;
  if (one.joints.at(-1) === first && other.joints[0] === last) return { bar, before: one, beyond: other };
  if (other.joints.at(-1) === last && one.joints[0] === first) return { bar, before: other, beyond: one };
  return undefined;
}

/** Makes one straight run of a jog whose two sides have come to lie on one line. */
export function joinJog(tree: Tree, jog: Jog): void {
  const { before, beyond } = jog;
  before.joints.pop();
  for (const joint of beyond.joints.slice(1)) {
    if (beyond.upright) joint.upright = before;
    else joint.level = before;
    before.joints.push(joint);
  }
  before.fixed ||= beyond.fixed;
  for (const gone of [jog.bar, beyond]) tree.bars.splice(tree.bars.indexOf(gone), 1);
}

/** The joints next to one along its runs. */
export function neighbours(joint: Joint): Joint[] {
  const next: Joint[] = [];
  for (const bar of [joint.level, joint.upright]) {
    if (bar === undefined) continue;
    const at = bar.joints.indexOf(joint);
    for (const other of [bar.joints[at - 1], bar.joints[at + 1]]) if (other !== undefined) next.push(other);
  }
  return next;
}

export interface DrawnTree {
  readonly lines: readonly (readonly Point[])[];
  readonly dots: readonly Point[];
  readonly leaves: Readonly<Record<string, readonly Point[]>>;
}

/** The tree as polylines: every stretch once, branching points, and the way to each end. */
export function drawTree(tree: Tree): DrawnTree {
  const lines: Point[][] = [];
  const dots: Point[] = [];
  const leaves: Record<string, readonly Point[]> = {};
  const names = new Map([...tree.ends].map(([name, joint]) => [joint, name]));
  const walk = (joint: Joint, from: Joint | undefined, way: readonly Point[], line: Point[]): void => {
    const here = place(joint);
    const path = [...way, here];
    line.push(here);
    const name = names.get(joint);
    if (name !== undefined) leaves[name] = straightened(path);
    const onward = neighbours(joint).filter((other) => other !== from);
    const [only] = onward;
    if (onward.length === 1 && only !== undefined && name === undefined) {
      walk(only, joint, path, line);
      return;
    }
    lines.push(straightened(line));
    if (onward.length > 1) dots.push(here);
    for (const other of onward) walk(other, joint, path, [here]);
  };
  walk(tree.root, undefined, [], []);
  return { lines: lines.filter((line) => line.length > 1), dots, leaves };
}

/** Without repeated points and points in the middle of straight stretches. */
export function straightened(points: readonly Point[]): Point[] {
  const kept: Point[] = [];
  for (const point of points) {
    const last = kept.at(-1);
    const before = kept.at(-2);
    if (last !== undefined && last.x === point.x && last.y === point.y) continue;
    if (last !== undefined && before !== undefined && inLine(before, last, point)) kept.pop();
    kept.push(point);
  }
  return kept;
}

function inLine(a: Point, b: Point, c: Point): boolean {
  return (a.x === b.x && b.x === c.x) || (a.y === b.y && b.y === c.y);
}
