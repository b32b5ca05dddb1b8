/** What stands on a line: arrows, branching dots, the slash of a vector, risers and rings with the slower comb, chips. */

import type { PortSide } from './card_size.ts';
import { COMB_TICKS, layoutComb } from './comb.ts';
import type { Area, Mark, Point } from './marks.ts';
import { textWidth } from './metrics.ts';
import type { Route } from './router.ts';

/** Where a line crosses rates: what the reader sees, and the slower side's comb. */
export interface Crossing {
  /** Slow into fast, fast into slow, or across layers of the schedule. */
  readonly kind: 'held' | 'sampled' | 'layered';
  readonly every: number;
  readonly phase: number;
}

export interface LineFacts {
  readonly logic: boolean;
  /** Values it carries: 1 for a scalar, 0 where that is not known yet. */
  readonly size: number;
  /** By the input fed. */
  readonly crossings?: Readonly<Record<string, Crossing>>;
  /** Conversions of units, by the input fed: `deg ▸ rad`, as its two ends. */
  readonly conversions?: Readonly<Record<string, readonly [from: string, to: string]>>;
  /** Whether nothing else is drawn at a place; marks move along their line to where this says yes. */
  readonly isFree?: (place: Area) => boolean;
}

const ARROW = { length: 10, half: 4 };
const DOT = 3;
const TEXT = 11;

/** Everything drawn of a net, lines first. */
export function lineMarks(route: Route, facts: LineFacts, sides: Readonly<Record<string, PortSide>>): Mark[] {
  return [
    ...lines(route, facts),
    ...route.dots.map(dot),
    ...arrows(route, sides),
    ...vectorMark(route, facts),
    ...onLeaves(route, facts),
  ];
}

function lines(route: Route, facts: LineFacts): Mark[] {
  const d = route.lines.map((line) => polyline(line)).join('');
  const role = route.blocked ? 'line_blocked' : facts.logic ? 'line_logic' : 'line';
  const under = route.under.map(
    ({ segment }): Mark => ({ shape: 'path', role: 'line_under', d: polyline([segment.from, segment.to]) }),
  );
  return [{ shape: 'path', role, d }, ...under];
}

export function polyline(points: readonly Point[]): string {
  return points.map((point, i) => `${i === 0 ? 'M' : 'L'}${round(point.x)} ${round(point.y)}`).join('');
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}

function dot(point: Point): Mark {
  const { x, y } = point;
  return {
    shape: 'path',
    role: 'dot',
    d: `M${x - DOT} ${y}a${DOT} ${DOT} 0 1 1 ${2 * DOT} 0a${DOT} ${DOT} 0 1 1 ${-2 * DOT} 0z`,
  };
}

/** One arrow into every input. */
function arrows(route: Route, sides: Readonly<Record<string, PortSide>>): Mark[] {
  const d = Object.entries(route.leaves)
    .flatMap(([input, leaf]) => {
      const tip = leaf.at(-1);
      return tip === undefined ? [] : [arrowPath(tip, sides[input] ?? 'left')];
    })
    .join('');
  return d === '' ? [] : [{ shape: 'path', role: 'arrow', d }];
}

/** A slim arrowhead whose tip touches a port. */
export function arrowPath(tip: Point, side: PortSide): string {
  const { length, half } = ARROW;
  const { x, y } = tip;
  switch (side) {
    case 'left':
      return `M${x} ${y}l${-length} ${-half}v${2 * half}z`;
    case 'right':
      return `M${x} ${y}l${length} ${-half}v${2 * half}z`;
    case 'top':
      return `M${x} ${y}l${-half} ${-length}h${2 * half}z`;
    case 'bottom':
      return `M${x} ${y}l${-half} ${length}h${2 * half}z`;
  }
}

/** An input that nothing feeds is an open arrowhead, an output that feeds nothing a short stub with a ring. */
export function openEnd(port: Point & { readonly side: PortSide; readonly direction: 'in' | 'out' }): Mark {
  if (port.direction === 'in') return { shape: 'path', role: 'open_end', d: arrowPath(port, port.side) };
  const { x, y } = port;
  const [dx, dy] = outward(port.side);
  const r = 2.5;
  const [cx, cy] = [x + dx * (r + 4), y + dy * (r + 4)];
  return {
    shape: 'path',
    role: 'open_end',
    d: `M${x} ${y}l${dx * 4} ${dy * 4}M${cx - r} ${cy}a${r} ${r} 0 1 1 ${2 * r} 0a${r} ${r} 0 1 1 ${-2 * r} 0z`,
  };
}

function outward(side: PortSide): readonly [number, number] {
  return { left: [-1, 0], right: [1, 0], top: [0, -1], bottom: [0, 1] }[side] as [number, number];
}

interface Straight {
  readonly from: Point;
  readonly to: Point;
  readonly level: boolean;
  readonly length: number;
}

function straights(line: readonly Point[]): Straight[] {
  return line.slice(1).flatMap((to, i) => {
    const from = line[i];
    if (from === undefined) return [];
    const length = Math.abs(to.x - from.x) + Math.abs(to.y - from.y);
    return [{ from, to, level: from.y === to.y, length }];
  });
}

/** A slash with the number of values, near the output. */
function vectorMark(route: Route, facts: LineFacts): Mark[] {
  if (facts.size === 1) return [];
  const [trunk] = route.lines;
  const place = straights(trunk ?? []).find((each) => each.length >= 16);
  if (place === undefined) return [];
  const along = Math.min(place.length / 2, 14);
  const x = place.from.x + Math.sign(place.to.x - place.from.x) * along;
  const y = place.from.y + Math.sign(place.to.y - place.from.y) * along;
  const marks: Mark[] = [{ shape: 'path', role: 'slash', d: `M${x - 3} ${y + 6}L${x + 3} ${y - 6}` }];
  if (facts.size > 1)
    marks.push({
      shape: 'text',
      role: 'mark_text',
      x: place.level ? x + 4 : x + 7,
      y: place.level ? y - 6 : y + 4,
      size: TEXT,
      text: String(facts.size),
      face: 'upright',
      anchor: 'start',
    });
  return marks;
}

/** Marks that belong to one input: they stand on its own last stretch that has room, or on its longest. */
function onLeaves(route: Route, facts: LineFacts): Mark[] {
  const marks: Mark[] = [];
  for (const [input, leaf] of Object.entries(route.leaves)) {
    const crossing = facts.crossings?.[input];
    const conversion = facts.conversions?.[input];
    if (crossing === undefined && conversion === undefined) continue;
    const own = ownPart(leaf, route.dots);
    const parts = [
      ...(crossing === undefined ? [] : [crossingPart(crossing)]),
      ...(conversion === undefined ? [] : [chipPart(conversion)]),
    ];
    marks.push(...placeParts(parts, straights(own), facts.isFree ?? (() => true)));
  }
  return marks;
}

/** The part of a leaf after its last branching point. */
function ownPart(leaf: readonly Point[], dots: readonly Point[]): readonly Point[] {
  const whole = straights(leaf);
  for (let i = whole.length - 1; i >= 0; i--) {
    const straight = whole[i];
    if (straight === undefined) continue;
    const on = dots.filter(
      (point) => isOn(point, straight) && !(point.x === straight.to.x && point.y === straight.to.y),
    );
    const last = on.sort((a, b) => distance(b, straight.from) - distance(a, straight.from))[0];
    if (last !== undefined) return [last, ...leaf.slice(i + 1)];
  }
  return leaf;
}

function isOn(point: Point, { from, to }: Straight): boolean {
  return (
    Math.min(from.x, to.x) <= point.x &&
    point.x <= Math.max(from.x, to.x) &&
    Math.min(from.y, to.y) <= point.y &&
    point.y <= Math.max(from.y, to.y)
  );
}

function distance(a: Point, b: Point): number {
  return Math.abs(a.x - b.x) + Math.abs(a.y - b.y);
}

/** A mark that needs so much length of line; drawn with its middle on the line. */
interface Part {
  readonly width: number;
  /** Drawn beside the line rather than along it. */
  readonly stackedWidth: number;
  draw(x: number, y: number, how: 'along' | 'stacked' | 'upright'): Mark[];
}

/** Kept clear for arrowheads and signs. */
const END_ROOM = 16;

/** How far a mark moves to find a free place. */
const STEP = 20;

function placeParts(parts: readonly Part[], line: readonly Straight[], isFree: (place: Area) => boolean): Mark[] {
  const along = parts.reduce((sum, part) => sum + part.width + 6, 0);
  const stacked = parts.reduce((sum, part) => sum + part.stackedWidth + 6, 0);
  const backwards = [...line].reverse();
  const roomy = backwards.filter((each) => each.level && each.length >= along + 2 * END_ROOM);
  for (const straight of roomy) {
    const middle = freePlace(straight, along, isFree);
    if (middle !== undefined) return drawAlong(parts, middle, along, 'along');
  }
  const [first] = roomy;
  if (first !== undefined) return drawAlong(parts, middleOf(first), along, 'along');
  const upright = backwards.find((each) => !each.level && each.length >= 56);
  const straight = upright ?? [...line].sort((a, b) => Number(b.level) - Number(a.level) || b.length - a.length)[0];
  if (straight === undefined) return [];
  const middle = middleOf(straight);
  if (straight.level) return drawAlong(parts, middle, stacked, 'stacked');
  return parts.flatMap((part, i) => part.draw(middle.x, middle.y + i * 22, 'upright'));
}

function middleOf({ from, to }: Straight): Point {
  return { x: (from.x + to.x) / 2, y: (from.y + to.y) / 2 };
}

/** The place for marks nearest to the middle of a level stretch where nothing else is drawn. */
function freePlace(straight: Straight, width: number, isFree: (place: Area) => boolean): Point | undefined {
  const { x, y } = middleOf(straight);
  const reach = straight.length / 2 - END_ROOM - width / 2;
  for (let offset = 0; offset <= reach; offset += STEP)
    for (const at of offset === 0 ? [x] : [x + offset, x - offset]) {
      const beyond = [
        { x: at - width / 2, y: y - 14, width, height: 12 },
        { x: at - width / 2, y: y + 2, width, height: 6 },
      ];
      if (beyond.every(isFree)) return { x: at, y };
    }
  return undefined;
}

function drawAlong(parts: readonly Part[], middle: Point, length: number, how: 'along' | 'stacked'): Mark[] {
  let x = middle.x - length / 2 + 3;
  return parts.flatMap((part) => {
    const width = how === 'along' ? part.width : part.stackedWidth;
    const marks = part.draw(x + width / 2, middle.y, how);
    x += width + 6;
    return marks;
  });
}

/** One riser where a slow value is held, a dotted ring where a fast one is sampled, two risers across layers. */
function crossingPart(crossing: Crossing): Part {
  const { kind, every, phase } = crossing;
  const symbol = kind === 'layered' ? 20 : 14;
  const options = { pitch: 4, height: 6, ticks: Math.min(COMB_TICKS, Math.max(every, 4)), numbered: true };
  const comb = layoutComb(every, phase, 0, 0, options).width;
  return {
    width: symbol + 4 + comb,
    stackedWidth: symbol,
    draw(x, y, how) {
      const left = how === 'along' ? x - (symbol + 4 + comb) / 2 : x - symbol / 2;
      const face: Mark = { shape: 'path', role: 'mark_face', d: rectangle(left - 1, y - 7, symbol + 2, 14) };
      const beside =
        how === 'stacked'
          ? layoutComb(every, phase, x - comb / 2, y - 10, options)
          : layoutComb(every, phase, left + symbol + 4, how === 'along' ? y - 4 : y + 3, options);
      return [face, ...symbolMarks(kind, left, y, how !== 'upright'), ...beside.marks];
    },
  };
}

function symbolMarks(kind: Crossing['kind'], left: number, y: number, level: boolean): Mark[] {
  if (kind === 'sampled') {
    const middle = left + 7;
    const r = 5.5;
    const through = level ? `M${left - 1} ${y}h3M${left + 12} ${y}h3` : `M${middle} ${y - 8}v3M${middle} ${y + 5}v3`;
    return [
      { shape: 'path', role: 'mark', d: through },
      { shape: 'path', role: 'tooth', d: `M${middle - 2} ${y}a2 2 0 1 1 4 0a2 2 0 1 1 -4 0z` },
      ...ringDots(middle, y, r),
    ];
  }
  const risers = kind === 'layered' ? 2 : 1;
  const run = 14 / 2 - (kind === 'layered' ? 2 : 0);
  const rise = kind === 'layered' ? 5 : 8;
  let d = `M${left - 1} ${y + 4}h${run + 1}`;
  for (let i = 0; i < risers; i++) d += `v${-rise}h${run}`;
  return [{ shape: 'path', role: 'mark', d }];
}

/** A ring of dots, so that it differs from every other ring by its shape. */
function ringDots(x: number, y: number, radius: number): Mark[] {
  const r = 0.8;
  const d = Array.from({ length: 10 }, (_, i) => {
    const angle = (Math.PI * 2 * (i + 0.5)) / 10;
    const [cx, cy] = [round(x + radius * Math.cos(angle)), round(y + radius * Math.sin(angle))];
    return `M${round(cx - r)} ${cy}a${r} ${r} 0 1 1 ${2 * r} 0a${r} ${r} 0 1 1 ${-2 * r} 0z`;
  }).join('');
  return [{ shape: 'path', role: 'tooth', d }];
}

/** `deg ▸ rad` in a box on the line. */
function chipPart([from, to]: readonly [string, string]): Part {
  const before = textWidth(from, TEXT);
  const after = textWidth(to, TEXT);
  const width = before + after + 25;
  return {
    width,
    stackedWidth: width,
    draw(x, y) {
      const left = x - width / 2;
      const text = {
        shape: 'text',
        role: 'mark_text',
        y: y + 4,
        size: TEXT,
        face: 'upright',
        anchor: 'start',
      } as const;
      return [
        { shape: 'path', role: 'chip', d: rectangle(left, y - 8, width, 16) },
        { ...text, x: left + 6, text: from },
        { shape: 'path', role: 'tooth', d: `M${round(left + before + 10)} ${y - 3.5}l5.5 3.5l-5.5 3.5z` },
        { ...text, x: left + before + 19, text: to },
      ];
    },
  };
}

function rectangle(x: number, y: number, width: number, height: number): string {
  return `M${round(x)} ${round(y)}h${round(width)}v${round(height)}h${round(-width)}z`;
}
