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

/** Which struct a field is in, by the name of the pointer that the functions take. */
export type Holder = 'm' | 'in' | 'out';

export interface Fields {
  readonly m: readonly Field[];
  readonly in: readonly Field[];
  readonly out: readonly Field[];
  /** Where a slot is, by slot id. */
  readonly places: ReadonlyMap<number, { readonly holder: Holder; readonly name: string }>;
  /** Bytes of each struct where scalars are aligned to their own size; boards that pack them take less. */
  readonly bytes: Readonly<Record<Holder, number>>;
}

const order: readonly Slot['kind'][] = ['setting', 'memory', 'line', 'wire', 'scratch'];

/** The fields of a prepared program. Settings, wires and scratch that nothing uses have none. */
export function fieldsOf(program: Program): Fields {
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
  const places = new Map<number, { holder: Holder; name: string }>();
  for (const [holder, fields] of [
    ['m', m],
    ['in', inputs],
    ['out', outputs],
  ] as const)
    for (const field of fields) places.set(field.slot.id, { holder, name: field.name });
  return { m, in: inputs, out: outputs, places, bytes: { m: bytesOf(m), in: bytesOf(inputs), out: bytesOf(outputs) } };
}

const scalarBytes: Readonly<Record<Type, number>> = { bool: 1, i32: 4, f32: 4, f64: 8 };

/** Size of a struct with natural alignment; a struct without fields has one byte in its place. */
function bytesOf(fields: readonly Field[]): number {
  let bytes = 0;
  let widest = 1;
  for (const { slot } of fields) {
    const size = scalarBytes[slot.type];
    widest = Math.max(widest, size);
    bytes = Math.ceil(bytes / size) * size + size * slot.length;
  }
  return Math.max(1, Math.ceil(bytes / widest) * widest);
}
