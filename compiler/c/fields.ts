/** The three structs: which slot is which field, and how many bytes they take. */

import type { Program, Slot, Type } from '../ir/program.ts';
import { Names } from './names.ts';
import { touched } from './prepare.ts';

export interface Field {
  readonly slot: Slot;
  /** Its name in the struct. */
  readonly name: string;
}

/** Whether its field is an array; a delay line always is. */
export function isArray(slot: Slot): boolean {
  return slot.length > 1 || slot.kind === 'line';
}

/**
 * Which struct a field is in, by the name of the pointer that the functions take; `w` is working storage on the stack of
 * the function that was called from outside, so that one task's never meets another's.
 */
export type Holder = 'm' | 'in' | 'out' | 'w';

export interface Fields {
  readonly m: readonly Field[];
  readonly in: readonly Field[];
  readonly out: readonly Field[];
  readonly w: readonly Field[];
  /** Where a slot is, by slot id. */
  readonly places: ReadonlyMap<number, { readonly holder: Holder; readonly name: string }>;
  /** Bytes of each struct. */
  readonly bytes: Readonly<Record<Holder, number>>;
}

const order: readonly Slot['kind'][] = ['setting', 'memory', 'line', 'wire'];

/**
 * The fields of a prepared program. Settings, wires and scratch that nothing uses have none. Bytes are for a machine that
 * aligns scalars to their own size, but to no more than `alignment` bytes.
 */
export function fieldsOf(program: Program, alignment = 8): Fields {
  const used = touched(program);
  const name = (slots: readonly Slot[]): Field[] => {
    const names = new Names();
    return slots.map((slot) => ({ slot, name: names.take(slot.name) }));
  };
  const kept = program.slots.filter(
    (slot) => order.includes(slot.kind) && (used.has(slot.id) || slot.kind === 'memory' || slot.kind === 'line'),
  );
  const m = name([...kept].sort((a, b) => order.indexOf(a.kind) - order.indexOf(b.kind) || a.id - b.id));
  const inputs = name(program.slots.filter((slot) => slot.kind === 'input'));
  const outputs = name(program.slots.filter((slot) => slot.kind === 'output'));
  const w = name(program.slots.filter((slot) => slot.kind === 'scratch' && used.has(slot.id)));
  const places = new Map<number, { holder: Holder; name: string }>();
  for (const [holder, fields] of [
    ['m', m],
    ['in', inputs],
    ['out', outputs],
    ['w', w],
  ] as const)
    for (const field of fields) places.set(field.slot.id, { holder, name: field.name });
  const all = { m, in: inputs, out: outputs, w };
  const size = (holder: Holder): number => bytesOf(all[holder], alignment);
  return { ...all, places, bytes: { m: size('m'), in: size('in'), out: size('out'), w: size('w') } };
}

const scalarBytes: Readonly<Record<Type, number>> = { bool: 1, i32: 4, f32: 4, f64: 8 };

/** Size of a struct; one without fields has a byte in its place. */
function bytesOf(fields: readonly Field[], alignment: number): number {
  let bytes = 0;
  let widest = 1;
  for (const { slot } of fields) {
    const size = scalarBytes[slot.type];
    const step = Math.min(size, alignment);
    widest = Math.max(widest, step);
    bytes = Math.ceil(bytes / step) * step + size * slot.length;
  }
  return Math.max(1, Math.ceil(bytes / widest) * widest);
}
