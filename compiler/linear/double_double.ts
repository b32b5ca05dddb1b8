/** Numbers as an unevaluated sum of two doubles: about 32 digits, where a double's 16 would be lost to cancellation. */

export interface Double2 {
  readonly hi: number;
  readonly lo: number;
}

const SPLIT = 2 ** 27 + 1;

/** hi + lo with |lo| no more than half a unit in the last place of hi. */
function settled(hi: number, lo: number): Double2 {
  const sum = hi + lo;
  return { hi: sum, lo: lo - (sum - hi) };
}

export function double2(value: number): Double2 {
  return { hi: value, lo: 0 };
}

/** a + b without any error. */
function exactSum(a: number, b: number): Double2 {
  const hi = a + b;
  const bb = hi - a;
  return { hi, lo: a - (hi - bb) + (b - bb) };
}

/** a · b without any error (short of overflow above 1e300). */
export function exactProduct(a: number, b: number): Double2 {
  const hi = a * b;
  const ca = SPLIT * a;
  const ah = ca - (ca - a);
  const al = a - ah;
  const cb = SPLIT * b;
  const bh = cb - (cb - b);
  const bl = b - bh;
  return { hi, lo: ah * bh - hi + ah * bl + al * bh + al * bl };
}

export function add2(a: Double2, b: Double2): Double2 {
  const high = exactSum(a.hi, b.hi);
  const low = exactSum(a.lo, b.lo);
  const part = settled(high.hi, high.lo + low.hi);
  return settled(part.hi, part.lo + low.lo);
}

export function negated2(a: Double2): Double2 {
  return { hi: -a.hi, lo: -a.lo };
}

export function subtract2(a: Double2, b: Double2): Double2 {
  return add2(a, negated2(b));
}

export function multiply2(a: Double2, b: Double2): Double2 {
  const high = exactProduct(a.hi, b.hi);
  return settled(high.hi, high.lo + a.hi * b.lo + a.lo * b.hi);
}

export function divide2(a: Double2, b: Double2): Double2 {
  const first = a.hi / b.hi;
  const rest = subtract2(a, multiply2(b, double2(first)));
  const second = rest.hi / b.hi;
  const last = subtract2(rest, multiply2(b, double2(second)));
  return add2(settled(first, second), double2(last.hi / b.hi));
}

/** The nearest double. */
export function value2(a: Double2): number {
  return a.hi + a.lo;
}

/** Product of two polynomials in descending powers. */
export function product2(a: readonly Double2[], b: readonly Double2[]): Double2[] {
  const made = Array.from({ length: a.length + b.length - 1 }, () => double2(0));
  for (const [i, x] of a.entries()) {
    for (const [j, y] of b.entries()) made[i + j] = add2(made[i + j] ?? ZERO, multiply2(x, y));
  }
  return made;
}

/** Sum of two polynomials in descending powers. */
export function sum2(a: readonly Double2[], b: readonly Double2[]): Double2[] {
  const length = Math.max(a.length, b.length);
  const at = (list: readonly Double2[], i: number) => list[i - (length - list.length)] ?? ZERO;
  return Array.from({ length }, (_, i) => add2(at(a, i), at(b, i)));
}

const ZERO = double2(0);
