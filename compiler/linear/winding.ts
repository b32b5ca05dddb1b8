/** How often the response of a loop goes around the critical point, with poles on the edge of stability left outside. */

import type { Curve, Sample } from './curve.ts';
import type { OpenLoop } from './system.ts';

/**
 * Encirclements of −1 by `factor`·L, clockwise positive (H. Nyquist 1932): closed-loop poles beyond the edge less
 * open-loop ones. Undefined where the curve passes through −1 or does not come to an end.
 */
export function encirclements(loop: OpenLoop, curve: Curve, factor: number): number | undefined {
  const angle = (at: Sample) => Math.atan2(factor * at.im, 1 + factor * at.re);
  let turned = 0;
  let at: number | undefined;
  const passed = [...curve.breaks];
  for (const stretch of curve.stretches) {
    const [first] = stretch;
    if (first === undefined) continue;
    const before = passed[0];
    if (before !== undefined && before.w <= first.w) {
      passed.shift();
      // A half circle on the unstable side, or a quarter of one from the real axis.
      turned +=
        at === undefined
          ? nearest(angle(first), Math.PI, (-before.order * Math.PI) / 2)
          : nearest(angle(first) - at, 2 * Math.PI, -before.order * Math.PI);
    }
    at = angle(first);
    for (let i = 1; i < stretch.length; i++) {
      const [a, b] = [stretch[i - 1], stretch[i]];
      if (a === undefined || b === undefined) break;
      const step = stepBetween(loop, a, b, angle, 0);
      if (step === undefined) return undefined;
      turned += step;
      at = angle(b);
    }
  }
  if (at === undefined) return 0;
  const last = passed[0];
  if (last !== undefined) turned += nearest(-at, Math.PI, (-last.order * Math.PI) / 2);
  else {
    const end = curve.top === Number.POSITIVE_INFINITY ? lastAngle(loop, curve, factor, at) : nearest(-at, Math.PI, 0);
    if (end === undefined) return undefined;
    turned += end;
  }
  const count = -turned / Math.PI;
  return Math.abs(count - Math.round(count)) < 0.05 ? Math.round(count) + 0 : undefined;
}

/** The number that differs from `angle` by whole periods and lies nearest to `wanted`. */
function nearest(angle: number, period: number, wanted: number): number {
  return angle + period * Math.round((wanted - angle) / period);
}

/** Turning between two samples, looked at more closely where it could be more than a half turn. */
function stepBetween(
  loop: OpenLoop,
  a: Sample,
  b: Sample,
  angle: (at: Sample) => number,
  depth: number,
): number | undefined {
  const step = nearest(angle(b) - angle(a), 2 * Math.PI, 0);
  if (Math.abs(step) < 1.2) return step;
  const w = (a.w + b.w) / 2;
  if (depth > 50 || w <= a.w || w >= b.w) return Math.abs(step) < 2.8 ? step : undefined;
  const middle = { w, ...loop.at(w) };
  const first = stepBetween(loop, a, middle, angle, depth + 1);
  const second = stepBetween(loop, middle, b, angle, depth + 1);
  return first === undefined || second === undefined ? undefined : first + second;
}

/** Turning from the last sample to infinity, where only what goes straight through is left. */
function lastAngle(loop: OpenLoop, curve: Curve, factor: number, from: number): number | undefined {
  const last = curve.stretches.at(-1)?.at(-1);
  if (last === undefined) return undefined;
  const angle = (at: Sample) => Math.atan2(factor * at.im, 1 + factor * at.re);
  const through = factor * loop.direct;
  if (loop.delay > 0 && Math.abs(through) >= 1) return undefined;
  let turned = 0;
  let here: Sample = last;
  let at = from;
  const room = loop.delay > 0 ? 1 - Math.abs(through) : Math.abs(1 + through);
  const isFar = (sample: Sample) => {
    if (loop.delay > 0) return factor * Math.hypot(sample.re, sample.im) < 0.9 * room + Math.abs(through);
    return factor * Math.hypot(sample.re - loop.direct, sample.im) < 0.5 * room;
  };
  for (let i = 0; !isFar(here); i++) {
    if (i > 20_000) return undefined;
    const w = loop.delay > 0 ? here.w + 0.5 / loop.delay : here.w * 1.5;
    const next = { w, ...loop.at(w) };
    const step = stepBetween(loop, here, next, angle, 0);
    if (step === undefined) return undefined;
    turned += step;
    here = next;
    at = angle(next);
  }
  return (
    turned +
    (loop.delay > 0 ? nearest(-at, 2 * Math.PI, 0) : nearest((1 + through < 0 ? Math.PI : 0) - at, 2 * Math.PI, 0))
  );
}
