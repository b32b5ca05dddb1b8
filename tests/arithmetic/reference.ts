/** Reads the committed high-precision values, and measures errors in units in the last place. */

import { readFileSync } from 'node:fs';
import type { Real } from '../../compiler/ir/program.ts';

/** Arguments of one function and, for each row, the exact value as a rounded one plus `rest` of its last place. */
export interface Reference {
  readonly rows: number;
  readonly arguments: readonly ArrayLike<number>[];
  readonly value: ArrayLike<number>;
  readonly rest: ArrayLike<number>;
}

type Columns = Readonly<Partial<Record<'x' | 'y' | 'value' | 'rest', string>>>;

export const referenceFolder = new URL('../reference/arithmetic/', import.meta.url);

export function reference(name: string, real: Real, folder: URL = referenceFolder): Reference {
  const file = JSON.parse(readFileSync(new URL(`${name}.json`, folder), 'utf8')) as Record<Real, Columns>;
  const bytes = (text: string) => new Uint8Array(Buffer.from(text, 'base64')).buffer;
  const numbers = (text: string) => (real === 'f32' ? new Float32Array(bytes(text)) : new Float64Array(bytes(text)));
  const { x = '', y, value = '', rest = '' } = file[real];
  const rests = Array.from(new Int8Array(bytes(rest)), (step) => step / 254);
  return {
    rows: rests.length,
    arguments: y === undefined ? [numbers(x)] : [numbers(x), numbers(y)],
    value: numbers(value),
    rest: rests,
  };
}

const view = new DataView(new ArrayBuffer(8));

/** The place of a number among all of its type, counted from 0; ∞ comes after the largest. */
export function place(x: number, real: Real): bigint {
  if (real === 'f32') {
    view.setFloat32(0, x);
    const bits = view.getUint32(0);
    return bits >= 0x80000000 ? -BigInt(bits - 0x80000000) : BigInt(bits);
  }
  view.setFloat64(0, x);
  const bits = view.getBigUint64(0);
  return bits >> 63n === 1n ? -(bits & 0x7fffffffffffffffn) : bits;
}

/** How far an answer is from the exact value, in units in the last place; NaN is infinitely far. */
export function error(got: number, value: number, rest: number, real: Real): number {
  if (Number.isNaN(got)) return Number.POSITIVE_INFINITY;
  const apart = Number(place(got, real) - place(value, real));
  return Math.abs(apart - rest);
}

/** The largest error of an answer over a reference, and where it is. */
export function worst(answer: (...x: number[]) => number, found: Reference, real: Real) {
  let most = { error: 0, at: [] as number[], got: 0, value: 0, beyondHalf: 0 };
  let beyondHalf = 0;
  for (let row = 0; row < found.rows; row++) {
    const at = found.arguments.map((column) => column[row] ?? Number.NaN);
    const value = found.value[row] ?? Number.NaN;
    const got = answer(...at);
    const size = error(got, value, found.rest[row] ?? 0, real);
    if (size > 0.502) beyondHalf++;
    if (size > most.error) most = { error: size, at, got, value, beyondHalf: 0 };
  }
  return { ...most, beyondHalf: beyondHalf / found.rows };
}
