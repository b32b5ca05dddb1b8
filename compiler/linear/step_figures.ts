/** What is read off a step response: how far it overshoots, how fast it rises, when it has settled. */

import { sidesOf } from './edge.ts';
import { zeroBetween } from './search.ts';
import type { Factored } from './system.ts';
import type { TimeResponse } from './time_response.ts';

export interface StepFigures {
  /** Where it comes to rest; null where it does not. */
  readonly final: number | null;
  /** The largest excursion beyond the final value, as a part of it; null without one. */
  readonly overshoot: number | null;
  /** Seconds to the largest value in the direction of the final one. */
  readonly peakTime: number | null;
  /** Seconds from 10 % to 90 % of the final value; null where it does not get there in the time looked at. */
  readonly riseTime: number | null;
  /** Seconds after which it stays within 2 % of the final value; null where it does not within the time looked at. */
  readonly settlingTime: number | null;
}

/** The value a system comes to rest at after a step; null where it does not. */
export function finalValue({ zeros, poles, gain, dt }: Factored): number | null {
  const { edge, unstable } = sidesOf(poles, dt);
  if (edge.length + unstable.length > 0) return null;
  // Π(point − zero)/Π(point − pole) with pairs together, so that it is real; interleaved against overflow.
  const point = dt === 0 ? 0 : 1;
  let value = gain;
  for (let i = 0; i < Math.max(zeros.length, poles.length); i++) {
    const [zero, pole] = [zeros[i], poles[i]];
    if (zero !== undefined) value *= zero.im === 0 ? point - zero.re : Math.hypot(point - zero.re, zero.im);
    if (pole !== undefined) value /= pole.im === 0 ? point - pole.re : Math.hypot(point - pole.re, pole.im);
  }
  return value;
}

/** Figures of a step response; between its times by the cubic through values and slopes, or at its samples in z. */
export function stepFigures(response: TimeResponse, final: number | null): StepFigures {
  const nothing = { final, overshoot: null, peakTime: null, riseTime: null, settlingTime: null };
  if (final === null || final === 0) return nothing;
  const { t } = response;
  const y = response.y.map((value) => value / final);
  const slope = response.slope?.map((value) => value / final);
  const cubic = (i: number) => between(t, y, slope, i);
  let peak = { at: 0, value: 0 };
  for (let i = 0; i < y.length; i++) {
    const value = y[i] ?? 0;
    if (value > peak.value) peak = { at: t[i] ?? 0, value };
    const turns = slope !== undefined && (slope[i - 1] ?? 0) > 0 && (slope[i] ?? 0) < 0;
    if (!turns || slope === undefined) continue;
    const { value: along, rate } = cubic(i);
    const at = zeroBetween(rate, t[i - 1] ?? 0, t[i] ?? 0);
    if (along(at) > peak.value) peak = { at, value: along(at) };
  }
  const first = (level: number): number | null => {
    const i = y.findIndex((value) => value >= level);
    if (i < 1 || slope === undefined) return i < 0 ? null : (t[i] ?? null);
    return zeroBetween((at) => cubic(i).value(at) - level, t[i - 1] ?? 0, t[i] ?? 0);
  };
  const [low, high] = [first(0.1), first(0.9)];
  return {
    final,
    overshoot: Math.max(0, peak.value - 1),
    peakTime: peak.at,
    riseTime: low === null || high === null ? null : high - low,
    settlingTime: settling(t, y, slope),
  };
}

const WITHIN = 0.02;

function settling(t: readonly number[], y: readonly number[], slope: readonly number[] | undefined): number | null {
  const outside = (value: number) => Math.abs(value - 1) - WITHIN;
  let last = -1;
  for (let i = 0; i < y.length; i++) if (outside(y[i] ?? 0) > 0) last = i;
  if (last < 0) return 0;
  if (last === y.length - 1) return null;
  if (slope === undefined) return t[last + 1] ?? null;
  const { value } = between(t, y, slope, last + 1);
  return zeroBetween((at) => outside(value(at)), t[last] ?? 0, t[last + 1] ?? 0);
}

/** The cubic between times `i − 1` and `i`, and its rate. */
function between(t: readonly number[], y: readonly number[], slope: readonly number[] | undefined, i: number) {
  const [a, b] = [t[i - 1] ?? 0, t[i] ?? 0];
  const [ya, yb] = [y[i - 1] ?? 0, y[i] ?? 0];
  const h = b - a;
  const [sa, sb] = [(slope?.[i - 1] ?? (yb - ya) / h) * h, (slope?.[i] ?? (yb - ya) / h) * h];
  const value = (at: number) => {
    const s = (at - a) / h;
    return ya + s * (sa + s * (3 * (yb - ya) - 2 * sa - sb + s * (2 * (ya - yb) + sa + sb)));
  };
  const rate = (at: number) => {
    const s = (at - a) / h;
    return (sa + s * (2 * (3 * (yb - ya) - 2 * sa - sb) + 3 * s * (2 * (ya - yb) + sa + sb))) / h;
  };
  return { value, rate };
}
