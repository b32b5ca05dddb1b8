/** Roots of real polynomials: all at once by Ehrlich and Aberth's iteration, finished in twice the precision. */

import { exactProduct } from './double_double.ts';
import { type Polynomial, trimmed, valueAt } from './polynomial.ts';
import type { Complex } from './system.ts';

/**
 * Newton's step f/f′ at a point into `out[0]` and `out[1]`; `out[2]` is 1 where f is as small there as rounding lets it
 * be, so that the step says nothing.
 */
export type NewtonStep = (re: number, im: number, out: Float64Array) => void;

/**
 * Moves approximations of all roots towards them (L. W. Ehrlich 1967, O. Aberth 1973). Starting points must not all be
 * real, or pairs could not leave the axis. Returns whether all came to rest.
 */
export function ehrlichAberth(re: Float64Array, im: Float64Array, step: NewtonStep, rounds: number): boolean {
  const n = re.length;
  const out = new Float64Array(3);
  const rests = new Uint8Array(n);
  let moving = n;
  for (let round = 0; round < rounds && moving > 0; round++) {
    for (let i = 0; i < n; i++) {
      if (rests[i] === 1) continue;
      const x = re[i] as number;
      const y = im[i] as number;
      step(x, y, out);
      const nr = out[0] as number;
      const ni = out[1] as number;
      let sr = 0;
      let si = 0;
      for (let j = 0; j < n; j++) {
        const dr = x - (re[j] as number);
        const di = y - (im[j] as number);
        const square = dr * dr + di * di;
        if (square === 0) continue;
        sr += dr / square;
        si -= di / square;
      }
      const ar = 1 - (nr * sr - ni * si);
      const ai = -(nr * si + ni * sr);
      const size = ar * ar + ai * ai;
      const settles = out[2] === 1;
      let mr = (nr * ar + ni * ai) / size;
      let mi = (ni * ar - nr * ai) / size;
      if (!Number.isFinite(mr) || !Number.isFinite(mi)) {
        if (settles) {
          mr = 0;
          mi = 0;
        } else {
          // On a saddle: go aside a little and try again.
          mr = 1e-3 * (Math.hypot(x, y) || 1);
          mi = mr / 3;
        }
      }
      if (!settles) {
        re[i] = x - mr;
        im[i] = y - mi;
      }
      if (settles || mr * mr + mi * mi <= 1.4e-32 * (x * x + y * y)) {
        rests[i] = 1;
        moving--;
      }
    }
  }
  return moving === 0;
}

/**
 * Roots in conjugate pairs (the one above first) and real ones, by falling real part; as many as the degree.
 * `fine` is what the coefficients lost by their own rounding, where that is known.
 */
export function roots(coefficients: Polynomial, fine?: Polynomial): Complex[] {
  const whole = trimmed(coefficients);
  let end = whole.length;
  while (end > 1 && whole[end - 1] === 0) end--;
  const atOrigin = Array.from({ length: whole.length - end }, () => ({ re: 0, im: 0 }));
  const start = coefficients.length - whole.length;
  return ordered([...rootsAway(whole.slice(0, end), fine?.slice(start, start + end)), ...atOrigin]);
}

/** Roots of a polynomial whose first and last coefficients are not 0. */
function rootsAway(given: readonly number[], givenFine?: Polynomial): Complex[] {
  const n = given.length - 1;
  if (n < 1) return [];
  const [a = 0, b = 0, c = 0] = given;
  if (n === 1) return [{ re: -b / a, im: 0 }];
  if (n === 2 && givenFine === undefined) return quadraticRoots(a, b, c);
  // x = unit · y with powers of two, so that the coefficients in y are of like size and keep all their bits.
  const last = given[n] ?? 1;
  let shift = Math.round(Math.log2(Math.abs(last / a) || 1) / n);
  let level = Math.round(Math.log2(Math.abs(a)));
  let coefficients = given.map((c, i) => c * 2 ** (-level - shift * i));
  if (!coefficients.every(Number.isFinite) || coefficients.some((c, i) => c === 0 && given[i] !== 0)) {
    shift = 0;
    level = 0;
    coefficients = [...given];
  }
  const unit = 2 ** shift;
  const fine = givenFine?.map((c, i) => c * 2 ** (-level - shift * i));
  const { re, im } = startingPoints(coefficients);
  ehrlichAberth(re, im, plainStep(coefficients), 60);
  ehrlichAberth(re, im, fineStep(coefficients, fine), 90);
  return inPairs(re, im).map((root) => ({ re: root.re * unit, im: root.im * unit }));
}

/** a·x² + b·x + c with a and c not 0. */
export function quadraticRoots(a: number, b: number, c: number): Complex[] {
  const square = exactProduct(b / 2, b / 2);
  const other = exactProduct(a, c);
  const rest = square.hi - other.hi + (square.lo - other.lo);
  if (rest < 0) {
    const re = -b / (2 * a);
    const im = Math.abs(Math.sqrt(-rest) / a);
    return [
      { re, im },
      { re, im: -im },
    ];
  }
  const far = -(b / 2 + Math.sign(b || 1) * Math.sqrt(rest));
  return [
    { re: far / a, im: 0 },
    { re: far === 0 ? 0 : c / far, im: 0 },
  ];
}

/** Circles of starting points from the slopes of the coefficients' sizes (D. A. Bini 1996). */
export function startingPoints(coefficients: Polynomial): { re: Float64Array; im: Float64Array } {
  const n = coefficients.length - 1;
  const re = new Float64Array(n);
  const im = new Float64Array(n);
  const height = coefficients.map((c) => Math.log(Math.abs(c)));
  // Upper convex hull over the powers.
  const hull: number[] = [];
  for (let i = 0; i <= n; i++) {
    if (height[i] === -Infinity) continue;
    const slope = (from: number, to: number) => ((height[to] ?? 0) - (height[from] ?? 0)) / (to - from);
    while (hull.length > 1 && slope(hull.at(-2) ?? 0, hull.at(-1) ?? 0) <= slope(hull.at(-1) ?? 0, i)) hull.pop();
    hull.push(i);
  }
  let k = 0;
  for (let h = 1; h < hull.length; h++) {
    const from = hull[h - 1] ?? 0;
    const to = hull[h] ?? 0;
    const count = to - from;
    const radius = Math.exp(((height[to] ?? 0) - (height[from] ?? 0)) / count);
    for (let j = 0; j < count; j++, k++) {
      const angle = (2 * Math.PI * j) / count + (2 * Math.PI * h) / n + 0.7;
      re[k] = radius * Math.cos(angle);
      im[k] = radius * Math.sin(angle);
    }
  }
  return { re, im };
}

/** Newton's step of a polynomial in plain arithmetic; outside the unit circle in powers of 1/x, so that nothing overflows. */
function plainStep(coefficients: Polynomial): NewtonStep {
  const n = coefficients.length - 1;
  const a = new Float64Array(coefficients);
  const reversed = new Float64Array(coefficients).reverse();
  const margin = 2 ** -52 * (2 * n + 2);
  return (re, im, out) => {
    const square = re * re + im * im;
    const outside = square > 1;
    const c = outside ? reversed : a;
    const x = outside ? re / square : re;
    const y = outside ? -im / square : im;
    const size = Math.sqrt(x * x + y * y);
    let pr = c[0] as number;
    let pi = 0;
    let dr = 0;
    let di = 0;
    let bound = Math.abs(pr);
    for (let i = 1; i <= n; i++) {
      const t = dr * x - di * y + pr;
      di = dr * y + di * x + pi;
      dr = t;
      const u = pr * x - pi * y + (c[i] as number);
      pi = pr * y + pi * x;
      pr = u;
      bound = bound * size + Math.abs(c[i] as number);
    }
    out[2] = Math.sqrt(pr * pr + pi * pi) <= margin * bound ? 1 : 0;
    // f/f′ = p/p′ inside; x·q/(n·q − q′/x) outside, with q in powers of 1/x.
    let fr = pr;
    let fi = pi;
    let gr = dr;
    let gi = di;
    if (outside) {
      fr = pr * re - pi * im;
      fi = pr * im + pi * re;
      gr = n * pr - (dr * x - di * y);
      gi = n * pi - (dr * y + di * x);
    }
    const g = gr * gr + gi * gi;
    out[0] = (fr * gr + fi * gi) / g;
    out[1] = (fi * gr - fr * gi) / g;
  };
}

/** The same with the value in twice the precision. */
function fineStep(coefficients: Polynomial, fine?: Polynomial): NewtonStep {
  const n = coefficients.length - 1;
  const reversed = coefficients.toReversed();
  const fineReversed = fine?.toReversed();
  const slope = (list: Polynomial) => list.slice(0, n).map((c, i) => c * (n - i));
  const slopes = [slope(coefficients), slope(reversed)] as const;
  return (re, im, out) => {
    const square = re * re + im * im;
    const outside = square > 1;
    const x = outside ? re / square : re;
    const y = outside ? -im / square : im;
    const p = outside ? valueAt(reversed, x, y, fineReversed) : valueAt(coefficients, x, y, fine);
    const d = valueAt(slopes[outside ? 1 : 0], x, y);
    out[2] = p.re === 0 && p.im === 0 ? 1 : 0;
    let [fr, fi, gr, gi] = [p.re, p.im, d.re, d.im];
    if (outside) {
      fr = p.re * re - p.im * im;
      fi = p.re * im + p.im * re;
      gr = n * p.re - (d.re * x - d.im * y);
      gi = n * p.im - (d.re * y + d.im * x);
    }
    const g = gr * gr + gi * gi;
    out[0] = g === 0 ? 0 : (fr * gr + fi * gi) / g;
    out[1] = g === 0 ? 0 : (fi * gr - fr * gi) / g;
  };
}

/** Approximations of the roots of a real polynomial as exact conjugate pairs and exactly real ones. */
export function inPairs(re: Float64Array, im: Float64Array): Complex[] {
  pairUp(re, im);
  return Array.from(re, (x, i) => ({ re: x, im: im[i] ?? 0 }));
}

/** The same in place. */
export function pairUp(re: Float64Array, im: Float64Array): void {
  const n = re.length;
  const byHeight: number[] = [];
  for (let i = 0; i < n; i++) byHeight.push(i);
  byHeight.sort((i, j) => Math.abs(im[j] as number) - Math.abs(im[i] as number));
  const taken = new Uint8Array(n);
  for (let a = 0; a < n; a++) {
    const i = byHeight[a] as number;
    if (taken[i] === 1) continue;
    taken[i] = 1;
    const x = re[i] as number;
    const y = im[i] as number;
    let partner = -1;
    let nearest = 2 * Math.abs(y);
    for (let b = a + 1; b < n; b++) {
      const j = byHeight[b] as number;
      if (taken[j] === 1) continue;
      const [across, up] = [x - (re[j] as number), y + (im[j] as number)];
      const apart = Math.sqrt(across * across + up * up);
      if (apart < nearest || (apart === nearest && partner < 0 && y !== 0)) {
        nearest = apart;
        partner = j;
      }
    }
    if (partner < 0) im[i] = 0;
    else {
      taken[partner] = 1;
      const apart = (y - (im[partner] as number)) / 2;
      // Less than a rounding off the axis: two real ones in one place.
      const height = Math.abs(apart) < 2 ** -53 * Math.abs(x) ? 0 : apart;
      re[i] = (x + (re[partner] as number)) / 2;
      re[partner] = re[i] as number;
      im[i] = height;
      im[partner] = -height;
    }
  }
}

/** By falling real part, pairs together with the one above the axis first. */
export function ordered(list: readonly Complex[]): Complex[] {
  return [...list].sort((a, b) => b.re - a.re || Math.abs(b.im) - Math.abs(a.im) || b.im - a.im);
}
