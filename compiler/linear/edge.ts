/** Which poles count as lying on the edge of stability, and where in frequency they and the others are. */

import type { Complex } from './system.ts';

/** How far from the unit circle a pole still counts as on it: what eigenvalues of a period of many ticks are good for. */
const CIRCLE = 1e-9;
/** The same for the imaginary axis, as a part of the largest pole. */
const AXIS = 1e-14;
/** What rounding does to a matrix or to coefficients, as a part of their size; k poles in one place move by its k-th root. */
const ROUNDING = 1e-13;

export interface Sides {
  readonly edge: readonly Complex[];
  readonly unstable: readonly Complex[];
}

/**
 * Poles on the edge of stability and beyond it. Several in one place count as on the edge when their middle is and they
 * lie no further apart than rounding puts them.
 */
export function sidesOf(poles: readonly Complex[], dt: number): Sides {
  const unit = dt > 0 ? 1 : Math.max(...poles.map(({ re, im }) => Math.hypot(re, im)), 0);
  const tolerance = dt > 0 ? CIRCLE : AXIS * unit;
  const beyond = ({ re, im }: Complex) => (dt > 0 ? Math.hypot(re, im) - 1 : re);
  const edge = new Set(poles.filter((pole) => Math.abs(beyond(pole)) <= tolerance));
  const near = poles.filter((pole) => !edge.has(pole) && Math.abs(beyond(pole)) < 1e-2 * unit);
  for (const pole of near) {
    if (edge.has(pole)) continue;
    const group = [...near].sort((a, b) => apart(a, pole) - apart(b, pole));
    for (let k = 2; k <= group.length; k++) {
      const members = group.slice(0, k);
      const middle = {
        re: members.reduce((total, { re }) => total + re, 0) / k,
        im: members.reduce((total, { im }) => total + im, 0) / k,
      };
      const spread = Math.max(...members.map((member) => apart(member, middle)));
      if (spread > 3 * unit * ROUNDING ** (1 / k)) continue;
      if (Math.abs(beyond(middle)) <= 10 * tolerance) for (const member of members) edge.add(member);
    }
  }
  return { edge: [...edge], unstable: poles.filter((pole) => !edge.has(pole) && beyond(pole) > 0) };
}

function apart(a: Complex, b: Complex): number {
  return Math.hypot(a.re - b.re, a.im - b.im);
}

/** Where a pole or zero is in s: itself, or ln(z)/dt; undefined at z = 0. */
export function inS(point: Complex, dt: number): Complex | undefined {
  if (dt === 0) return point;
  const size = Math.hypot(point.re, point.im);
  if (size === 0) return undefined;
  const level =
    Math.abs(size - 1) < 0.1 ? Math.log1p((point.re - 1) * (point.re + 1) + point.im ** 2) / 2 : Math.log(size);
  return { re: level / dt, im: Math.atan2(point.im, point.re) / dt };
}

/** A place on the edge where poles are: its frequency, and how many. */
export interface EdgePlace {
  readonly w: number;
  readonly count: number;
  /** How far apart the poles of this place lie. */
  readonly spread: number;
}

/** Places at frequencies from 0 up, those nearer than rounding told together. */
export function placesOf(edge: readonly Complex[], dt: number, top: number): EdgePlace[] {
  const frequencies = edge
    .flatMap((pole) => {
      const { im = 0 } = inS(pole, dt) ?? {};
      return [im];
    })
    .sort((a, b) => a - b);
  const unit = Number.isFinite(top) ? top : Math.max(...frequencies.map(Math.abs), 0);
  const places: EdgePlace[] = [];
  for (const [i, w] of frequencies.entries()) {
    const last = places.at(-1);
    const gap = i === 0 ? Number.POSITIVE_INFINITY : w - (frequencies[i - 1] ?? 0);
    if (last !== undefined && gap <= 3e-4 * unit && gap <= 1e-2 * Math.max(Math.abs(w), 3e-2 * unit)) {
      const count = last.count + 1;
      places[places.length - 1] = { w: last.w + (w - last.w) / count, count, spread: last.spread + gap };
    } else places.push({ w, count: 1, spread: 0 });
  }
  // A place and its mirror image: those at 0 and at the top are their own.
  return places
    .map((place) => {
      if (Math.abs(place.w) <= Math.max(2 * place.spread, 1e-9 * unit)) return { ...place, w: 0 };
      if (Number.isFinite(top) && Math.abs(Math.abs(place.w) - top) <= 1e-6 * top) return { ...place, w: top };
      return place;
    })
    .filter(({ w }) => w >= 0);
}
