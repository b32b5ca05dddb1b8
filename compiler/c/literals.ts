/** Numbers as C literals that give the same bits on every compiler. */

import type { Type } from '../ir/program.ts';

/** C type of a local value; a bool in a struct is a `uint8_t` instead. */
export const localType: Readonly<Record<Type, string>> = {
  bool: 'bool',
  i32: 'int32_t',
  f32: 'float',
  f64: 'double',
};

/** C type of a struct's field. */
export const fieldType: Readonly<Record<Type, string>> = { ...localType, bool: 'uint8_t' };

/** A number of a type as an expression. */
export function literal(type: Type, value: number): string {
  if (type === 'bool') return value === 0 ? 'false' : 'true';
  if (type === 'i32') return value === -2147483648 ? '(-2147483647 - 1)' : String(value);
  if (Number.isNaN(value)) return type === 'f32' ? 'NAN' : '(double)NAN';
  if (!Number.isFinite(value)) {
    const infinity = type === 'f32' ? 'INFINITY' : '(double)INFINITY';
    return value < 0 ? `-${infinity}` : infinity;
  }
  const sign = value < 0 || Object.is(value, -0) ? '-' : '';
  const digits = type === 'f32' ? shortestSingle(Math.abs(value)) : String(Math.abs(value));
  const real = /[.e]/.test(digits) ? digits : `${digits}.0`;
  return `${sign}${real}${type === 'f32' ? 'f' : ''}`;
}

/** As stored in a struct: a bool is 0 or 1. */
export function fieldLiteral(type: Type, value: number): string {
  return type === 'bool' ? (value === 0 ? '0U' : '1U') : literal(type, value);
}

/**
 * The shortest decimal of a positive f32 (or 0) that reads back as it. A reader of C rounds the decimal once, we round
 * it twice (to f64, then f32); decimals so near a halfway point that the two could differ are passed over.
 */
export function shortestSingle(value: number): string {
  for (let digits = 1; digits <= 9; digits++) {
    const number = Number(value.toPrecision(digits));
    const clear = [1 - Number.EPSILON, 1, 1 + Number.EPSILON].every((by) => Math.fround(number * by) === value);
    if (clear) return String(number);
  }
  return String(value);
}
