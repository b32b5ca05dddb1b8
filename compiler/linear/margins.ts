/** How far a loop is from the edge of stability: by gain, by phase, by delay and altogether, and how that was counted. */

import { gainCrossings, largestAlong, phaseCrossings, realEnds } from './crossings.ts';
import { type Curve, curveOf } from './curve.ts';
import { sidesOf } from './edge.ts';
import type { Complex, OpenLoop } from './system.ts';
import { encirclements } from './winding.ts';

/** A largest value and where it is: ω in rad/s, null at infinite frequency. */
export interface Peak {
  readonly value: number;
  readonly w: number | null;
}

export interface Margins {
  /** Every ω in rad/s at which |L| = 1, rising. */
  readonly crossovers: readonly number[];
  /** 180° plus the angle of L at each of them, in (−180, 180]. */
  readonly phaseMargins: readonly number[];
  /** Every ω between 0 and the end at which L is real and negative; with dead time, those with |L| above 0.02. */
  readonly phaseCrossovers: readonly number[];
  /** Factor of the gain at each of them that takes the curve through −1. */
  readonly gainMargins: readonly number[];
  /** Gains around 1 that keep the loop stable, 0 and null where unbounded; null when it is not stable. */
  readonly gainInterval: readonly [low: number, high: number | null] | null;
  /** Seconds of further delay that take it to the edge; 0 when the gain at infinity is 1 or more; null when unbounded or unstable. */
  readonly delayMargin: number | null;
  /** Least distance of the curve from −1. */
  readonly modulusMargin: number;
  /** Largest |1/(1 + L)|; null where 1 + L reaches 0. */
  readonly peakSensitivity: number | null;
  /** Where that is, rad/s; null at infinite frequency. */
  readonly peakSensitivityAt: number | null;
  /** Largest |L/(1 + L)| and where; null where it has none. */
  readonly peakComplementary: number | null;
  readonly peakComplementaryAt: number | null;
  readonly openLoopUnstable: number;
  /** Poles on the edge of stability, left outside the contour. */
  readonly openLoopOnEdge: number;
  /** Of −1, clockwise positive; null where the curve passes through −1 or turns without end. */
  readonly encirclements: number | null;
  readonly closedLoopUnstable: number | null;
  /** Whether the count along the curve and the closed-loop poles say the same; null where there are no poles to ask. */
  readonly countAgrees: boolean | null;
  /** ω at which the curve passes through −1, the loop being exactly on the edge of stability; null where it does not. */
  readonly onEdgeAt: number | null;
}

/** How near to −1 the curve may come before it counts as passing through it. */
const THROUGH = 1e-11;

/** All margins of a loop. */
export function margins(loop: OpenLoop): Margins {
  const curve = curveOf(loop);
  const open = sidesOf(loop.poles, loop.dt);
  const crossovers = gainCrossings(loop, curve);
  const phaseMargins = crossovers.map((w) => phaseMargin(loop.at(w)));
  const phaseCrossovers = phaseCrossings(loop, curve);
  const sensitivity = peakOf(loop, curve, ({ re, im }) => 1 / Math.sqrt((1 + re) * (1 + re) + im * im), {
    atPole: 0,
    atEnd: 1 / Math.abs(1 + loop.direct),
    withDelay: 1 / (1 - Math.abs(loop.direct)),
  });
  const complementary = peakOf(
    loop,
    curve,
    ({ re, im }) => Math.sqrt((re * re + im * im) / ((1 + re) * (1 + re) + im * im)),
    {
      atPole: 1,
      atEnd: Math.abs(loop.direct / (1 + loop.direct)),
      withDelay: Math.abs(loop.direct) / (1 - Math.abs(loop.direct)),
    },
  );
  const through = sensitivity.value > 1 / THROUGH;
  const count = countOf(loop, curve, open.unstable.length, through);
  const isStable = count.closed === 0 && !through;
  return {
    crossovers,
    phaseMargins,
    phaseCrossovers,
    gainMargins: phaseCrossovers.map((w) => -1 / loop.at(w).re),
    gainInterval: isStable ? gainInterval(loop, curve, phaseCrossovers, open.unstable.length, count.byPoles) : null,
    delayMargin: isStable ? delayMargin(loop, crossovers, phaseMargins) : null,
    modulusMargin: through ? 0 : 1 / sensitivity.value,
    peakSensitivity: through ? null : sensitivity.value,
    peakSensitivityAt: sensitivity.w,
    peakComplementary: Number.isFinite(complementary.value) && !through ? complementary.value : null,
    peakComplementaryAt: complementary.w,
    openLoopUnstable: open.unstable.length,
    openLoopOnEdge: open.edge.length,
    encirclements: through || count.closed === null ? null : count.closed - open.unstable.length,
    closedLoopUnstable: count.closed,
    countAgrees: through ? null : count.agrees,
    onEdgeAt: through ? sensitivity.w : null,
  };
}

/** 180° plus the angle of L, in (−180, 180]. */
function phaseMargin({ re, im }: Complex): number {
  const degrees = (Math.atan2(-im, -re) * 180) / Math.PI;
  return degrees === -180 ? 180 : degrees;
}

/** The largest value along the curve or at its ends. */
function peakOf(
  loop: OpenLoop,
  curve: Curve,
  measure: (at: Complex) => number,
  ends: { readonly atPole: number; readonly atEnd: number; readonly withDelay: number },
): Peak {
  const isContinuous = curve.top === Number.POSITIVE_INFINITY;
  const first = curve.stretches[0]?.[0];
  const known: Peak[] = curve.breaks.map(({ w }) => ({ value: ends.atPole, w }));
  if (first?.w === 0) known.push({ value: measure(first), w: 0 });
  const last = curve.stretches.at(-1)?.at(-1);
  if (last !== undefined && last.w === curve.top) known.push({ value: measure(last), w: curve.top });
  if (isContinuous) {
    const endless = loop.delay > 0 && loop.direct !== 0;
    known.push({ value: endless && Math.abs(loop.direct) < 1 ? ends.withDelay : ends.atEnd, w: null });
  }
  let best: Peak = known[0] ?? { value: 0, w: null };
  for (const peak of known) if (peak.value > best.value * (1 + 1e-12)) best = peak;
  const inside = largestAlong(loop, curve, measure);
  return inside !== undefined && inside.value > best.value * (1 + 1e-10) ? inside : best;
}

interface Count {
  readonly closed: number | null;
  readonly agrees: boolean | null;
  /** Whether only the closed-loop poles can say: the curve does not tell the same. */
  readonly byPoles: boolean;
}

/** Closed-loop poles beyond the edge, by the curve and by the poles themselves. */
function countOf(loop: OpenLoop, curve: Curve, open: number, through: boolean): Count {
  const closed = loop.closed(1);
  const around = through ? undefined : encirclements(loop, curve, 1);
  const byCurve = around === undefined ? undefined : open + around;
  if (closed === undefined) return { closed: byCurve ?? null, agrees: null, byPoles: false };
  const byPoles = sidesOf(closed, loop.dt).unstable.length;
  return { closed: byPoles, agrees: byPoles === byCurve, byPoles: byPoles !== byCurve };
}

/** The least further delay: (phase margin within a full turn) / ω. */
function delayMargin(loop: OpenLoop, crossovers: readonly number[], phaseMargins: readonly number[]): number | null {
  if (loop.dt === 0 && Math.abs(loop.direct) >= 1) return 0;
  const delays = crossovers.map((w, i) => {
    const margin = phaseMargins[i] ?? 0;
    return ((margin < 0 ? margin + 360 : margin) * Math.PI) / 180 / w;
  });
  return delays.length === 0 ? null : Math.min(...delays);
}

/** The gains around 1 up to which nothing crosses the edge. */
function gainInterval(
  loop: OpenLoop,
  curve: Curve,
  phaseCrossovers: readonly number[],
  open: number,
  byPoles: boolean,
): [low: number, high: number | null] {
  const values = phaseCrossovers.map((w) => loop.at(w).re);
  values.push(...realEnds(curve).map(({ re }) => re));
  if (loop.dt === 0) values.push(loop.delay > 0 ? -Math.abs(loop.direct) : loop.direct);
  const gains = values.flatMap((value) => (value < 0 ? [-1 / value] : [])).sort((a, b) => a - b);
  const stable = (gain: number) => {
    if (!byPoles) {
      const around = encirclements(loop, curve, gain);
      if (around !== undefined) return open + around === 0;
    }
    const closed = loop.closed(gain);
    return closed !== undefined && sidesOf(closed, loop.dt).unstable.length === 0;
  };
  const above = gains.filter((gain) => gain > 1);
  const below = gains.filter((gain) => gain < 1).reverse();
  // Beyond a gain only touched, all stays stable: look between it and the next.
  const limit = (list: readonly number[], beyondLast: (gain: number) => number) =>
    list.find((gain, i) => {
      const next = list[i + 1];
      if (next !== undefined && Math.abs(next / gain - 1) < 1e-12) return false;
      return !stable(next === undefined ? beyondLast(gain) : Math.sqrt(gain * next));
    });
  const high = limit(above, (gain) => 2 * gain + 1);
  const low = limit(below, (gain) => gain / 2);
  if (!byPoles) return [low ?? 0, high ?? null];
  return [edgeGain(loop, low, below, 0.5) ?? 0, edgeGain(loop, high, above, 2) ?? null];
}

/** Where the closed-loop poles themselves say that stability ends, from 1 in steps of `factor`. */
function edgeGain(
  loop: OpenLoop,
  guess: number | undefined,
  others: readonly number[],
  factor: number,
): number | undefined {
  const stable = (gain: number) => sidesOf(loop.closed(gain) ?? [], loop.dt).unstable.length === 0;
  const steps = [...others, ...Array.from({ length: 20 }, (_, i) => factor ** (i + 1))];
  const way = steps.sort((a, b) => Math.abs(Math.log(a)) - Math.abs(Math.log(b)));
  let inside = 1;
  for (const gain of guess === undefined ? way : [guess * (1 - 1e-9), guess * (1 + 1e-9), ...way]) {
    if (Math.abs(Math.log(gain)) < Math.abs(Math.log(inside))) continue;
    if (stable(gain)) {
      inside = gain;
      continue;
    }
    let outside = gain;
    for (let i = 0; i < 60 && Math.abs(outside / inside - 1) > 1e-12; i++) {
      const middle = Math.sqrt(inside * outside);
      if (stable(middle)) inside = middle;
      else outside = middle;
    }
    return (inside + outside) / 2;
  }
  return undefined;
}
