/** The sparse grid a net is routed on: lines past the edges of the cards nearby and through the net's own ports. */

import type { Area, Point } from './marks.ts';

/** Level or upright, from its lesser end to its greater one. */
export interface Stretch {
  readonly upright: boolean;
  /** The y of a level one, the x of an upright one. */
  readonly at: number;
  readonly from: number;
  readonly to: number;
}

/** Prices in px of length. */
export const prices = { bend: 45, crossing: 40, overlap: 1.5, branch: 12, old: 0.6 };

/** Lines of a grid each way; more would make long searches slow. */
const MOST_LINES = 320;

export interface Grid {
  readonly xs: Float64Array;
  readonly ys: Float64Array;
  /** Price of going from a node to the next one to the right, or down; infinite where a card is in the way. */
  readonly level: Float64Array;
  readonly upright: Float64Array;
  /** The least that a px of way can cost. */
  readonly cheapest: number;
}

export interface GridRequest {
  readonly cards: readonly Area[];
  /** How far lines keep from cards. */
  readonly clearance: number;
  /** Coordinates that lines must be able to run on. */
  readonly xs: Iterable<number>;
  readonly ys: Iterable<number>;
  /** Lines of other nets. */
  readonly taken: readonly Stretch[];
  /** Stretches of the net's own earlier route, cheaper to follow. */
  readonly old: readonly Stretch[];
}

export function buildGrid(request: GridRequest): Grid {
  const { cards, clearance } = request;
  const xs = thinned(
    new Set(request.xs),
    cards.flatMap((card) => [card.x - clearance, card.x + card.width + clearance]),
  );
  const ys = thinned(
    new Set(request.ys),
    cards.flatMap((card) => [card.y - clearance, card.y + card.height + clearance]),
  );
  const grid: Grid = {
    xs,
    ys,
    level: new Float64Array(xs.length * ys.length),
    upright: new Float64Array(xs.length * ys.length),
    cheapest: request.old.length > 0 ? prices.old : 1,
  };
  priceLengths(grid);
  for (const stretch of request.old) forEachEdge(grid, stretch, (list, edge) => scale(list, edge, prices.old));
  for (const stretch of request.taken) priceTaken(grid, stretch);
  for (const card of request.cards) block(grid, card, clearance);
  return grid;
}

/** The needed coordinates and the useful ones; of too many useful ones only some, evenly spread. */
function thinned(needed: ReadonlySet<number>, useful: readonly number[]): Float64Array {
  const all = new Set([...needed, ...useful]);
  const sorted = Float64Array.from(all).sort();
  if (sorted.length <= MOST_LINES) return sorted;
  const gap = ((sorted.at(-1) ?? 0) - (sorted[0] ?? 0)) / MOST_LINES;
  let last = -Infinity;
  return sorted.filter((at) => {
    if (!needed.has(at) && at < last + gap) return false;
    last = at;
    return true;
  });
}

function scale(list: Float64Array, index: number, factor: number): void {
  list[index] = (list[index] ?? 0) * factor;
}

function priceLengths(grid: Grid): void {
  const { xs, ys, level, upright } = grid;
  const columns = xs.length;
  for (let j = 0; j < ys.length; j++) {
    const down = (ys[j + 1] ?? Infinity) - (ys[j] ?? 0);
    for (let i = 0; i < columns; i++) {
      level[j * columns + i] = (xs[i + 1] ?? Infinity) - (xs[i] ?? 0);
      upright[j * columns + i] = down;
    }
  }
}

/** Node nearest to the top left of the grid at these coordinates, which must be on it. */
export function nodeAt(grid: Grid, point: Point): number {
  return after(grid.ys, point.y - 1e-9) * grid.xs.length + after(grid.xs, point.x - 1e-9);
}

export function pointAt(grid: Grid, node: number): Point {
  const columns = grid.xs.length;
  return { x: grid.xs[node % columns] ?? 0, y: grid.ys[Math.floor(node / columns)] ?? 0 };
}

/** The first index with a value greater than the one given. */
function after(sorted: Float64Array, value: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((sorted[middle] ?? Infinity) > value) high = middle;
    else low = middle + 1;
  }
  return low;
}

/** Edges inside a card's rectangle with its clearance cannot be used. */
function block(grid: Grid, card: Area, clearance: number): void {
  const { xs, ys, level, upright } = grid;
  const left = after(xs, card.x - clearance);
  const right = after(xs, card.x + card.width + clearance - 1e-9);
  const top = after(ys, card.y - clearance);
  const bottom = after(ys, card.y + card.height + clearance - 1e-9);
  const columns = xs.length;
  for (let j = top; j < bottom; j++) level.fill(Infinity, j * columns + Math.max(0, left - 1), j * columns + right);
  for (let j = Math.max(0, top - 1); j < bottom; j++) upright.fill(Infinity, j * columns + left, j * columns + right);
}

/** Crossing another net's line costs; running along it costs more. */
function priceTaken(grid: Grid, stretch: Stretch): void {
  const { xs, ys } = grid;
  const columns = xs.length;
  const [across, along] = stretch.upright ? [xs, ys] : [ys, xs];
  const first = after(along, stretch.from);
  const last = after(along, stretch.to - 1e-9);
  const row = after(across, stretch.at) - 1;
  if (row >= 0 && row < across.length - 1) {
    for (let k = first; k < last; k++) {
      if (stretch.upright) add(grid.level, k * columns + row, prices.crossing);
      else add(grid.upright, row * columns + k, prices.crossing);
    }
  }
  for (let lane = after(across, stretch.at - 8); lane < across.length && (across[lane] ?? 0) < stretch.at + 8; lane++) {
    for (let k = Math.max(0, first - 1); k < last; k++) {
      const length = Math.min(along[k + 1] ?? stretch.to, stretch.to) - Math.max(along[k] ?? 0, stretch.from);
      if (length <= 0) continue;
      if (stretch.upright) add(grid.upright, k * columns + lane, length * prices.overlap);
      else add(grid.level, lane * columns + k, length * prices.overlap);
    }
  }
}

function add(list: Float64Array, index: number, price: number): void {
  list[index] = (list[index] ?? 0) + price;
}

/** The edges of the grid that a stretch on one of its lines covers. */
function forEachEdge(grid: Grid, stretch: Stretch, visit: (list: Float64Array, edge: number) => void): void {
  const { xs, ys } = grid;
  const columns = xs.length;
  const [across, along] = stretch.upright ? [xs, ys] : [ys, xs];
  const lane = after(across, stretch.at - 1e-9);
  if (across[lane] !== stretch.at) return;
  for (let k = after(along, stretch.from - 1e-9); k < along.length - 1 && (along[k + 1] ?? 0) <= stretch.to; k++) {
    if (stretch.upright) visit(grid.upright, k * columns + lane);
    else visit(grid.level, lane * columns + k);
  }
}

/** All nodes on a stretch that lies on one of the grid's lines. */
export function nodesOn(grid: Grid, stretch: Stretch): number[] {
  const { xs, ys } = grid;
  const columns = xs.length;
  const [across, along] = stretch.upright ? [xs, ys] : [ys, xs];
  const lane = after(across, stretch.at - 1e-9);
  const nodes: number[] = [];
  if (across[lane] !== stretch.at) return nodes;
  for (let k = after(along, stretch.from - 1e-9); k < along.length && (along[k] ?? 0) <= stretch.to; k++)
    nodes.push(stretch.upright ? k * columns + lane : lane * columns + k);
  return nodes;
}
