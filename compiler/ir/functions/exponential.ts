/** exp, log and pow in either real type. */

import { Builder } from '../build.ts';
import type { Func, Real } from '../program.ts';
import { arithmetic } from './arithmetic.ts';
import { pieces, polynomials } from './coefficients.ts';

/** Beyond this every exponential is 0 or ∞, and well before it the halves of the power of two are still normal. */
const limit = { f32: 120, f64: 800 } as const;

/**
 * e to the power high + low, where low is small beside 1; the form of the classical fdlibm `exp`: reduce by log 2,
 * then e^r = 1 + r + r c/(2 − c), 1 + r summed exactly. ±∞, NaN, overflow and gradual underflow come out by themselves.
 */
export function expOfSum(real: Real): Func {
  const b = new Builder(`exp_of_sum_${real}`, [real, real]);
  const { number, add, sub, mul, div, lt, floor, select, toInt, int, i, polynomial, powerOfTwo, sumOf } = arithmetic(
    b,
    real,
  );
  const [log2High = 0, log2Low = 0] = pieces.log2[real];
  const ends = limit[real];
  const low = 1;
  const below = select(lt(0, number(-ends)), number(-ends), 0);
  const high = select(lt(number(ends), 0), number(ends), below);
  const n = floor(add(mul(high, number(Math.LOG2E)), number(0.5)));
  const near = sub(high, mul(n, number(log2High)));
  const off = sub(mul(n, number(log2Low)), low);
  const r = sub(near, off);
  const z = mul(r, r);
  const c = sub(r, mul(z, polynomial(polynomials.exp[real], z)));
  const line = sumOf(number(1), near);
  const bend = sub(div(mul(r, c), sub(number(2), c)), off);
  const y = add(line.high, add(line.low, bend));
  const k = toInt(n);
  const half = i.shr(k, int(1));
  return b.finish(mul(mul(y, powerOfTwo(half)), powerOfTwo(i.sub(k, half))));
}

/** exp(±0) = 1, exp(−∞) = +0, exp(+∞) = +∞. */
export function exp(real: Real): Func {
  const b = new Builder(`exp_${real}`, [real]);
  return b.finish(b.call(`exp_of_sum_${real}`, real, 0, b.const(real, 0)));
}

/** Natural logarithm in the form of the classical fdlibm `log`. log(±0) = −∞, log(1) = +0, log(+∞) = +∞, x < 0: NaN. */
export function log(real: Real): Func {
  const b = new Builder(`log_${real}`, [real]);
  const { number, add, sub, mul, div, lt, eq, sqrt, select, fromInt, both, polynomial, split, infinity, format } =
    arithmetic(b, real);
  const [log2High = 0, log2Low = 0] = pieces.log2[real];
  const x = 0;
  const { k, m } = split(x, format.rootHalf);
  const f = sub(m, number(1));
  const s = div(f, add(number(2), f));
  const z = mul(s, s);
  const series = mul(z, polynomial(polynomials.log[real], z));
  const halfSquare = mul(number(0.5), mul(f, f));
  const n = fromInt(k);
  const bend = add(mul(s, add(halfSquare, series)), mul(n, number(log2Low)));
  const y = sub(mul(n, number(log2High)), sub(sub(halfSquare, bend), f));
  const zero = number(0);
  const ordinary = both(lt(zero, x), lt(x, infinity()));
  return b.finish(select(ordinary, y, select(eq(x, zero), number(Number.NEGATIVE_INFINITY), sqrt(x))));
}

/**
 * x to the power y as e^(y log|x|), the logarithm kept as a head of half the digits and a tail (the way of the
 * classical fdlibm `pow`), so that y times it loses nothing that matters. Answers at the edges: C99 F.9.4.4.
 */
export function pow(real: Real): Func {
  const b = new Builder(`pow_${real}`, [real, real]);
  const m = arithmetic(b, real);
  const { number, add, sub, mul, div, lt, eq, abs, neg, sqrt, floor, select, fromInt } = m;
  const { both, either, not, head, polynomial, split, isNegative, infinity } = m;
  const [log2High = 0, log2Low = 0] = pieces.log2[real];
  const [anchorHigh = 0, anchorLow = 0] = pieces.logThreeHalves[real];
  const [x, y] = [0, 1];
  const size = abs(x);
  const zero = number(0);
  const one = number(1);

  const { k, m: significand } = split(size, m.format.rootThreeQuarters);
  const n = fromInt(k);
  const isLow = lt(significand, number(Math.sqrt(1.5)));
  const anchor = select(isLow, one, number(1.5));
  const f = sub(significand, anchor);
  const d = add(significand, anchor);
  const s = div(f, d);
  const sHead = head(s);
  const dHead = head(d);
  const dTail = sub(significand, sub(dHead, anchor));
  const sTail = div(sub(sub(f, mul(sHead, dHead)), mul(sHead, dTail)), d);
  const z = mul(s, s);
  const square = mul(sHead, sHead);
  const rest = add(mul(mul(z, z), polynomial(polynomials.pow[real], z)), mul(sTail, add(sHead, s)));
  const three = number(3);
  const wHead = head(add(add(three, square), rest));
  const wTail = sub(rest, sub(sub(wHead, three), square));
  const u = mul(sHead, wHead);
  const v = add(mul(sTail, wHead), mul(wTail, s));
  const pHead = head(add(u, v));
  const pTail = sub(v, sub(pHead, u));
  const third = twoThirds[real];
  const near = mul(number(third.head), pHead);
  const known = add(mul(n, number(log2Low)), select(isLow, zero, number(anchorLow)));
  const off = add(add(mul(number(third.tail), pHead), mul(number(third.all), pTail)), known);
  const whole = mul(n, number(log2High));
  const anchorLog = select(isLow, zero, number(anchorHigh));
  const logHead = head(add(add(add(near, off), anchorLog), whole));
  const logTail = sub(off, sub(sub(sub(logHead, whole), anchorLog), near));

  const ordinary = both(lt(zero, size), lt(size, infinity()));
  const logarithm = select(ordinary, logHead, select(eq(size, zero), number(Number.NEGATIVE_INFINITY), size));
  const product = mul(y, logarithm);
  const within = lt(abs(product), number(2 * limit[real]));
  const yHead = head(y);
  const high = select(within, mul(yHead, logHead), product);
  const low = select(within, add(mul(sub(y, yHead), logHead), mul(y, logTail)), zero);
  const power = b.call(`exp_of_sum_${real}`, real, high, low);

  const endless = both(eq(size, one), eq(abs(y), infinity()));
  const magnitude = select(either(either(eq(y, zero), eq(x, one)), endless), one, power);
  const isWhole = eq(floor(y), y);
  const half = mul(y, number(0.5));
  const isOdd = both(isWhole, not(eq(floor(half), half)));
  const signed = select(both(isNegative(x), isOdd), neg(magnitude), magnitude);
  const undefinedThere = both(both(lt(x, zero), lt(size, infinity())), not(isWhole));
  return b.finish(select(undefinedThere, sqrt(x), signed));
}

/** 2/3 as a head of half the digits, what that leaves out, and all of it; the tail is 2/3 − head to full digits. */
const twoThirds = {
  f32: { head: 0.66650390625, tail: 2 / 3 - 0.66650390625, all: 2 / 3 },
  // 2/3 = 2⁻²⁶ (2²⁷/3): the head is 44739242 · 2⁻²⁶, and the rest is exactly 2⁻²⁶ · 2/3.
  f64: { head: 44739242 * 2 ** -26, tail: (2 ** -26 * 2) / 3, all: 2 / 3 },
} as const;
