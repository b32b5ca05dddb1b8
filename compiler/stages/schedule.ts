/** Which task runs on which tick, in what order, with its work in operations. */

import type { Instruction, Program } from '../ir/program.ts';
import type { Ordered } from './lower.ts';
import type { Resolved } from './resolve.ts';

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
  /** Ticks after which everything repeats. */
  readonly period: number;
  readonly tasks: readonly Task[];
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
  const sorted = [...tasks.values()].sort((a, b) => a.every - b.every || a.phase - b.phase);
  return {
    tick: resolved.tick,
    period: sorted.reduce((period, task) => leastCommonMultiple(period, task.every), 1),
    tasks: sorted.map(({ every, phase, paths }) => {
      const order = [...paths];
      return { every, phase, order, ops: order.reduce((sum, path) => sum + (work.get(path) ?? 0), 0) };
    }),
  };
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

function leastCommonMultiple(a: number, b: number): number {
  let [x, y] = [a, b];
  while (y !== 0) [x, y] = [y, x % y];
  return (a / x) * b;
}
