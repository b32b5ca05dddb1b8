/** Which task runs on which tick, in what order, with its work in operations. */

import type { Instruction, Program } from '../ir/program.ts';
import type { Ordered } from './lower.ts';
import type { Resolved } from './resolve.ts';
import { compareTasks } from './tasks.ts';

export interface Task {
  readonly every: number;
  readonly phase: number;
  /** Paths of the blocks in the order they first run. */
  readonly order: readonly string[];
  /** Operations (arithmetic, comparisons, choices, calls) a run of it does at most. */
  readonly ops: number;
}

export interface Schedule {
  /** Seconds. */
  readonly tick: number;
  /** Ticks after which everything repeats; Infinity where they are too many to count. */
  readonly period: number;
  /** The first tick at which all tasks are due together, once a period; 0 where they never are. */
  readonly together: number;
  readonly tasks: readonly Task[];
  /** Phases that would level the work of the ticks; absent where these are as good. */
  readonly levelling?: Levelling;
}

/** A proposal: the largest work of any tick now and with other phases, in operations. */
export interface Levelling {
  readonly now: number;
  readonly proposed: number;
  /** For each task in order, the phase it would have. */
  readonly phases: readonly number[];
}

export function scheduleOf(resolved: Resolved, ordered: Ordered, program: Program): Schedule {
  const work = workByBlock(program);
  const tasks = new Map<string, { every: number; phase: number; paths: Set<string> }>();
  for (const region of ordered.tick) {
    const { every, phase } = region.zone;
    const key = `${every}:${phase}`;
    const task = tasks.get(key) ?? { every, phase, paths: new Set() };
    tasks.set(key, task);
    for (const { instance, kind } of region.definitions) if (kind !== 'memory') task.paths.add(instance.path);
  }
  const sorted = [...tasks.values()].sort(compareTasks).map(({ every, phase, paths }) => {
    const order = [...paths];
    return { every, phase, order, ops: order.reduce((sum, path) => sum + (work.get(path) ?? 0), 0) };
  });
  const period = sorted.reduce((sum, task) => leastCommonMultiple(sum, task.every), 1);
  const levelling = levelled(sorted, period);
  return {
    tick: resolved.tick,
    period,
    together: allTogether(sorted),
    tasks: sorted,
    ...(levelling === undefined ? {} : { levelling }),
  };
}

/** The first tick at which every task is due (Chinese remainders, two at a time); 0 where there is none. */
export function allTogether(tasks: readonly Pick<Task, 'every' | 'phase'>[]): number {
  let [tick, step] = [0n, 1n];
  for (const task of tasks) {
    const every = BigInt(task.every);
    const [divisor, inverse] = divide(step % every, every);
    const gap = BigInt(task.phase) - tick;
    if (gap % divisor !== 0n) return 0;
    const turns = ((gap / divisor) * inverse) % (every / divisor);
    tick += step * (turns < 0n ? turns + every / divisor : turns);
    step *= every / divisor;
  }
  return Number(tick);
}

/** Greatest common divisor of two numbers, and how often the first goes into it, counted round the second (Euclid). */
function divide(a: bigint, b: bigint): [divisor: bigint, times: bigint] {
  let [x, y, times, next] = [a, b, 1n, 0n];
  while (y !== 0n) [x, y, times, next] = [y, x % y, next, times - (x / y) * next];
  return [x, times];
}

/** Longest period whose ticks are looked at one by one. */
const LONGEST_PERIOD = 100_000;

/**
 * Phases that keep the busiest tick low: the fastest first, of equals the one with most work, each at the phase where the
 * busiest of its ticks is lightest (the greedy rule of list scheduling; R. L. Graham, Bounds on multiprocessing timing anomalies, 1969).
 */
function levelled(tasks: readonly Task[], period: number): Levelling | undefined {
  if (period > LONGEST_PERIOD) return undefined;
  const now = new Float64Array(period);
  const then = new Float64Array(period);
  const place = (load: Float64Array, { every, ops }: Task, phase: number): void => {
    for (let tick = phase; tick < period; tick += every) load[tick] = (load[tick] ?? 0) + ops;
  };
  const phases = tasks.map(({ phase }) => phase);
  for (const task of tasks) place(now, task, task.phase);
  const byWork = tasks
    .map((task, i) => ({ task, i }))
    .sort((a, b) => a.task.every - b.task.every || b.task.ops - a.task.ops);
  for (const { task, i } of byWork) {
    let best = 0;
    let least = Number.POSITIVE_INFINITY;
    for (let phase = 0; phase < task.every; phase++) {
      let busiest = 0;
      for (let tick = phase; tick < period; tick += task.every) busiest = Math.max(busiest, then[tick] ?? 0);
      if (busiest < least) [best, least] = [phase, busiest];
    }
    phases[i] = best;
    place(then, task, best);
  }
  const most = (load: Float64Array): number => load.reduce((a, b) => Math.max(a, b), 0);
  const [before, after] = [most(now), most(then)];
  return after < before ? { now: before, proposed: after, phases } : undefined;
}

/** Operations of the exported program by the block they stand in. */
export function workByBlock(program: Program): ReadonlyMap<string, number> {
  const work = new Map<string, number>();
  const own = new Set(['tick', ...(program.layers?.tasks ?? []).map((task) => task.func)]);
  let block = '';
  const visit = (list: readonly Instruction[], times: number): void => {
    for (const instruction of list)
      if (instruction.do === 'note') block = instruction.block;
      else if (instruction.do === 'compute' || instruction.do === 'call')
        work.set(block, (work.get(block) ?? 0) + times);
      else if (instruction.do === 'if') {
        visit(instruction.then, times);
        visit(instruction.else, times);
      } else if (instruction.do === 'repeat') visit(instruction.body, times * instruction.count);
  };
  for (const func of program.functions) if (own.has(func.name)) visit(func.body, 1);
  return work;
}

/** Infinity beyond what a number can count. */
export function leastCommonMultiple(a: number, b: number): number {
  if (a === Number.POSITIVE_INFINITY) return a;
  let [x, y] = [a, b];
  while (y !== 0) [x, y] = [y, x % y];
  const multiple = (a / x) * b;
  return Number.isSafeInteger(multiple) ? multiple : Number.POSITIVE_INFINITY;
}
