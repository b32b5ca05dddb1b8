/** Polynomials with real coefficients in descending powers. */

import type { Complex } from './system.ts';

export type Polynomial = readonly number[];

/** Without leading zeros; a polynomial of nothing but zeros becomes [0]. */
export function trimmed(coefficients: Polynomial): number[] {
  const first = coefficients.findIndex((c) => c !== 0);
  return first < 0 ? [0] : coefficients.slice(first);
}

/** The highest power with a coefficient other than 0; −1 where all are 0. */
export function degree(coefficients: Polynomial): number {
  const first = coefficients.findIndex((c) => c !== 0);
  return first < 0 ? -1 : coefficients.length - 1 - first;
}

export function product(a: Polynomial, b: Polynomial): number[] {
  const made = new Array<number>(Math.max(0, a.length + b.length - 1)).fill(0);
  for (const [i, x] of a.entries()) {
    for (const [j, y] of b.entries()) made[i + j] = (made[i + j] ?? 0) + x * y;
  }
  return made;
}

export function scaled(a: Polynomial, factor: number): number[] {
  return a.map((c) => c * factor);
}

export function sum(a: Polynomial, b: Polynomial): number[] {
  const length = Math.max(a.length, b.length);
  return Array.from({ length }, (_, i) => (a[i - (length - a.length)] ?? 0) + (b[i - (length - b.length)] ?? 0));
}

export function derivative(a: Polynomial): number[] {
  const n = a.length - 1;
  return n < 1 ? [0] : a.slice(0, n).map((c, i) => c * (n - i));
}

/** Π(x − root) with complex roots in conjugate pairs; leading coefficient 1. */
export function fromRoots(roots: readonly Complex[]): number[] {
  const made = [1];
  for (const { re, im } of roots) {
    if (im < 0) continue;
    // Times (x − re), or times (x² − 2·re·x + re² + im²), from the last coefficient back.
    const [b, c] = im === 0 ? [-re, 0] : [-2 * re, re * re + im * im];
    made.push(0);
    if (im > 0) made.push(0);
    for (let i = made.length - 1; i > 0; i--) {
      made[i] = (made[i] as number) + b * (made[i - 1] as number) + (i > 1 ? c * (made[i - 2] as number) : 0);
    }
  }
  return made;
}

const SPLIT = 2 ** 27 + 1;

/**
 * Value at a complex point, as if computed in twice the precision and then rounded: the error is that of one rounding
 * unless the value is 1e16 times smaller than its terms. `fine` is what the coefficients lost by their own rounding.
 */
export function valueAt(coefficients: Polynomial, re: number, im: number, fine?: Polynomial): Complex {
  // Value hi + lo, complex; each step multiplies by the point and adds a coefficient without error in hi.
  let hr = 0;
  let hi = 0;
  let lr = 0;
  let li = 0;
  const cr = SPLIT * re;
  const xrh = cr - (cr - re);
  const xrl = re - xrh;
  const ci = SPLIT * im;
  const xih = ci - (ci - im);
  const xil = im - xih;
  for (let k = 0; k < coefficients.length; k++) {
    const c = coefficients[k] as number;
    const ca = SPLIT * hr;
    const ah = ca - (ca - hr);
    const al = hr - ah;
    const cb = SPLIT * hi;
    const bh = cb - (cb - hi);
    const bl = hi - bh;
    // Four products with their errors.
    const rr = hr * re;
    const rrl = ah * xrh - rr + ah * xrl + al * xrh + al * xrl;
    const ii = hi * im;
    const iil = bh * xih - ii + bh * xil + bl * xih + bl * xil;
    const ri = hr * im;
    const ril = ah * xih - ri + ah * xil + al * xih + al * xil;
    const ir = hi * re;
    const irl = bh * xrh - ir + bh * xrl + bl * xrh + bl * xrl;
    // Sums with their errors.
    const s = rr - ii;
    const sb = s - rr;
    const sl = rr - (s - sb) + (-ii - sb);
    const t = s + c;
    const tb = t - s;
    const tl = s - (t - tb) + (c - tb);
    const u = ri + ir;
    const ub = u - ri;
    const ul = ri - (u - ub) + (ir - ub);
    const nextLr = lr * re - li * im + (rrl - iil + sl + tl) + (fine === undefined ? 0 : (fine[k] as number));
    li = lr * im + li * re + (ril + irl + ul);
    lr = nextLr;
    hr = t;
    hi = u;
  }
  return { re: hr + lr, im: hi + li };
}
