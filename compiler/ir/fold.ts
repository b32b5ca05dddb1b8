/** What one operation may be replaced by without changing a bit of its result (NaNs compare as one value). */

import { operation } from './operations.ts';
import type { Value } from './program.ts';

/** What is known about a value when an operation reads it. */
export interface Known {
  /** Its number, if it is constant. */
  readonly constant: (value: Value) => number | undefined;
  /** The operation that made it, if one did. */
  readonly maker: (value: Value) => Maker | undefined;
}

/** An operation and what it was given. */
export interface Maker {
  readonly op: string;
  readonly args: readonly Value[];
}

/** Instead of the operation: a number, a value there is already, or another operation. */
export type Instead =
  | { readonly number: number }
  | { readonly value: Value }
  | { readonly op: string; readonly args: readonly Value[]; readonly number?: undefined }
  /** Another operation whose second operand is a new constant. */
  | { readonly op: string; readonly args: readonly [Value]; readonly number: number };

/** A shorter way to the same bits, or undefined. */
export function fold(op: string, args: readonly Value[], known: Known): Instead | undefined {
  const [a = 0, b = 0, c = 0] = args;
  const x = known.constant(a);
  if (x !== undefined) {
    const numbers = args.map(known.constant);
    if (numbers.every((number) => number !== undefined)) return { number: operation(op).evaluate(...numbers) };
  }
  const { name, type } = parts(op);
  if (name === 'select') return foldSelect(type, a, b, c, known);
  const y = args.length < 2 ? undefined : known.constant(b);
  switch (type) {
    case 'f32':
    case 'f64':
      return args.length === 2 ? foldReal(name, type, a, b, x, y, known) : foldUnary(name, type, a, known);
    case 'i32':
      return args.length === 2 ? foldInteger(name, a, b, x, y) : undefined;
    case 'bool':
      return foldBool(name, a, b, x, y, known);
    default:
      return undefined;
  }
}

const partsKnown = new Map<string, { readonly name: string; readonly type: string }>();

/** `add_f32` taken apart. */
function parts(op: string): { readonly name: string; readonly type: string } {
  let found = partsKnown.get(op);
  if (found === undefined) {
    const cut = op.lastIndexOf('_');
    found = { name: op.slice(0, cut), type: op.slice(cut + 1) };
    partsKnown.set(op, found);
  }
  return found;
}

const is = (number: number | undefined, what: number): boolean => number !== undefined && Object.is(number, what);

function foldSelect(type: string, condition: Value, a: Value, b: Value, known: Known): Instead | undefined {
  const chosen = known.constant(condition);
  if (chosen !== undefined) return { value: chosen === 1 ? a : b };
  if (a === b) return { value: a };
  const maker = known.maker(condition);
  if (maker?.op === 'not_bool') return { op: `select_${type}`, args: [maker.args[0] ?? condition, b, a] };
  if (type === 'bool' && known.constant(a) === 1 && known.constant(b) === 0) return { value: condition };
  if (type === 'bool' && known.constant(a) === 0 && known.constant(b) === 1)
    return { op: 'not_bool', args: [condition] };
  return undefined;
}

/** What a value is the negative of, if it was made so. */
function negated(value: Value, type: 'f32' | 'f64', known: Known): Value | undefined {
  const maker = known.maker(value);
  return maker?.op === `neg_${type}` ? maker.args[0] : undefined;
}

function foldReal(
  name: string,
  type: 'f32' | 'f64',
  a: Value,
  b: Value,
  x: number | undefined,
  y: number | undefined,
  known: Known,
): Instead | undefined {
  const minusB = negated(b, type, known);
  if (name === 'add') {
    if (is(y, -0)) return { value: a };
    if (is(x, -0)) return { value: b };
    if (minusB !== undefined) return { op: `sub_${type}`, args: [a, minusB] };
    const minusA = negated(a, type, known);
    if (minusA !== undefined) return { op: `sub_${type}`, args: [b, minusA] };
  } else if (name === 'sub') {
    if (is(y, 0)) return { value: a };
    if (minusB !== undefined) return { op: `add_${type}`, args: [a, minusB] };
  } else if (name === 'mul') {
    if (x === 1) return { value: b };
    if (y === 1) return { value: a };
    if (x === -1) return { op: `neg_${type}`, args: [b] };
    if (y === -1) return { op: `neg_${type}`, args: [a] };
  } else if (name === 'div' && y !== undefined) {
    if (y === 1) return { value: a };
    if (y === -1) return { op: `neg_${type}`, args: [a] };
    if (isPowerOfTwo(y, type)) return { op: `mul_${type}`, args: [a], number: 1 / y };
  }
  return undefined;
}

/** Both it and its reciprocal are normal powers of two: dividing by it is multiplying by the reciprocal, exactly. */
function isPowerOfTwo(y: number, type: 'f32' | 'f64'): boolean {
  const size = Math.abs(y);
  const limit = type === 'f32' ? 2 ** 126 : 2 ** 1022;
  if (!(size >= 1 / limit && size <= limit)) return false;
  const words = new DataView(new ArrayBuffer(8));
  words.setFloat64(0, size);
  return (words.getBigUint64(0) & 0xfffffffffffffn) === 0n;
}

function foldUnary(name: string, type: 'f32' | 'f64', a: Value, known: Known): Instead | undefined {
  const maker = known.maker(a);
  const inner = maker?.args[0];
  if (maker === undefined || inner === undefined) return undefined;
  const sameSign = maker.op === `neg_${type}` || maker.op === `abs_${type}`;
  if (name === 'neg' && maker.op === `neg_${type}`) return { value: inner };
  if (name === 'abs' && sameSign)
    return maker.op === `abs_${type}` ? { value: a } : { op: 'abs_'.concat(type), args: [inner] };
  if ((name === 'floor' || name === 'trunc') && (maker.op === `floor_${type}` || maker.op === `trunc_${type}`))
    return { value: a };
  if (name === 'f32_from' && maker.op === 'f64_from_f32') return { value: inner };
  return undefined;
}

function foldInteger(
  name: string,
  a: Value,
  b: Value,
  x: number | undefined,
  y: number | undefined,
): Instead | undefined {
  if (a === b) {
    if (name === 'eq' || name === 'le') return { number: 1 };
    if (name === 'lt' || name === 'ult' || name === 'sub' || name === 'xor') return { number: 0 };
    if (name === 'and' || name === 'or') return { value: a };
  }
  if (y === 0) {
    if (['add', 'sub', 'or', 'xor', 'shl', 'shr', 'ushr'].includes(name)) return { value: a };
    if (['mul', 'and', 'div', 'rem', 'ult'].includes(name)) return { number: 0 };
  }
  if (x === 0) {
    if (['add', 'or', 'xor'].includes(name)) return { value: b };
    if (['mul', 'and', 'shl', 'shr', 'ushr', 'div', 'rem'].includes(name)) return { number: 0 };
  }
  if (y === 1 && (name === 'mul' || name === 'div')) return { value: a };
  if (x === 1 && name === 'mul') return { value: b };
  if (y === -1 && name === 'and') return { value: a };
  return undefined;
}

function foldBool(
  name: string,
  a: Value,
  b: Value,
  x: number | undefined,
  y: number | undefined,
  known: Known,
): Instead | undefined {
  if (name === 'not') {
    const maker = known.maker(a);
    return maker?.op === 'not_bool' ? { value: maker.args[0] ?? a } : undefined;
  }
  if (name === 'eq') {
    if (a === b) return { number: 1 };
    if (x === 1) return { value: b };
    if (y === 1) return { value: a };
    if (x === 0) return { op: 'not_bool', args: [b] };
    if (y === 0) return { op: 'not_bool', args: [a] };
    return undefined;
  }
  if (name !== 'and' && name !== 'or') return undefined;
  const neutral = name === 'and' ? 1 : 0;
  if (a === b || y === neutral) return { value: a };
  if (x === neutral) return { value: b };
  return x === 1 - neutral || y === 1 - neutral ? { number: 1 - neutral } : undefined;
}
