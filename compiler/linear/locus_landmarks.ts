/** What draws a root locus by hand: asymptotes, places where branches meet, and angles at which they leave and arrive. */

import { type Double2, double2, multiply2, negated2, product2, sum2 } from './double_double.ts';
import { expand, factored } from './factored.ts';
import { trimmed, valueAt } from './polynomial.ts';
import { quotient } from './response.ts';
import { ordered, roots } from './roots.ts';
import type { Complex, Factored, TransferFunction } from './system.ts';

/** A place where branches meet, and the gain at which they do. */
export interface Breakaway extends Complex {
  readonly gain: number;
}

export interface Asymptotes {
  readonly centroid: number;
  /** Degrees in (−180, 180]. */
  readonly angles: readonly number[];
}

/** Directions in degrees in which branches leave a pole, or arrive at a zero, as the gain rises. */
export interface Directions extends Complex {
  readonly angles: readonly number[];
}

/** Poles or zeros this near each other, as a part of their size, count as one of higher order. */
const TOGETHER = 1e-6;

/** Where the branches that end at infinity go; undefined where none do. */
export function asymptotes({ zeros, poles, gain }: Factored): Asymptotes | undefined {
  const count = poles.length - zeros.length;
  if (count < 1) return undefined;
  const total = (list: readonly Complex[]) => list.reduce((sum, { re }) => sum + re, 0);
  return {
    centroid: (total(poles) - total(zeros)) / count,
    angles: Array.from({ length: count }, (_, i) => turn((gain > 0 ? 180 * (2 * i + 1) : 360 * i) / count)),
  };
}

/** An angle in (−180, 180]. */
function turn(degrees: number): number {
  const within = degrees - 360 * Math.floor(degrees / 360);
  return within > 180 ? within - 360 : within;
}

/** Every place where branches meet at a positive gain: where d(1/L)/ds is 0 (W. R. Evans 1950). */
export function breakaways(system: TransferFunction | Factored): Breakaway[] {
  const { num, den } = 'poles' in system ? expand(system) : system;
  const { zeros, poles } = 'poles' in system ? system : factored(system);
  const [N, D] = [trimmed(num).map(double2), trimmed(den).map(double2)];
  const condition = sum2(product2(N, slope(D)), product2(D, slope(N)).map(negated2));
  const found: Breakaway[] = [];
  const places = roots(
    condition.map(({ hi }) => hi),
    condition.map(({ lo }) => lo),
  );
  for (const at of places) {
    if (several(poles, at) || several(zeros, at)) continue;
    const { re, im } = quotient(valueAt(den, at.re, at.im), valueAt(num, at.re, at.im));
    if (!Number.isFinite(re) || Math.abs(im) > 1e-8 * Math.abs(re) || re >= 0) continue;
    if (found.some((one) => Math.hypot(one.re - at.re, one.im - at.im) <= 1e-7 * Math.hypot(at.re, at.im))) continue;
    found.push({ ...at, gain: -re });
  }
  return found;
}

function slope(p: readonly Double2[]): Double2[] {
  const n = p.length - 1;
  return n < 1 ? [double2(0)] : p.slice(0, n).map((c, i) => multiply2(c, double2(n - i)));
}

/** Whether two or more of a list lie at a point. */
function several(list: readonly Complex[], { re, im }: Complex): boolean {
  const near = TOGETHER * Math.hypot(re, im);
  return list.filter((one) => Math.hypot(one.re - re, one.im - im) <= near).length > 1;
}

/** Angles at which branches leave each pole that lies on or above the real axis. */
export function departures({ zeros, poles, gain }: Factored): Directions[] {
  return directions(poles, zeros, gain > 0 ? 180 : 0);
}

/** Angles at which branches arrive at each zero that lies on or above the real axis. */
export function arrivals({ zeros, poles, gain }: Factored): Directions[] {
  return directions(zeros, poles, gain > 0 ? 180 : 0);
}

function directions(own: readonly Complex[], others: readonly Complex[], base: number): Directions[] {
  const made: Directions[] = [];
  const isHere = (at: Complex, one: Complex) =>
    Math.hypot(one.re - at.re, one.im - at.im) <= TOGETHER * Math.hypot(at.re, at.im);
  for (const at of ordered(own)) {
    if (at.im < 0 || made.some((one) => isHere(at, one))) continue;
    const angleFrom = (one: Complex) => (Math.atan2(at.im - one.im, at.re - one.re) * 180) / Math.PI;
    const order = own.filter((one) => isHere(at, one)).length;
    let sum = base;
    for (const one of others) if (!isHere(at, one)) sum += angleFrom(one);
    for (const one of own) if (!isHere(at, one)) sum -= angleFrom(one);
    made.push({ ...at, angles: Array.from({ length: order }, (_, i) => turn((turn(sum) + 360 * i) / order)) });
  }
  return made;
}
