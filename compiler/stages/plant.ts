/** The bench's own functions: the plant from tick to tick, and one whole tick of plant and program together. */

import { Builder, realOps } from '../ir/build.ts';
import type { Func } from '../ir/program.ts';
import type { Assembly } from './assembly.ts';
import { timeSlot } from './slots.ts';

/** Ticks that `bench_run` runs in one call. */
export const TICKS_A_CALL = 64;

/** What a bench needs to know to build its loops. */
export interface BenchShape {
  /** Number of continuous states. */
  readonly states: number;
  /** Seconds a tick. */
  readonly tick: number;
  readonly stepsPerTick: number;
  readonly outputs: 'at_once' | 'next_tick';
}

/**
 * Classical Runge–Kutta of order 4 with a fifth stage at 3/4 that gives an embedded solution of order 3 (J. A. Zonneveld,
 * Automatic Numerical Integration, Mathematisch Centrum, 1964): the difference is the error estimate. The last stage is
 * evaluated just before the step's end, so that functions of time that jump there do not act early.
 */
export function advanceFunction(assembly: Assembly, shape: BenchShape): Func {
  const { states: n } = shape;
  const b = new Builder('advance');
  const r = realOps(b, 'f64');
  if (n === 0) return b.finish();
  const step = shape.tick / shape.stepsPerTick;
  const x = slotNamed(assembly, 'bench.states');
  const rates = slotNamed(assembly, 'bench.rates');
  const tick = slotNamed(assembly, 'bench.tick');
  const time = timeSlot(assembly);
  const scratch = (name: string): number => assembly.slot(`bench.${name}`, 'scratch', 'f64', { length: n });
  const from = scratch('from');
  const [k1, k2, k3, k4] = [scratch('k1'), scratch('k2'), scratch('k3'), scratch('k4')] as const;
  const error = assembly.slot('bench.error', 'memory', 'f64', { note: 'largest embedded difference over max(1, |x|)' });
  const h = r.number(step);
  const at = (slot: number, i: number): number => b.load(slot, 'f64', i);
  b.repeat(shape.stepsPerTick, (index) => {
    const begin = r.add(r.mul(r.fromInt(b.load(tick, 'i32')), r.number(shape.tick)), r.mul(r.fromInt(index), h));
    const end = r.add(begin, h);
    const beforeEnd = r.sub(r.mul(end, r.number(1 - 2 ** -52)), r.number(step * 2 ** -40));
    const stage = (when: number, into: number): void => {
      b.store(time, when);
      b.run('flow');
      b.repeat(n, (i) => b.store(into, at(rates, i), i));
    };
    /** Moves the states to `from` + h · Σ weight · k. */
    const moveTo = (terms: readonly (readonly [number, number])[]): void =>
      b.repeat(n, (i) => {
        let sum: number | undefined;
        for (const [slot, weight] of terms) {
          const term = weight === 1 ? at(slot, i) : r.mul(r.number(weight), at(slot, i));
          sum = sum === undefined ? term : r.add(sum, term);
        }
        b.store(x, r.add(at(from, i), r.mul(h, sum ?? r.number(0))), i);
      });
    b.repeat(n, (i) => b.store(from, at(x, i), i));
    stage(begin, k1);
    moveTo([[k1, 0.5]]);
    const middle = r.add(begin, r.mul(h, r.number(0.5)));
    stage(middle, k2);
    moveTo([[k2, 0.5]]);
    stage(middle, k3);
    moveTo([[k3, 1]]);
    stage(beforeEnd, k4);
    moveTo([
      [k1, 5 / 32],
      [k2, 7 / 32],
      [k3, 13 / 32],
      [k4, -1 / 32],
    ]);
    b.store(time, r.add(begin, r.mul(h, r.number(0.75))));
    b.run('flow');
    b.repeat(n, (i) => {
      const [d1, d2, d3, d4, d5] = [at(k1, i), at(k2, i), at(k3, i), at(k4, i), at(rates, i)] as const;
      const inner = r.add(r.add(d1, d4), r.mul(r.number(2), r.add(d2, d3)));
      const next = r.add(at(from, i), r.div(r.mul(h, inner), r.number(6)));
      b.store(x, next, i);
      const twice = r.mul(r.number(2), r.add(r.add(d2, d3), d4));
      const rest = r.add(r.mul(r.number(2 / 3), d1), r.mul(r.number(16 / 3), d5));
      const difference = r.abs(r.mul(h, r.sub(twice, rest)));
      const size = r.abs(next);
      const one = r.number(1);
      const relative = r.div(difference, r.select(r.lt(size, one), one, size));
      const worst = b.load(error, 'f64');
      b.store(error, r.select(r.lt(worst, relative), relative, worst));
    });
  });
  return b.finish();
}

/** One tick of plant and program together, and many of them in one call. */
export function benchFunctions(assembly: Assembly, shape: BenchShape, recorded: Func | undefined): Func[] {
  const tick = new Builder('bench_tick');
  const counter = slotNamed(assembly, 'bench.tick');
  const seconds = tick.op('mul_f64', tick.op('f64_from_i32', tick.load(counter, 'i32')), tick.const('f64', shape.tick));
  tick.store(timeSlot(assembly), seconds);
  tick.run('sample');
  if (shape.outputs === 'next_tick') tick.run('actuate');
  tick.run('tick');
  if (shape.outputs === 'at_once') tick.run('actuate');
  if (recorded !== undefined) tick.run(recorded.name);
  tick.run('advance');
  tick.store(counter, tick.op('add_i32', tick.load(counter, 'i32'), tick.const('i32', 1)));
  const run = new Builder('bench_run');
  run.repeat(TICKS_A_CALL, () => run.run('bench_tick'));
  return [...(recorded === undefined ? [] : [recorded]), tick.finish(), run.finish()];
}

/** Copies the recorded scalars of this tick into the next row of `bench.record`. */
export function recordFunction(
  assembly: Assembly,
  columns: readonly { slot: number; element: number }[],
): Func | undefined {
  if (columns.length === 0) return undefined;
  const record = assembly.slot('bench.record', 'scratch', 'f64', { length: columns.length * TICKS_A_CALL });
  const row = assembly.slot('bench.row', 'scratch', 'i32');
  const b = new Builder('record');
  const current = b.load(row, 'i32');
  const base = b.op('mul_i32', current, b.const('i32', columns.length));
  for (const [i, column] of columns.entries()) {
    const { type, length } = assembly.slotAt(column.slot);
    const value = b.load(column.slot, type, length === 1 ? undefined : b.const('i32', column.element));
    const wide = type === 'f64' ? value : b.op(`f64_from_${type}`, value);
    b.store(record, wide, b.op('add_i32', base, b.const('i32', i)));
  }
  b.store(row, b.op('add_i32', current, b.const('i32', 1)));
  return b.finish();
}

function slotNamed(assembly: Assembly, name: string): number {
  const slot = assembly.find(name);
  if (slot === undefined) throw new Error(`no slot named ${name}`);
  return slot;
}
