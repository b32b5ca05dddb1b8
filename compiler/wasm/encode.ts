/** The bytes of a WebAssembly module (core specification 1.0, with the saturating truncations): numbers and sections. */

import type { Type } from '../ir/program.ts';

/** Value types as they stand in the binary. */
export const valueType: Readonly<Record<Type, number>> = { bool: 0x7f, i32: 0x7f, f32: 0x7d, f64: 0x7c };

/** Opcodes the back end writes itself; those of operations stand in their records. */
export const code = {
  block: 0x02,
  loop: 0x03,
  if: 0x04,
  else: 0x05,
  end: 0x0b,
  branchIf: 0x0d,
  call: 0x10,
  drop: 0x1a,
  select: 0x1b,
  getLocal: 0x20,
  setLocal: 0x21,
  teeLocal: 0x22,
  i32Const: 0x41,
  i64Const: 0x42,
  f32Const: 0x43,
  f64Const: 0x44,
  i32IsZero: 0x45,
  i32Equal: 0x46,
  i32NotEqual: 0x47,
  i32Less: 0x48,
  i32LessUnsigned: 0x49,
  i32Greater: 0x4a,
  i32LessOrEqualUnsigned: 0x4d,
  i32GreaterOrEqual: 0x4e,
  f32Equal: 0x5b,
  f64Equal: 0x61,
  i32Add: 0x6a,
  i32Subtract: 0x6b,
  i32Multiply: 0x6c,
  i32Divide: 0x6d,
  i32Remainder: 0x6f,
  i32ShiftLeft: 0x74,
  i64Or: 0x84,
  i64ShiftLeft: 0x86,
  i64ShiftRightUnsigned: 0x88,
  i32OfI64: 0xa7,
  i64OfI32Unsigned: 0xad,
  i32OfF32Bits: 0xbc,
  i64OfF64Bits: 0xbd,
  f64OfI64Bits: 0xbf,
  noValue: 0x40,
} as const;

/** LEB128 of a number from 0 to 2³² − 1. */
export function unsigned(value: number): number[] {
  const bytes: number[] = [];
  let rest = value >>> 0;
  do {
    const low = rest & 0x7f;
    rest >>>= 7;
    bytes.push(rest === 0 ? low : low | 0x80);
  } while (rest !== 0);
  return bytes;
}

/** Signed LEB128 of an i32. */
export function signed(value: number): number[] {
  const bytes: number[] = [];
  let rest = value | 0;
  for (;;) {
    const low = rest & 0x7f;
    rest >>= 7;
    if ((rest === 0 && (low & 0x40) === 0) || (rest === -1 && (low & 0x40) !== 0)) return [...bytes, low];
    bytes.push(low | 0x80);
  }
}

/** The instruction that pushes a number. */
export function constant(type: Type, value: number): number[] {
  if (type === 'bool' || type === 'i32') return [code.i32Const, ...signed(value)];
  const view = new DataView(new ArrayBuffer(8));
  if (type === 'f32') view.setFloat32(0, value, true);
  else view.setFloat64(0, value, true);
  const bytes = [...new Uint8Array(view.buffer, 0, type === 'f32' ? 4 : 8)];
  return [type === 'f32' ? code.f32Const : code.f64Const, ...bytes];
}

/** One function ready for the module. */
export interface FunctionCode {
  readonly name: string;
  readonly parameters: readonly Type[];
  readonly result: Type | undefined;
  /** Types of the locals after the parameters. */
  readonly locals: readonly Type[];
  /** Instructions without the closing `end`. */
  readonly body: readonly number[];
}

/** The module: these functions, exported by name, and one memory of fixed size, exported as `.memory`. */
export function moduleBytes(functions: readonly FunctionCode[], pages: number): Uint8Array<ArrayBuffer> {
  const types = functions.map((func) => [
    0x60,
    ...vector(func.parameters.map((type) => [valueType[type]])),
    ...vector(func.result === undefined ? [] : [[valueType[func.result]]]),
  ]);
  const exports = functions.map((func, i) => [...text(func.name), 0x00, ...unsigned(i)]);
  const bodies = functions.map((func) => sized(vector(localRuns(func.locals)).concat(func.body, code.end)));
  const header = [0x00, 0x61, 0x73, 0x6d, 0x01, 0x00, 0x00, 0x00];
  const sections = [
    section(1, vector(types)),
    section(3, vector(functions.map((_, i) => unsigned(i)))),
    section(5, vector([[0x01, ...unsigned(pages), ...unsigned(pages)]])),
    section(7, vector([...exports, [...text('.memory'), 0x02, 0x00]])),
    section(10, vector(bodies)),
  ];
  return new Uint8Array(header.concat(...sections));
}

/** Locals as runs of one type each. */
function localRuns(locals: readonly Type[]): number[][] {
  const runs: { type: number; count: number }[] = [];
  for (const local of locals) {
    const last = runs.at(-1);
    if (last?.type === valueType[local]) last.count++;
    else runs.push({ type: valueType[local], count: 1 });
  }
  return runs.map((run) => [...unsigned(run.count), run.type]);
}

function vector(items: readonly (readonly number[])[]): number[] {
  return unsigned(items.length).concat(...items);
}

function sized(bytes: readonly number[]): number[] {
  return unsigned(bytes.length).concat(bytes);
}

function section(id: number, bytes: readonly number[]): number[] {
  return [id].concat(sized(bytes));
}

function text(name: string): number[] {
  const bytes = new TextEncoder().encode(name);
  return [...unsigned(bytes.length), ...bytes];
}
