/** Where the response of a loop crosses the unit circle and the negative real axis, and where it comes nearest to −1. */

import { type Curve, type Sample, SMALLEST, type Stretch } from './curve.ts';
import { smallestBetween, zeroBetween } from './search.ts';
import type { Complex, OpenLoop } from './system.ts';

/** How near a value must come to where it would turn to touch it: what rounding leaves of a value of 1. */
const TOUCHES = 1e-13;

/** Every ω at which |L| = 1, touching included, rising. */
export function gainCrossings(loop: OpenLoop, curve: Curve): number[] {
  const level = ({ re, im }: Complex) => Math.log(re * re + im * im);
  const at = (w: number) => level(loop.at(w));
  const found = curve.stretches.flatMap((stretch) => zerosAlong(stretch, level, at, () => true, true));
  const made: number[] = [];
  for (const w of found.filter((w) => w > 0)) {
    const last = made.at(-1) ?? 0;
    const middle = (last + w) / 2;
    // Two that only rounding tells apart are one that touches.
    if (w - last < 1e-6 * w && Math.abs(at(middle)) < TOUCHES) made[made.length - 1] = turningPoint(at, middle);
    else made.push(w);
  }
  return made;
}

/** Every ω strictly between 0 and the top at which L is real and negative; with dead time, those with |L| above 0.02. */
export function phaseCrossings(loop: OpenLoop, curve: Curve, touching = false): number[] {
  // Angle from the negative real axis, smooth about it; rounding of a real response counts as none.
  const angle = ({ re, im }: Complex) => (Math.abs(im) < 1e-14 * Math.abs(re) ? 0 : Math.atan2(-im, -re));
  const exact = (w: number) => {
    const { re, im } = loop.at(w);
    return Math.atan2(-im, -re);
  };
  const near = ({ re, im }: Complex) => re < 0 && Math.abs(im) < 4 * Math.abs(re);
  const found = curve.stretches.flatMap((stretch) => zerosAlong(stretch, angle, exact, near, touching));
  return found.filter((w) => w > 0 && w < curve.top && (loop.delay === 0 || -loop.at(w).re > SMALLEST));
}

/** Zeros of a function along a stretch, between samples of unlike sign and where it comes close without changing it. */
function zerosAlong(
  stretch: Stretch,
  value: (at: Complex) => number,
  exact: (w: number) => number,
  counts: (at: Complex) => boolean,
  touching: boolean,
): number[] {
  const found: number[] = [];
  const known = stretch.map((sample) => ({ w: sample.w, y: value(sample), counts: counts(sample) }));
  for (let i = 1; i < known.length; i++) {
    const [a, b] = [known[i - 1], known[i]];
    if (a === undefined || b === undefined || !a.counts || !b.counts) continue;
    if (b.y === 0) {
      // A sample that hits it, unless it lies there along a whole piece.
      const next = known[i + 1];
      if (a.y !== 0 && next !== undefined && next.y !== 0 && (touching || a.y > 0 !== next.y > 0)) found.push(b.w);
      continue;
    }
    if (a.y === 0) continue;
    if (a.y > 0 !== b.y > 0) {
      found.push(zeroBetween(exact, a.w, b.w, a.y, b.y));
      continue;
    }
    const next = known[i + 1];
    if (next === undefined || !next.counts || next.y === 0 || next.y > 0 !== b.y > 0) continue;
    found.push(...hidden(exact, a, b, next, touching));
  }
  return found;
}

interface Known {
  readonly w: number;
  readonly y: number;
}

/** Zeros about a sample that is nearer to 0 than its neighbours on the same side. */
function hidden(exact: (w: number) => number, a: Known, b: Known, c: Known, touching: boolean): number[] {
  const size = Math.abs(b.y);
  if (size > Math.abs(a.y) || size > Math.abs(c.y)) return [];
  // It cannot reach 0 where it changes by far less from one sample to the next than it has to go.
  if (size > 2 * Math.max(Math.abs(a.y) - size, Math.abs(c.y) - size) + 1e-9) return [];
  const sign = b.y > 0 ? 1 : -1;
  const { x, value } = smallestBetween((w) => sign * exact(w), a.w, c.w, b.w);
  if (value < -TOUCHES) {
    return [zeroBetween(exact, a.w, x, a.y, sign * value), zeroBetween(exact, x, c.w, sign * value, c.y)];
  }
  return touching && value < TOUCHES ? [turningPoint(exact, x)] : [];
}

/** Where a function turns, near `x`: the top of a parabola wide enough that rounding does not move it. */
function turningPoint(f: (w: number) => number, x: number): number {
  const h = 1e-5 * x;
  const [a, b, c] = [f(x - h), f(x), f(x + h)];
  const bend = a - 2 * b + c;
  return bend === 0 ? x : x + (h * (a - c)) / (2 * bend);
}

/** The samples at 0 and at the top where there are such, which are real; a zero there is one but for rounding. */
export function realEnds(curve: Curve): Sample[] {
  const [first, last] = [curve.stretches[0]?.[0], curve.stretches.at(-1)?.at(-1)];
  const before = curve.stretches.at(-1)?.at(-2);
  const made: Sample[] = [];
  if (first?.w === 0) made.push(first);
  if (last === undefined || last.w !== curve.top) return made;
  const isZero = before !== undefined && Math.abs(last.re) <= 1e-12 * Math.hypot(before.re, before.im);
  return [...made, isZero ? { w: last.w, re: 0, im: 0 } : last];
}

/** A factor of the gain that puts closed-loop poles on the edge of stability, at ω rad/s. */
export interface EdgeCrossing {
  readonly w: number;
  readonly gain: number;
}

/** Every positive factor that puts poles on the edge, rising; poles that pass through infinity are not among them. */
export function edgeCrossings(loop: OpenLoop, curve: Curve): EdgeCrossing[] {
  const inside = phaseCrossings(loop, curve, true).map((w) => ({ w, re: loop.at(w).re }));
  const found = [...inside, ...realEnds(curve)].map(({ w, re }) => ({ w, gain: -1 / re }));
  return found.filter(({ gain }) => gain > 0 && Number.isFinite(gain)).sort((a, b) => a.gain - b.gain);
}

/** The largest value of a function of L over all samples of a curve, sought out between them; undefined where there are none. */
export function largestAlong(
  loop: OpenLoop,
  curve: Curve,
  measure: (at: Complex) => number,
): { w: number; value: number } | undefined {
  let best: { w: number; value: number } | undefined;
  const peaks: [Sample, Sample, Sample, number][] = [];
  for (const stretch of curve.stretches) {
    let [before, here] = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (const [i, sample] of stretch.entries()) {
      const value = measure(sample);
      if (best === undefined || value > best.value) best = { w: sample.w, value };
      const [a, b] = [stretch[i - 2], stretch[i - 1]];
      if (a !== undefined && b !== undefined && here >= before && here >= value) peaks.push([a, b, sample, here]);
      before = here;
      here = value;
    }
  }
  if (best === undefined) return undefined;
  const found = best;
  for (const stretch of curve.stretches) {
    // Between the last samples at either end there is no third one to show a peak.
    for (const [a, b] of [
      [stretch[0], stretch[1]],
      [stretch.at(-2), stretch.at(-1)],
    ]) {
      if (a === undefined || b === undefined || a.w === b.w) continue;
      const inside = [1, 2, 3].map((part) => a.w + ((b.w - a.w) * part) / 4);
      const values = inside.map((w) => measure(loop.at(w)));
      const most = Math.max(...values);
      if (most <= Math.max(measure(a), measure(b))) continue;
      const peak = smallestBetween((w) => -measure(loop.at(w)), a.w, b.w, inside[values.indexOf(most)] ?? a.w);
      if (-peak.value > best.value) best = { w: peak.x, value: -peak.value };
    }
  }
  for (const [a, b, c, value] of peaks) {
    // Samples are close enough that a peak rises little above them.
    if (value < 0.4 * found.value) continue;
    const peak = smallestBetween((w) => -measure(loop.at(w)), a.w, c.w, b.w);
    if (-peak.value > best.value) best = { w: peak.x, value: -peak.value };
  }
  return best;
}
