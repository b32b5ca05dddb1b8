/** sin, cos and tan in either real type, with an angle of any size brought exactly into an eighth of a turn. */

import { Builder } from '../build.ts';
import type { Func, Real, Value } from '../program.ts';
import { type Arithmetic, arithmetic, type Pair } from './arithmetic.ts';
import { pieces, polynomials, twoOverPi } from './coefficients.ts';
import type { Workspace } from './workspace.ts';

/** Up to here whole multiples of the pieces of π/2 are exact. */
const farthest = { f32: 3000, f64: 1e6 } as const;

/** How many words long things are when an angle is huge. */
const lengths = {
  /** Words of zero before the first of 2/π, words of 2/π, words of the window cut from them, words of product kept. */
  f32: { pad: 1, table: 7, window: 3, kept: 2 },
  f64: { pad: 2, table: 37, window: 6, kept: 4 },
} as const;

/** Where a reduced angle is left: its quarter of the turn, and the rest, from −π/4 to π/4, as a pair. */
export function reduced(real: Real, workspace: Workspace) {
  return {
    quarter: workspace.slot('angle_quarter', 'i32', 'quarters of a turn in an angle'),
    high: workspace.slot(`angle_high_${real}`, real, 'rad, the rest of the angle'),
    low: workspace.slot(`angle_low_${real}`, real, 'rad, what the rest leaves out'),
  };
}

/** Upper 32 bits of the product of two unsigned 32-bit numbers. */
export function highProduct(): Func {
  const b = new Builder('high_product', ['i32', 'i32']);
  const { i, int } = arithmetic(b, 'f32');
  const lower = (x: Value) => i.and(x, int(0xffff));
  const upper = (x: Value) => i.ushr(x, int(16));
  const [x0, x1, y0, y1] = [lower(0), upper(0), lower(1), upper(1)];
  const [cross, other] = [i.mul(x0, y1), i.mul(x1, y0)];
  const carry = i.add(i.add(upper(i.mul(x0, y0)), lower(cross)), lower(other));
  return b.finish(i.add(i.add(i.mul(x1, y1), upper(carry)), i.add(upper(cross), upper(other))));
}

/** Word `index` of the bits of 2/π, some words of zero before them; a tree of selections, as code needs no storage. */
export function twoOverPiWord(real: Real): Func {
  const b = new Builder(`two_over_pi_${real}`, ['i32']);
  const { i, int } = arithmetic(b, real);
  const { pad, table } = lengths[real];
  let level = [...new Array<number>(pad).fill(0), ...twoOverPi.slice(0, table)].map(int);
  for (let bit = 0; level.length > 1; bit++) {
    const isEven = i.eq(i.and(0, int(1 << bit)), int(0));
    const next: Value[] = [];
    for (let at = 0; at < level.length; at += 2) {
      const [even, odd] = [level[at] as Value, level[at + 1]];
      next.push(odd === undefined ? even : i.select(isEven, even, odd));
    }
    level = next;
  }
  return b.finish(level[0]);
}

/**
 * Reduces an angle too large for the pieces of π/2 (Payne and Hanek 1983): whole turns drop out of the product of its
 * significand with the bits of 2/π that matter to it, which leaves two bits of quarter and a long fraction.
 */
export function reduceHuge(real: Real, workspace: Workspace): Func {
  const b = new Builder(`reduce_huge_${real}`, [real]);
  const m = arithmetic(b, real);
  const { i, int, number, add, sub, mul, neg, select } = m;
  const { fraction, bias, digits } = m.format;
  const { pad, window, kept } = lengths[real];
  const slots = reduced(real, workspace);
  const [quarterHigh = 0, quarterLow = 0] = pieces.quarterPiRounded[real];
  const x = 0;

  const word = m.top(m.abs(x));
  const leading = i.or(i.and(word, int((1 << fraction) - 1)), int(1 << fraction));
  const significand = real === 'f32' ? [leading] : [b.op('low_f64', x), leading];
  const offset = i.add(i.shr(word, int(fraction)), int(32 * pad - bias - digits - 1));
  const [index, shift] = [i.shr(offset, int(5)), i.and(offset, int(31))];
  const table: Value[] = [];
  for (let k = 0; k <= window; k++) table.push(b.call(`two_over_pi_${real}`, 'i32', i.add(index, int(k))));
  const past = i.sub(int(31), shift);
  const bits: Value[] = [];
  for (let k = 0; k < window; k++) {
    const [here, next] = [table[k] as Value, table[k + 1] as Value];
    bits.push(i.or(i.shl(here, shift), i.ushr(i.ushr(next, int(1)), past)));
  }

  const product: Value[] = [];
  let carry: Value | undefined;
  for (let k = kept - 1; k >= 0; k--) {
    const terms = significand.flatMap((part, j) => [
      i.mul(part, bits[k + j] as Value),
      b.call('high_product', 'i32', part, bits[k + j + 1] as Value),
    ]);
    if (carry !== undefined) terms.push(carry);
    let sum = terms[0] as Value;
    carry = undefined;
    for (const term of terms.slice(1)) {
      sum = i.add(sum, term);
      if (k === 0) continue;
      const over = b.op('i32_from_bool', i.ult(sum, term));
      carry = carry === undefined ? over : i.add(carry, over);
    }
    product.unshift(sum);
  }

  const first = product[0] as Value;
  const quarter = i.ushr(i.add(first, int(0x20000000)), int(30));
  const turned = product.map((here, k) => {
    const next = product[k + 1];
    const up = i.shl(here, int(2));
    return next === undefined ? up : i.or(up, i.ushr(next, int(30)));
  });
  const rest = sumDown(m, exactPieces(m, turned));
  const inRadians = m.productOf(rest.high, number(2 * quarterHigh));
  const tail = add(mul(rest.high, number(2 * quarterLow)), mul(rest.low, number(2 * quarterHigh)));
  const angle = m.sumOf(inRadians.high, add(inRadians.low, tail));

  const isNegative = m.isNegative(x);
  const finite = m.le(m.abs(x), number(m.format.largest));
  b.store(slots.quarter, i.select(isNegative, i.sub(int(0), quarter), quarter));
  b.store(slots.high, select(finite, select(isNegative, neg(angle.high), angle.high), sub(x, x)));
  b.store(slots.low, select(isNegative, neg(angle.low), angle.low));
  return b.finish();
}

/** Words of a signed fraction, highest first, as numbers that hold them exactly: 16 bits each in f32, 32 in f64. */
function exactPieces(m: Arithmetic, words: readonly Value[]): Value[] {
  const { i, int, number, mul, add, fromInt, select } = m;
  if (m.real === 'f32')
    return words.flatMap((word, k) => [
      mul(fromInt(k === 0 ? i.shr(word, int(16)) : i.ushr(word, int(16))), number(2 ** (-32 * k - 16))),
      mul(fromInt(i.and(word, int(0xffff))), number(2 ** (-32 * k - 32))),
    ]);
  return words.map((word, k) => {
    const signed = fromInt(word);
    const whole = k === 0 ? signed : add(signed, select(i.lt(word, int(0)), number(2 ** 32), number(0)));
    return mul(whole, number(2 ** (-32 * k - 32)));
  });
}

/** Sum as a pair of numbers each of which is smaller than the last place of the one before. */
function sumDown(m: Arithmetic, terms: readonly Value[]): Pair {
  let high = terms[0] as Value;
  let low: Value | undefined;
  for (const term of terms.slice(1)) {
    const sum = m.sumOf(high, term);
    high = sum.high;
    low = low === undefined ? sum.low : m.add(low, sum.low);
  }
  return m.sumOf(high, low ?? m.number(0));
}

/** Leaves an angle reduced in the workspace; up to `farthest` by pieces of π/2 (Cody and Waite 1980). */
export function reduce(real: Real, workspace: Workspace): Func {
  const b = new Builder(`reduce_${real}`, [real]);
  const { number, add, sub, mul, lt, abs, floor, toInt } = arithmetic(b, real);
  const [first = 0, second = 0, third = 0, last = 0] = pieces.halfPi[real];
  const slots = reduced(real, workspace);
  const x = 0;
  b.if(
    lt(abs(x), number(farthest[real])),
    () => {
      const n = floor(add(mul(x, number(2 / Math.PI)), number(0.5)));
      const a = sub(x, mul(n, number(first)));
      const w = mul(n, number(second));
      const c = sub(a, w);
      const v = mul(n, number(third));
      const d = sub(c, v);
      const lost = add(sub(sub(a, c), w), sub(sub(c, d), v));
      const tail = sub(mul(n, number(last)), lost);
      const high = sub(d, tail);
      b.store(slots.quarter, toInt(n));
      b.store(slots.high, high);
      b.store(slots.low, sub(sub(d, high), tail));
    },
    () => b.run(`reduce_huge_${real}`, x),
  );
  return b.finish();
}

/** What to take from r to get the sine of the pair (r, low); with −0 it is +0, so that −0 stays. */
function sineTail(m: Arithmetic, r: Value, low: Value, z: Value): Value {
  const { number, sub, mul, polynomial } = m;
  const late = sub(mul(mul(z, number(0.5)), low), low);
  return sub(late, mul(mul(z, r), polynomial(polynomials.sin[m.real], z)));
}

/** The cosine of the pair (r, low) as 1 − r²/2, rounded, and what that leaves out. */
function cosineParts(m: Arithmetic, r: Value, low: Value, z: Value): Pair {
  const { number, add, sub, mul, polynomial } = m;
  const halfSquare = mul(z, number(0.5));
  const one = number(1);
  const high = sub(one, halfSquare);
  const series = mul(mul(z, z), polynomial(polynomials.cos[m.real], z));
  return { high, low: add(sub(sub(one, high), halfSquare), sub(series, mul(r, low))) };
}

/** The sine of the reduced angle moved on to the quarter given (0 to 3, counted modulo 4). Uses the angle up. */
export function sineIn(real: Real, workspace: Workspace): Func {
  const b = new Builder(`sine_in_${real}`, ['i32']);
  const m = arithmetic(b, real);
  const { i, int } = m;
  const slots = reduced(real, workspace);
  const r = b.load(slots.high, real);
  const low = b.load(slots.low, real);
  const z = m.mul(r, r);
  b.if(
    i.eq(i.and(0, int(1)), int(0)),
    () => b.store(slots.high, m.sub(r, sineTail(m, r, low, z))),
    () => {
      const cosine = cosineParts(m, r, low, z);
      b.store(slots.high, m.add(cosine.high, cosine.low));
    },
  );
  const y = b.load(slots.high, real);
  return b.finish(m.select(i.eq(i.and(0, int(2)), int(0)), y, m.neg(y)));
}

/** sin(±0) = ±0, sin(±∞) = NaN. */
export function sin(real: Real, workspace: Workspace): Func {
  const b = new Builder(`sin_${real}`, [real]);
  b.run(`reduce_${real}`, 0);
  return b.finish(b.call(`sine_in_${real}`, real, b.load(reduced(real, workspace).quarter, 'i32')));
}

/** cos(±0) = 1, cos(±∞) = NaN. */
export function cos(real: Real, workspace: Workspace): Func {
  const b = new Builder(`cos_${real}`, [real]);
  b.run(`reduce_${real}`, 0);
  const next = b.op('add_i32', b.load(reduced(real, workspace).quarter, 'i32'), b.const('i32', 1));
  return b.finish(b.call(`sine_in_${real}`, real, next));
}

/** Sine over cosine, or minus cosine over sine, both as pairs. tan(±0) = ±0, tan(±∞) = NaN. */
export function tan(real: Real, workspace: Workspace): Func {
  const b = new Builder(`tan_${real}`, [real]);
  const m = arithmetic(b, real);
  const { i, int, number, add, sub, mul, div, neg, select } = m;
  const slots = reduced(real, workspace);
  b.run(`reduce_${real}`, 0);
  const r = b.load(slots.high, real);
  const low = b.load(slots.low, real);
  const z = mul(r, r);
  const tail = sineTail(m, r, low, z);
  const sine = sub(r, tail);
  const sineLow = sub(sub(r, sine), tail);
  const parts = cosineParts(m, r, low, z);
  const cosine = m.sumOf(parts.high, parts.low);
  const straight = i.eq(i.and(b.load(slots.quarter, 'i32'), int(1)), int(0));
  const top = select(straight, sine, neg(cosine.high));
  const topLow = select(straight, sineLow, neg(cosine.low));
  const under = select(straight, cosine.high, sine);
  const underLow = select(straight, cosine.low, sineLow);
  const t = div(top, under);
  const back = m.productOf(t, under);
  const excess = add(add(sub(back.high, top), back.low), sub(mul(t, underLow), topLow));
  const correction = div(excess, under);
  const slight = m.le(m.abs(t), number(negligible[real]));
  return b.finish(sub(t, select(slight, number(0), correction)));
}

/** Below this a tangent is its angle, and the remainder of the division would be lost in subnormals. */
const negligible = { f32: 2 ** -60, f64: 2 ** -500 } as const;
