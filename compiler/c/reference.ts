/** What a program is known to answer: raw inputs of a run, and the bits of everything it keeps or gives back. */

import type { Machine } from '../ir/machine.ts';
import type { Program, Slot, Type } from '../ir/program.ts';
import { comparableSlots } from './prepare.ts';

/** One scalar over the ticks of a run. */
export interface Column {
  /** Slot id. */
  readonly slot: number;
  /** Element of the slot, from 0. */
  readonly index: number;
  /** One number a tick, of the slot's type. */
  readonly numbers: Float64Array;
}

export interface Reference {
  readonly ticks: number;
  /** One column for each scalar of each input. */
  readonly inputs: readonly Column[];
  /** Scalars compared at each tick. */
  readonly values: number;
  readonly expected: Expected;
}

/** Every number, or where that would be too many, one checksum a tick over all of them. */
export type Expected =
  | { readonly kind: 'numbers'; readonly columns: readonly Column[] }
  | { readonly kind: 'sums'; readonly sums: Uint32Array };

/** Up to this many numbers (ticks × values) are embedded one by one; above it there is a checksum a tick. */
export const mostNumbers = 100_000;

/**
 * Replays raw inputs on a machine from its start and notes what comes out of every call of `tick`. The machine runs this
 * program or one simplified from it with all comparable wires kept. Inputs without a column keep their start values.
 */
export function recordReference(
  machine: Machine,
  program: Program,
  inputs: readonly Column[],
  ticks: number,
  most = mostNumbers,
): Reference {
  const fed = allInputs(program, inputs, ticks);
  const slots = comparableSlots(program, ['tick']);
  const values = slots.reduce((sum, slot) => sum + slot.length, 0);
  const columns = slots.flatMap((slot) => scalarsOf(slot));
  const full = ticks * values <= most;
  const kept = columns.map((column) => ({ ...column, numbers: new Float64Array(full ? ticks : 0) }));
  const sums = new Uint32Array(full ? 0 : ticks);
  machine.start();
  for (let tick = 0; tick < ticks; tick++) {
    for (const { slot, index, numbers } of fed) machine.write(slot, numbers[tick] ?? 0, index);
    machine.call('tick');
    if (full) for (const { slot, index, numbers } of kept) numbers[tick] = machine.read(slot, index);
    else sums[tick] = checksum(slots, machine);
  }
  return { ticks, inputs: fed, values, expected: full ? { kind: 'numbers', columns: kept } : { kind: 'sums', sums } };
}

function scalarsOf(slot: Slot): { slot: number; index: number; type: Type; start: number }[] {
  return slot.start.map((start, index) => ({ slot: slot.id, index, type: slot.type, start }));
}

function allInputs(program: Program, given: readonly Column[], ticks: number): Column[] {
  const short = given.find((column) => column.numbers.length < ticks);
  if (short !== undefined) throw new Error(`${program.slots[short.slot]?.name}: fewer than ${ticks} numbers`);
  return program.slots
    .filter((slot) => slot.kind === 'input')
    .flatMap(scalarsOf)
    .map(({ slot, index, start }) => {
      const found = given.find((column) => column.slot === slot && column.index === index);
      return { slot, index, numbers: found?.numbers ?? new Float64Array(ticks).fill(start) };
    });
}

const bytes = new DataView(new ArrayBuffer(8));

/** The pattern of a number as words of 32 bits, lowest first; every NaN is the one. */
export function patternOf(type: Type, value: number): number[] {
  if (type === 'bool') return [value];
  if (type === 'i32') return [value >>> 0];
  if (type === 'f32') {
    bytes.setFloat32(0, value);
    return [Number.isNaN(value) ? 0x7fc00000 : bytes.getUint32(0)];
  }
  bytes.setFloat64(0, value);
  return Number.isNaN(value) ? [0, 0x7ff80000] : [bytes.getUint32(4), bytes.getUint32(0)];
}

/** As `mixed` in the self-check's C, over all patterns: a word each, two for an f64, the lowest first. */
function checksum(slots: readonly Slot[], machine: Machine): number {
  let sum = 0;
  for (const slot of slots)
    for (const value of machine.readAll(slot.id))
      for (const word of patternOf(slot.type, value)) sum = Math.imul(((sum << 8) | (sum >>> 24)) ^ word, 0x9e3779b1);
  return sum >>> 0;
}

/** The first ticks of a reference. */
export function firstTicks(reference: Reference, ticks: number): Reference {
  const cut = (columns: readonly Column[]): Column[] =>
    columns.map((column) => ({ ...column, numbers: column.numbers.subarray(0, ticks) }));
  const { expected } = reference;
  return {
    ...reference,
    ticks,
    inputs: cut(reference.inputs),
    expected:
      expected.kind === 'sums'
        ? { kind: 'sums', sums: expected.sums.subarray(0, ticks) }
        : { kind: 'numbers', columns: cut(expected.columns) },
  };
}
