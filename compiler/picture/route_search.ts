/** The cheapest way over a sparse grid: A* with a price for bends. */

import type { Grid } from './route_grid.ts';
import { prices } from './route_grid.ts';

/** A node with the way it is left or reached: along a level line, an upright one, or either. */
export interface Terminal {
  readonly node: number;
  readonly way: 'level' | 'upright' | 'either';
  /** What starting here costs. */
  readonly price?: number;
}

/** Above 1 the search looks less far aside: quicker, and at worst dearer by as much. */
const EAGERNESS = 1.2;

const LEVEL = 0;
const UPRIGHT = 1;

/** Nodes from a start to a goal, both included; undefined where there is no way. */
export function findPath(grid: Grid, starts: readonly Terminal[], goals: readonly Terminal[]): number[] | undefined {
  const columns = grid.xs.length;
  const nodes = columns * grid.ys.length;
  const { spent, before, closed, heap } = readyScratch(nodes * 2);
  const guess = estimate(grid, goals);
  const goalWays = new Map(goals.map((goal) => [goal.node, goal.way]));

  const reach = (state: number, cost: number, from: number): void => {
    if (cost >= (spent[state] ?? Infinity)) return;
    spent[state] = cost;
    before[state] = from;
    heap.push(state, cost + EAGERNESS * guess(state));
  };
  for (const start of starts) {
    if (start.way !== 'upright') reach(start.node * 2 + LEVEL, start.price ?? 0, -1);
    if (start.way !== 'level') reach(start.node * 2 + UPRIGHT, start.price ?? 0, -1);
  }

  for (let state = heap.pop(); state >= 0; state = heap.pop()) {
    if (closed[state] === 1) continue;
    closed[state] = 1;
    const node = state >> 1;
    const way = state & 1;
    const cost = spent[state] ?? Infinity;
    const goal = goalWays.get(node);
    if (goal !== undefined && (goal === 'either' || (goal === 'level' ? LEVEL : UPRIGHT) === way))
      return trace(before, state);
    if (goal !== undefined) reach(state ^ 1, cost + prices.bend, state);
    const i = node % columns;
    const across = cost + (way === LEVEL ? 0 : prices.bend);
    const down = cost + (way === UPRIGHT ? 0 : prices.bend);
    if (i + 1 < columns) reach(2 * node + 2 + LEVEL, across + (grid.level[node] ?? Infinity), state);
    if (i > 0) reach(2 * node - 2 + LEVEL, across + (grid.level[node - 1] ?? Infinity), state);
    if (node + columns < nodes) reach(2 * (node + columns) + UPRIGHT, down + (grid.upright[node] ?? Infinity), state);
    if (node >= columns)
      reach(2 * (node - columns) + UPRIGHT, down + (grid.upright[node - columns] ?? Infinity), state);
  }
  return undefined;
}

interface Scratch {
  readonly spent: Float64Array;
  readonly before: Int32Array;
  readonly closed: Uint8Array;
  readonly heap: Heap;
}

/** Kept between searches: making and clearing them anew costs more than most searches. */
let scratch: Scratch | undefined;

function readyScratch(states: number): Scratch {
  if (scratch === undefined || scratch.spent.length < states) {
    const size = Math.max(states, 2 * (scratch?.spent.length ?? 4096));
    scratch = {
      spent: new Float64Array(size),
      before: new Int32Array(size),
      closed: new Uint8Array(size),
      heap: new Heap(),
    };
  }
  scratch.spent.fill(Infinity, 0, states);
  scratch.closed.fill(0, 0, states);
  scratch.heap.clear();
  return scratch;
}

/** A lower bound of what is left: the way there at the cheapest rate, and the bends that cannot be avoided. */
function estimate(grid: Grid, goals: readonly Terminal[]): (state: number) => number {
  const columns = grid.xs.length;
  let left = Infinity;
  let right = -Infinity;
  let top = Infinity;
  let bottom = -Infinity;
  for (const goal of goals) {
    const x = grid.xs[goal.node % columns] ?? 0;
    const y = grid.ys[Math.floor(goal.node / columns)] ?? 0;
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  const way = goals.length === 1 ? (goals[0]?.way ?? 'either') : 'either';
  return (state) => {
    const node = state >> 1;
    const x = grid.xs[node % columns] ?? 0;
    const y = grid.ys[Math.floor(node / columns)] ?? 0;
    const dx = Math.max(left - x, x - right, 0);
    const dy = Math.max(top - y, y - bottom, 0);
    return (dx + dy) * grid.cheapest + bendsLeft(state & 1, dx, dy, way) * prices.bend;
  };
}

function bendsLeft(way: number, dx: number, dy: number, goal: Terminal['way']): number {
  const level = way === LEVEL;
  const mustTurn = level ? dy > 0 : dx > 0;
  const last = goal === 'either' ? way : goal === 'level' ? LEVEL : UPRIGHT;
  if (goal === 'either') return mustTurn ? 1 : 0;
  if (last === way) return mustTurn ? 2 : 0;
  return 1;
}

function trace(before: Int32Array, end: number): number[] {
  const nodes: number[] = [];
  for (let state = end; state >= 0; state = before[state] ?? -1) {
    const node = state >> 1;
    if (nodes.at(-1) !== node) nodes.push(node);
  }
  return nodes.reverse();
}

/** A binary heap of states by their price. */
class Heap {
  private states = new Int32Array(1024);
  private costs = new Float64Array(1024);
  private size = 0;

  clear(): void {
    this.size = 0;
  }

  push(state: number, cost: number): void {
    if (this.size === this.states.length) this.grow();
    const { states, costs } = this;
    let at = this.size++;
    while (at > 0) {
      const parent = (at - 1) >> 1;
      const above = costs[parent] ?? 0;
      if (above <= cost) break;
      costs[at] = above;
      states[at] = states[parent] ?? 0;
      at = parent;
    }
    costs[at] = cost;
    states[at] = state;
  }

  /** The cheapest state, or −1 when there is none left. */
  pop(): number {
    if (this.size === 0) return -1;
    const { states, costs } = this;
    const top = states[0] ?? -1;
    const size = --this.size;
    const state = states[size] ?? 0;
    const cost = costs[size] ?? 0;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= size) break;
      if (child + 1 < size && (costs[child + 1] ?? 0) < (costs[child] ?? 0)) child++;
      const below = costs[child] ?? 0;
      if (below >= cost) break;
      costs[at] = below;
      states[at] = states[child] ?? 0;
      at = child;
    }
    costs[at] = cost;
    states[at] = state;
    return top;
  }

  private grow(): void {
    const states = new Int32Array(2 * this.states.length);
    const costs = new Float64Array(2 * this.costs.length);
    states.set(this.states);
    costs.set(this.costs);
    this.states = states;
    this.costs = costs;
  }
}
