/** atan2, atan, asin and acos in either real type. */

import { Builder } from '../build.ts';
import type { Func, Real } from '../program.ts';
import { arithmetic } from './arithmetic.ts';
import { pieces, polynomials } from './coefficients.ts';

/** Below this ratio the quotient is the answer and its remainder would be lost in subnormals. */
const negligible = { f32: 2 ** -60, f64: 2 ** -500 } as const;

/**
 * The angle of (x, y). The smaller of |x| and |y| over the larger, or, above ½, (small − large)/(small + large), gives
 * t from −⅓ to ½; its rounding is made good by its remainder. The angle is then ± t + j π/4 with j from 0 to 4, and
 * j times the first piece of π/4 is exact. Answers at the edges: C99 F.9.1.4.
 */
export function atan2(real: Real): Func {
  const b = new Builder(`atan2_${real}`, [real, real]);
  const m = arithmetic(b, real);
  const { number, add, sub, mul, div, lt, eq, le, abs, neg, select, fromInt, int, i, isNegative } = m;
  const { fraction, bias } = m.format;
  const [quarterHigh = 0, quarterLow = 0] = pieces.quarterPi[real];
  const [y, x] = [0, 1];
  const zero = number(0);
  const one = number(1);
  const [tall, wide] = [abs(y), abs(x)];
  const steep = lt(wide, tall);
  const larger = select(steep, tall, wide);
  const smaller = select(steep, wide, tall);

  // Both are brought to where the larger is about 1; two infinities count as equal, two zeros as 0/1.
  const exponent = i.shr(m.top(larger), int(fraction));
  const opposite = i.sub(int(2 * bias), exponent);
  const scale = m.ofTop(i.shl(i.select(i.lt(opposite, int(1)), int(1), opposite), int(fraction)));
  const endless = m.infinity();
  const isEndless = eq(larger, endless);
  const large = select(m.either(isEndless, eq(larger, zero)), one, mul(larger, scale));
  const inEndless = select(eq(smaller, endless), one, mul(smaller, zero));
  const small = select(isEndless, inEndless, mul(smaller, scale));

  const middle = lt(mul(large, number(0.5)), small);
  const total = m.sumOf(large, small);
  const top = select(middle, sub(small, large), small);
  const under = select(middle, total.high, large);
  const underLow = select(middle, total.low, zero);
  const t = div(top, under);
  const back = m.productOf(t, under);
  const remainder = sub(sub(sub(top, back.high), back.low), mul(t, underLow));
  const tLow = select(le(abs(t), number(negligible[real])), zero, div(remainder, under));

  const z = mul(t, t);
  const correction = add(mul(mul(t, z), m.polynomial(polynomials.atan[real], z)), tLow);
  const eighths = i.select(middle, int(1), int(0));
  const afterSteep = i.select(steep, i.sub(int(2), eighths), eighths);
  const left = isNegative(x);
  const j = fromInt(i.select(left, i.sub(int(4), afterSteep), afterSteep));
  const backwards = b.op('eq_bool', b.op('eq_bool', steep, left), b.const('bool', 0));
  const whole = m.sumOf(mul(j, number(quarterHigh)), select(backwards, neg(t), t));
  const bend = add(select(backwards, neg(correction), correction), mul(j, number(quarterLow)));
  const angle = add(whole.high, add(whole.low, bend));
  return b.finish(select(isNegative(y), neg(angle), angle));
}

/** atan(±0) = ±0, atan(±∞) = ±π/2. */
export function atan(real: Real): Func {
  const b = new Builder(`atan_${real}`, [real]);
  return b.finish(b.call(`atan2_${real}`, real, 0, b.const(real, 1)));
}

/**
 * What asin and acos share (the form of the classical fdlibm functions): inside ½ the series in x², outside it that in
 * (1 − |x|)/2, whose root is kept as head and tail. Outside −1 … 1 the root is NaN, and so is the answer.
 */
function arcParts(b: Builder, real: Real) {
  const m = arithmetic(b, real);
  const { number, add, sub, mul, div, lt, eq, abs, sqrt, select, polynomial } = m;
  const [quarterHigh = 0, quarterLow = 0] = pieces.quarterPiRounded[real];
  const x = 0;
  const size = abs(x);
  const half = number(0.5);
  const inside = lt(size, half);
  const z = select(inside, mul(x, x), mul(sub(number(1), size), half));
  const series = mul(z, polynomial(polynomials.asin[real], z));
  const root = sqrt(z);
  const rootHead = m.head(root);
  const zero = number(0);
  const rootTail = select(eq(z, zero), zero, div(sub(z, mul(rootHead, rootHead)), add(root, rootHead)));
  const quarter = number(quarterHigh);
  return { m, x, inside, series, root, rootHead, rootTail, quarter, halfLow: number(2 * quarterLow), add, sub, mul };
}

/** asin(±0) = ±0, asin(±1) = ±π/2, |x| > 1: NaN. */
export function asin(real: Real): Func {
  const b = new Builder(`asin_${real}`, [real]);
  const { m, x, inside, series, root, rootHead, rootTail, quarter, halfLow, add, sub, mul } = arcParts(b, real);
  const near = add(x, mul(x, series));
  const two = m.number(2);
  const p = sub(mul(two, mul(root, series)), sub(halfLow, mul(two, rootTail)));
  const whole = m.sumOf(quarter, sub(quarter, mul(two, rootHead)));
  const far = add(whole.high, sub(whole.low, p));
  return b.finish(m.select(inside, near, m.select(m.isNegative(x), m.neg(far), far)));
}

/** acos(1) = +0, acos(−1) = π, |x| > 1: NaN. */
export function acos(real: Real): Func {
  const b = new Builder(`acos_${real}`, [real]);
  const { m, x, inside, series, root, rootHead, rootTail, quarter, halfLow, add, sub, mul } = arcParts(b, real);
  const right = add(quarter, quarter);
  const near = sub(right, sub(x, sub(halfLow, mul(x, series))));
  const rest = add(mul(root, series), rootTail);
  const two = m.number(2);
  const up = mul(two, add(rootHead, rest));
  const down = mul(two, sub(right, add(rootHead, sub(rest, halfLow))));
  return b.finish(m.select(inside, near, m.select(m.isNegative(x), down, up)));
}
