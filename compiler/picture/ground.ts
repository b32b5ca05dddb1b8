/** The plant ground: the outline of the plant cards and the lines between them, grown, with its corners squared. */

import type { Area, Point } from './marks.ts';

/** How far the ground reaches beyond cards and lines. */
export const GROUND_MARGIN = 28;
/** Bays narrower than twice this are filled. */
const BAY = 20;

/** A card of the plant side, or the half of a sensor or actuator that lies on it; the shore side is not grown. */
export interface GroundPart extends Area {
  readonly shore?: 'left' | 'right';
}

export interface Ground {
  /** Closed loops, the outer ones and those of holes alike. */
  readonly loops: readonly (readonly Point[])[];
  /** The loops as path data, to be filled by the even–odd rule. */
  readonly d: string;
}

/**
 * The outline of parts and of the polylines between them; empty for no parts. A hole stays open only where one of the
 * `others`, the cards that are not on the ground, stands in it.
 */
export function groundOutline(
  parts: readonly GroundPart[],
  lines: readonly (readonly Point[])[],
  others: readonly Area[] = [],
): Ground {
  const cores = [...parts.map(grown), ...lines.flatMap(corridors)];
  const shores = parts.filter((part) => part.shore !== undefined);
  const closed = closedBays(cores).filter((area) => !shores.some((shore) => isBeyond(area, shore)));
  const loops = outline([...cores, ...closed]).filter(
    (loop) => !isHole(loop) || others.some((card) => meets(card, loop)),
  );
  const d = loops.map((loop) => `${loop.map((p, i) => `${i === 0 ? 'M' : 'L'}${p.x} ${p.y}`).join('')}Z`).join('');
  return { loops, d };
}

/** Holes run the other way round. */
function isHole(loop: readonly Point[]): boolean {
  let area = 0;
  loop.forEach((point, i) => {
    const next = loop[(i + 1) % loop.length] ?? point;
    area += point.x * next.y - next.x * point.y;
  });
  return area < 0;
}

/** Whether a card and the box round a loop overlap. */
function meets(card: Area, loop: readonly Point[]): boolean {
  const xs = loop.map((point) => point.x);
  const ys = loop.map((point) => point.y);
  return (
    card.x < Math.max(...xs) &&
    card.x + card.width > Math.min(...xs) &&
    card.y < Math.max(...ys) &&
    card.y + card.height > Math.min(...ys)
  );
}

function grown(part: GroundPart): Area {
  const left = part.shore === 'left' ? 0 : GROUND_MARGIN;
  const right = part.shore === 'right' ? 0 : GROUND_MARGIN;
  return {
    x: part.x - left,
    y: part.y - GROUND_MARGIN,
    width: part.width + left + right,
    height: part.height + 2 * GROUND_MARGIN,
  };
}

/** A line's stretches as areas. */
function corridors(line: readonly Point[]): Area[] {
  return line.slice(1).flatMap((to, i) => {
    const from = line[i];
    if (from === undefined) return [];
    return [
      {
        x: Math.min(from.x, to.x) - GROUND_MARGIN,
        y: Math.min(from.y, to.y) - GROUND_MARGIN,
        width: Math.abs(from.x - to.x) + 2 * GROUND_MARGIN,
        height: Math.abs(from.y - to.y) + 2 * GROUND_MARGIN,
      },
    ];
  });
}

/** Whether an area lies past a shore, next to its card: bays are not filled there. */
function isBeyond(area: Area, shore: GroundPart): boolean {
  const x = shore.shore === 'right' ? shore.x + shore.width : shore.x;
  const level = area.y < shore.y + shore.height + GROUND_MARGIN && area.y + area.height > shore.y - GROUND_MARGIN;
  if (!level) return false;
  return shore.shore === 'right'
    ? area.x >= x && area.x < x + shore.width
    : area.x + area.width <= x && area.x + area.width > x - shore.width;
}

/** Cells of the bays between areas that are too narrow to be left open: grown and shrunk again. */
function closedBays(areas: readonly Area[]): Area[] {
  if (areas.length === 0) return [];
  const wide = new Cells(
    areas.map((area) => inflate(area, BAY)),
    BAY + 1,
  );
  const outside = wide.strips(false).map((area) => inflate(area, BAY));
  return new Cells([...outside, ...areas], 0).strips(false);
}

function inflate(area: Area, by: number): Area {
  return { x: area.x - by, y: area.y - by, width: area.width + 2 * by, height: area.height + 2 * by };
}

/** The plane cut along the edges of areas: which cells they cover. */
class Cells {
  readonly xs: readonly number[];
  readonly ys: readonly number[];
  private readonly covered: Uint8Array;

  constructor(areas: readonly Area[], border: number) {
    const xs = areas.flatMap((area) => [area.x, area.x + area.width]);
    const ys = areas.flatMap((area) => [area.y, area.y + area.height]);
    if (border > 0) {
      xs.push(Math.min(...xs) - border, Math.max(...xs) + border);
      ys.push(Math.min(...ys) - border, Math.max(...ys) + border);
    }
    this.xs = sorted(xs);
    this.ys = sorted(ys);
    this.covered = new Uint8Array(this.xs.length * this.ys.length);
    const column = new Map(this.xs.map((x, i) => [x, i]));
    const row = new Map(this.ys.map((y, j) => [y, j]));
    for (const area of areas) {
      const [left, right] = [column.get(area.x) ?? 0, column.get(area.x + area.width) ?? 0];
      for (let j = row.get(area.y) ?? 0; j < (row.get(area.y + area.height) ?? 0); j++)
        this.covered.fill(1, j * this.xs.length + left, j * this.xs.length + right);
    }
  }

  /** Whether a cell is covered; what is outside is not. */
  has(i: number, j: number): boolean {
    return i >= 0 && j >= 0 && i < this.xs.length && j < this.ys.length && this.covered[j * this.xs.length + i] === 1;
  }

  /** Covered or uncovered cells of each row joined to strips. */
  strips(covered: boolean): Area[] {
    const found: Area[] = [];
    for (let j = 0; j + 1 < this.ys.length; j++) {
      for (let i = 0; i + 1 < this.xs.length; i++) {
        if (this.has(i, j) !== covered) continue;
        let end = i + 1;
        while (end + 1 < this.xs.length && this.has(end, j) === covered) end++;
        found.push(this.area(i, j, end));
        i = end;
      }
    }
    return found;
  }

  private area(i: number, j: number, end: number): Area {
    const [x, y] = [this.xs[i] ?? 0, this.ys[j] ?? 0];
    return { x, y, width: (this.xs[end] ?? x) - x, height: (this.ys[j + 1] ?? y) - y };
  }
}

function sorted(values: readonly number[]): number[] {
  return [...new Set(values)].sort((a, b) => a - b);
}

/** Loops round the union of areas, with the inside on their right. */
function outline(areas: readonly Area[]): Point[][] {
  const cells = new Cells(areas, 0);
  const { xs, ys } = cells;
  const columns = xs.length + 1;
  /** From a corner to the corners that edges lead to from there. */
  const edges = new Map<number, number[]>();
  const add = (i1: number, j1: number, i2: number, j2: number) => {
    const from = j1 * columns + i1;
    edges.set(from, [...(edges.get(from) ?? []), j2 * columns + i2]);
  };
  for (let j = 0; j < ys.length; j++)
    for (let i = 0; i < xs.length; i++) {
      if (!cells.has(i, j)) continue;
      if (!cells.has(i, j - 1)) add(i, j, i + 1, j);
      if (!cells.has(i + 1, j)) add(i + 1, j, i + 1, j + 1);
      if (!cells.has(i, j + 1)) add(i + 1, j + 1, i, j + 1);
      if (!cells.has(i - 1, j)) add(i, j + 1, i, j);
    }
  const pointAt = (corner: number): Point => ({
    x: xs[corner % columns] ?? 0,
    y: ys[Math.floor(corner / columns)] ?? 0,
  });
  const loops: Point[][] = [];
  for (const start of [...edges.keys()].sort((a, b) => a - b)) {
    for (;;) {
      const loop = follow(edges, start, columns);
      if (loop.length === 0) break;
      loops.push(cornersOnly(loop.map(pointAt)));
    }
  }
  return loops;
}

/** Takes one loop out of the edges; where two touch at a corner it turns right, so that they stay apart. */
function follow(edges: Map<number, number[]>, start: number, columns: number): number[] {
  const loop: number[] = [];
  let at = start;
  let way = 0;
  for (;;) {
    const next = edges.get(at);
    if (next === undefined || next.length === 0) return loop;
    const turn = (to: number) => (direction(at, to, columns) - way + 4 + 1) % 4;
    const to = loop.length === 0 ? next[0] : [...next].sort((a, b) => turn(b) - turn(a))[0];
    if (to === undefined) return loop;
    edges.set(
      at,
      next.filter((each) => each !== to),
    );
    way = direction(at, to, columns);
    loop.push(at);
    at = to;
    if (at === start) return loop;
  }
}

/** 0 right, 1 down, 2 left, 3 up. */
function direction(from: number, to: number, columns: number): number {
  if (to === from + 1) return 0;
  if (to === from - 1) return 2;
  return to === from + columns ? 1 : 3;
}

function cornersOnly(loop: readonly Point[]): Point[] {
  return loop.filter((point, i) => {
    const before = loop.at(i - 1);
    const next = loop[(i + 1) % loop.length];
    if (before === undefined || next === undefined) return true;
    return !((before.x === point.x && point.x === next.x) || (before.y === point.y && point.y === next.y));
  });
}
