/** How many roots lie left of, on and right of the edge of stability, counted exactly for the doubles as they are. */

import {
  cauchyIndex,
  type Exact,
  exactOf,
  negativeRoots,
  quotientExact,
  remainders,
  shortened,
} from './exact_polynomial.ts';
import { type Polynomial, trimmed } from './polynomial.ts';
import type { Complex } from './system.ts';

/** Roots inside the stable region, on its edge and outside. */
export interface Counts {
  readonly stable: number;
  readonly edge: number;
  readonly unstable: number;
}

/** Roots in the left half-plane, on the imaginary axis and in the right half-plane (E. J. Routh 1877, A. Hurwitz 1895). */
export function halfPlaneCounts(coefficients: Polynomial): Counts {
  return countHalfPlane(exactOf(trimmed(coefficients)));
}

/** Roots inside, on and outside the unit circle (I. Schur 1918, E. I. Jury 1962). */
export function circleCounts(coefficients: Polynomial): Counts {
  const p = exactOf(trimmed(coefficients));
  const n = p.length - 1;
  // z = (1 + s)/(1 − s) takes the circle's inside to the left half-plane and −1 to infinity.
  let mapped: bigint[] = [];
  let power: Exact = [1n];
  for (const [i, c] of p.entries()) {
    // Horner in z: what there is times (1 + s), plus c·(1 − s)^i.
    mapped = sumExact(
      timesLinear(mapped, 1n, 1n),
      power.map((x) => x * c),
    );
    if (i < n) power = timesLinear(power, -1n, 1n);
  }
  const counts = countHalfPlane(shortened(mapped));
  const atMinusOne = n - (counts.stable + counts.edge + counts.unstable);
  return { ...counts, edge: counts.edge + atMinusOne };
}

function timesLinear(a: Exact, lead: bigint, rest: bigint): bigint[] {
  if (a.length === 0) return [];
  return Array.from({ length: a.length + 1 }, (_, i) => (a[i] ?? 0n) * lead + (a[i - 1] ?? 0n) * rest);
}

function sumExact(a: Exact, b: Exact): bigint[] {
  const length = Math.max(a.length, b.length);
  return Array.from({ length }, (_, i) => (a[i - length + a.length] ?? 0n) + (b[i - length + b.length] ?? 0n));
}

function countHalfPlane(p: Exact): Counts {
  if (p.length < 2) return { stable: 0, edge: 0, unstable: 0 };
  let end = p.length;
  while (p[end - 1] === 0n) end--;
  const atOrigin = p.length - end;
  const away = p.slice(0, end);
  // Every second coefficient: p = even(s²) + s·odd(s²) or the other way about, in x = s².
  const lead = shortened(away.filter((_, i) => i % 2 === 0));
  const other = shortened(away.filter((_, i) => i % 2 === 1));
  // What divides both has its roots in pairs s and −s.
  const common = other.length === 0 ? lead : (remainders(lead, other).at(-1) ?? []);
  const onAxis = 2 * negativeRoots(common);
  const pairs = common.length - 1 - onAxis / 2;
  const rest = quotientExact(away, spread(common));
  const n = rest.length - 1;
  // Turning of rest(jω) from −∞ to ∞: half-turns to the left are roots on the left.
  const turning = turningOf(rest);
  return {
    stable: (n + turning) / 2 + pairs,
    edge: atOrigin + onAxis,
    unstable: (n - turning) / 2 + pairs,
  };
}

/** p(x) as p(s²). */
function spread(a: Exact): Exact {
  return a.flatMap((c, i) => (i === 0 ? [c] : [0n, c]));
}

/** Roots on the left less those on the right, none being on the axis. */
function turningOf(p: Exact): number {
  const n = p.length - 1;
  if (n < 1) return 0;
  // p(jω)/jⁿ = real(ω) + imaginary(ω)/j: signs of every second coefficient turn.
  const real = p.map((c, i) => (i % 2 === 1 ? 0n : i % 4 === 0 ? c : -c));
  const imaginary = shortened(p.map((c, i) => (i % 2 === 0 ? 0n : i % 4 === 1 ? c : -c)));
  return cauchyIndex(real, imaginary);
}

/**
 * First column of Routh's array, up to a positive factor a row; undefined where a pivot or a row is 0.
 */
export function routhColumn(coefficients: Polynomial): number[] | undefined {
  const p = exactOf(trimmed(coefficients));
  let upper: Exact = p.filter((_, i) => i % 2 === 0);
  let lower: Exact = p.filter((_, i) => i % 2 === 1);
  const column = [ratioOf(upper[0] ?? 0n, 1n, p[0] ?? 1n, trimmed(coefficients)[0] ?? 1)];
  // Rows hold whole numbers: the true row times `factor`.
  let factors: [bigint, bigint] = [1n, 1n];
  for (let i = 1; i < p.length; i++) {
    const pivot = lower[0] ?? 0n;
    if (pivot === 0n) return undefined;
    column.push(ratioOf(pivot, factors[1], p[0] ?? 1n, trimmed(coefficients)[0] ?? 1));
    const above = upper[0] ?? 0n;
    const next = Array.from(
      { length: upper.length - 1 },
      (_, j) => pivot * (upper[j + 1] ?? 0n) - above * (lower[j + 1] ?? 0n),
    );
    factors = [factors[1], pivot * factors[0]];
    upper = lower;
    lower = next;
  }
  return column;
}

/** top/bottom in units where `one` is `worth`, as a double. */
function ratioOf(top: bigint, bottom: bigint, one: bigint, worth: number): number {
  const below = bottom * one;
  if (below === 0n) return 0;
  const bits = (x: bigint) => (x < 0n ? -x : x).toString(2).length;
  const shift = 64 + bits(below) - bits(top);
  const scaled = shift >= 0 ? (top << BigInt(shift)) / below : top / (below << BigInt(-shift));
  return Number(scaled) * 2 ** -shift * worth;
}

/** How near the edge a root must be, as a part of its size, for an exact count to be worth its time. */
const NEAR = 1e-5;

/** Distance from the edge of stability, positive outside; in units of the root's size. */
function beyond({ re, im }: Complex, dt: number): number {
  if (dt > 0) return Math.hypot(re, im) - 1;
  const size = Math.hypot(re, im);
  return size === 0 ? 0 : re / size;
}

/** The roots with as many put exactly on the edge of stability as lie there. */
export function onBoundary(coefficients: Polynomial, roots: readonly Complex[], dt: number): Complex[] {
  const near = roots.map((root, i) => ({ i, root, off: Math.abs(beyond(root, dt)) })).filter(({ off }) => off < NEAR);
  if (near.every(({ root }) => dt === 0 && root.re === 0 && root.im === 0)) return [...roots];
  const { edge } = dt === 0 ? halfPlaneCounts(coefficients) : circleCounts(coefficients);
  const made = [...roots];
  const there = near.sort((a, b) => a.off - b.off).slice(0, edge);
  if (dt === 0) {
    for (const { i, root } of there) made[i] = { re: 0, im: root.im };
    return made;
  }
  for (const { i, root } of there) {
    const size = Math.hypot(root.re, root.im);
    made[i] = { re: root.re / size, im: root.im / size };
  }
  for (const real of [1, -1] as const) {
    const apart = ({ root }: { readonly root: Complex }) => Math.hypot(root.re - real, root.im);
    const those = there.toSorted((a, b) => apart(a) - apart(b)).slice(0, multiplicityAt(coefficients, real));
    for (const { i } of those) made[i] = { re: real, im: 0 };
  }
  return made;
}

/** How often 1 or −1 is a root, exactly. */
function multiplicityAt(coefficients: Polynomial, real: 1 | -1): number {
  let rest = exactOf(trimmed(coefficients));
  const point = BigInt(real);
  for (let count = 0; ; count++) {
    const divided: bigint[] = [];
    let carried = 0n;
    for (const c of rest) {
      carried = carried * point + c;
      divided.push(carried);
    }
    if (carried !== 0n || rest.length < 2) return count;
    rest = divided.slice(0, -1);
  }
}
