/** Where each slot lies in the linear memory: widest scalars first, so that all are aligned without gaps. */

import type { Program, Slot, Type } from '../ir/program.ts';

/** Bytes of one scalar in memory. A bool takes a word: nothing is gained by packing it here. */
export const scalarBytes: Readonly<Record<Type, number>> = { bool: 4, i32: 4, f32: 4, f64: 8 };

export interface Layout {
  /** Byte address of each slot's first scalar, by slot id. */
  readonly addresses: readonly number[];
  readonly bytes: number;
}

export function layOut(program: Program): Layout {
  const addresses: number[] = new Array(program.slots.length).fill(0);
  let bytes = 0;
  const place = (slot: Slot): void => {
    addresses[slot.id] = bytes;
    bytes += scalarBytes[slot.type] * slot.length;
  };
  for (const slot of program.slots) if (scalarBytes[slot.type] === 8) place(slot);
  for (const slot of program.slots) if (scalarBytes[slot.type] === 4) place(slot);
  return { addresses, bytes };
}
