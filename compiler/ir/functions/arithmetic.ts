/** The vocabulary the elementary functions are written in: one real type's operations, its words, exact sums and products. */

import { type Builder, realOps } from '../build.ts';
import type { Real, Value } from '../program.ts';
import { formats } from './format.ts';

/** Operations of one real type on one builder; every method appends instructions and gives back their value. */
export type Arithmetic = ReturnType<typeof arithmetic>;

/** A number as an unevaluated sum; `low` is what `high` left out. */
export interface Pair {
  readonly high: Value;
  readonly low: Value;
}

export function arithmetic(b: Builder, real: Real) {
  const r = realOps(b, real);
  const format = formats[real];
  const int = (value: number) => b.const('i32', value);
  const integer = (name: string) => (x: Value, y: Value) => b.op(`${name}_i32`, x, y);
  const i = {
    add: integer('add'),
    sub: integer('sub'),
    mul: integer('mul'),
    and: integer('and'),
    or: integer('or'),
    xor: integer('xor'),
    shl: integer('shl'),
    shr: integer('shr'),
    ushr: integer('ushr'),
    eq: integer('eq'),
    lt: integer('lt'),
    ult: integer('ult'),
    select: (condition: Value, x: Value, y: Value) => b.op('select_i32', condition, x, y),
  };
  const both = (x: Value, y: Value) => b.op('and_bool', x, y);
  const either = (x: Value, y: Value) => b.op('or_bool', x, y);
  const not = (x: Value) => b.op('not_bool', x);

  /** The word that holds sign, exponent and the first of the fraction; that of a NaN is positive. */
  const top = (x: Value) => b.op(real === 'f32' ? 'bits_f32' : 'high_f64', x);
  /** The number with this top word and nothing below it. */
  const ofTop = (word: Value) => (real === 'f32' ? b.op('f32_of_bits', word) : b.op('f64_of_words', word, int(0)));
  /** `x` with another top word. */
  const withTop = (x: Value, word: Value) =>
    real === 'f32' ? b.op('f32_of_bits', word) : b.op('f64_of_words', word, b.op('low_f64', x));
  /** The upper half of the significand of `x` (12 of 24 bits, 26 of 53), so that products of heads are exact. */
  const head = (x: Value) =>
    real === 'f32'
      ? b.op('f32_of_bits', i.and(b.op('bits_f32', x), int(0xfffff000)))
      : b.op('f64_of_words', b.op('high_f64', x), i.and(b.op('low_f64', x), int(0xf8000000)));
  /** 2 to a whole power, which must be that of a normal number. */
  const powerOfTwo = (exponent: Value) => ofTop(i.shl(i.add(exponent, int(format.bias)), int(format.fraction)));
  const isNegative = (x: Value) => i.lt(top(x), int(0));

  /** Horner's rule, constant term first. */
  const polynomial = (coefficients: readonly number[], z: Value): Value =>
    coefficients
      .slice(0, -1)
      .reduceRight((sum, c) => r.add(r.mul(sum, z), r.number(c)), r.number(coefficients.at(-1) ?? 0));
  /** Sum of two numbers, exactly, when the first is the larger, or 0 (Dekker 1971). */
  const sumOf = (large: Value, small: Value): Pair => {
    const high = r.add(large, small);
    return { high, low: r.sub(small, r.sub(high, large)) };
  };
  /** Product of two numbers, exactly but for the last bit of `low` (Dekker 1971, heads cut rather than rounded). */
  const productOf = (x: Value, y: Value): Pair => {
    const high = r.mul(x, y);
    const [xHead, yHead] = [head(x), head(y)];
    const [xTail, yTail] = [r.sub(x, xHead), r.sub(y, yHead)];
    const first = r.add(r.sub(r.mul(xHead, yHead), high), r.mul(xHead, yTail));
    return { high, low: r.add(r.add(first, r.mul(xTail, yHead)), r.mul(xTail, yTail)) };
  };
  /** The square of a number, as `productOf`. */
  const squareOf = (x: Value): Pair => {
    const high = r.mul(x, x);
    const xHead = head(x);
    const xTail = r.sub(x, xHead);
    const cross = r.mul(r.add(xHead, xHead), xTail);
    return { high, low: r.add(r.add(r.sub(r.mul(xHead, xHead), high), cross), r.mul(xTail, xTail)) };
  };
  /**
   * A positive finite number as 2ᵏ m with m from the number with top word `cut` to twice that; subnormal ones too. Of 0
   * it makes something finite.
   */
  const split = (x: Value, cut: number): { readonly k: Value; readonly m: Value } => {
    const { digits, fraction, bias } = format;
    const tiny = r.lt(x, r.number(format.smallest));
    const scaled = r.select(tiny, r.mul(x, r.number(2 ** digits)), x);
    const word = i.add(top(scaled), int((bias << fraction) - cut));
    const k = i.sub(i.shr(word, int(fraction)), i.select(tiny, int(bias + digits), int(bias)));
    return { k, m: withTop(scaled, i.add(i.and(word, int((1 << fraction) - 1)), int(cut))) };
  };

  return {
    ...r,
    b,
    format,
    int,
    i,
    both,
    either,
    not,
    top,
    ofTop,
    head,
    powerOfTwo,
    isNegative,
    polynomial,
    sumOf,
    productOf,
    squareOf,
    split,
    infinity: () => r.number(Number.POSITIVE_INFINITY),
  };
}
