/** The response of a loop along all frequencies, sampled as finely as it turns. */

import { type EdgePlace, inS, placesOf, sidesOf } from './edge.ts';
import type { Complex, OpenLoop } from './system.ts';

export interface Sample extends Complex {
  /** rad/s. */
  readonly w: number;
}

/** A place where the response passes through infinity: poles on the edge of stability. */
export interface Break {
  readonly w: number;
  /** By which power it grows there: the poles less the zeros. */
  readonly order: number;
}

/** Samples between two breaks, or from 0, or up to the top. */
export type Stretch = readonly Sample[];

export interface Curve {
  readonly stretches: readonly Stretch[];
  /** One between each stretch and the next; before the first where a pole is at 0, after the last where one is at the top. */
  readonly breaks: readonly Break[];
  /** Frequency at which the response ends: infinite in s, half the sampling frequency in z. */
  readonly top: number;
  /** Poles on the edge that are not seen in the response. */
  readonly hidden: number;
}

const PER_DECADE = 20;
const MOST_SAMPLES = 400_000;
/** With dead time, how small the response gets before it is no longer looked at. */
export const SMALLEST = 0.02;

/** Samples the whole upper half of the curve. */
export function curveOf(loop: OpenLoop): Curve {
  const top = loop.dt > 0 ? Math.PI / loop.dt : Number.POSITIVE_INFINITY;
  const { edge } = sidesOf(loop.poles, loop.dt);
  const features = [...loop.poles, ...loop.zeros].flatMap((point) => inS(point, loop.dt) ?? []);
  const places = placesOf(edge, loop.dt, top);
  const breaks: Break[] = [];
  const stretches: Stretch[] = [];
  const approaches = places.map((place) => approach(loop, place, features, top));
  const seen = approaches.filter(({ order }) => order > 0);
  const hidden = approaches.reduce((total, { order, count, w }) => {
    const left = count - Math.max(order, 0);
    return total + (w === 0 || w === top ? left : 2 * left);
  }, 0);
  const grid = frequencies(loop, features, top);
  let from = 0;
  let starts: number[] = [];
  for (const place of [...seen, undefined]) {
    if (place !== undefined) breaks.push({ w: place.w, order: place.order });
    const until = place?.w ?? top;
    const near = place === undefined ? 0 : (place.steps.at(-1) ?? 0);
    const startsAt = from + (starts.at(-1) ?? 0);
    const endsAt = until - near;
    if (until > from) {
      const inner = grid.filter((w) => w > startsAt && w < endsAt);
      const list = [
        ...starts.toReversed().map((step) => from + step),
        ...inner,
        ...(place === undefined ? [] : place.steps.map((step) => until - step)),
      ];
      if (from === 0 && starts.length === 0) list.unshift(0);
      if (place === undefined && Number.isFinite(top)) list.push(top);
      stretches.push(refined(loop, new Float64Array(list).sort()));
    }
    from = until;
    starts = place?.steps ?? [];
  }
  return { stretches, breaks, top, hidden };
}

interface Approach extends EdgePlace {
  readonly order: number;
  /** Distances from the pole, falling. */
  readonly steps: number[];
}

/** How a loop's response grows towards poles on the edge. */
function approach(loop: OpenLoop, place: EdgePlace, features: readonly Complex[], top: number): Approach {
  const others = features
    .map(({ re, im }) => Math.hypot(re, Math.abs(im) - place.w))
    .filter((distance) => distance > Math.max(3 * place.spread, 1e-9 * place.w));
  const room = Math.min(
    ...others,
    Number.isFinite(top) ? top / 2 : Number.POSITIVE_INFINITY,
    place.w || Number.POSITIVE_INFINITY,
  );
  const gap = Number.isFinite(room) ? room : 1;
  const side = place.w === top ? -1 : 1;
  const size = (step: number) => {
    const { re, im } = loop.at(place.w + side * step);
    return Math.hypot(re, im);
  };
  const least = Math.max(1e-9 * place.w, 100 * place.spread);
  let step = Math.max(1e-3 * gap, 2 * least);
  const order = Math.round(Math.log2(size(step / 2) / size(step)));
  const steps: number[] = [gap / 10];
  if (order > 0) {
    for (let i = 0; i < 400 && step / 4 > least && size(step) < 1e6; i++) {
      steps.push(step);
      step /= 4;
    }
  }
  steps.push(step);
  return { ...place, order: Number.isFinite(order) ? order : place.count, steps: steps.sort((a, b) => b - a) };
}

/** Frequencies at which to look first: evenly on a logarithmic scale, and closely about resonances. */
function frequencies(loop: OpenLoop, features: readonly Complex[], top: number): number[] {
  const sizes = features.map(({ re, im }) => Math.hypot(re, im)).filter((size) => size > 0);
  const bounded = Number.isFinite(top) ? [top] : [];
  let low = Math.min(...sizes, ...bounded) / 100;
  let high = Math.min(Math.max(...sizes, ...bounded) * 100, top);
  if (!Number.isFinite(low)) low = 0.01;
  if (!(high > low)) high = Number.isFinite(top) ? top : 100;
  low = outermost(loop, low, 1 / 2);
  if (!Number.isFinite(top)) high = outermost(loop, high, 2);
  if (loop.delay > 0 && !Number.isFinite(top)) high = Math.max(high, (6 * Math.PI) / loop.delay);
  const count = Math.min(4000, Math.ceil(Math.log10(high / low) * PER_DECADE));
  const grid = Array.from({ length: count + 1 }, (_, i) => low * (high / low) ** (i / count));
  for (const { re, im } of features) {
    const width = Math.abs(re);
    if (im <= 0 || width > im) continue;
    grid.push(im);
    for (let step = Math.max(width, 1e-7 * im); step < im / 10; step *= 2) grid.push(im - step, im + step);
  }
  // In z, poles near 0 turn the response evenly along the frequency.
  const even = Number.isFinite(top) ? 4 * (loop.poles.length + 2) : 0;
  for (let i = 1; i < even; i++) grid.push((top * i) / even);
  return grid.filter((w) => w > 0 && w < top);
}

/** A frequency below (`factor` < 1) or above all that happens: where the response is far from 1 and goes on moving away, or stands. */
function outermost(loop: OpenLoop, start: number, factor: number): number {
  const level = (w: number) => {
    const { re, im } = loop.at(w);
    return Math.log(Math.hypot(re, im));
  };
  let w = start;
  for (let i = 0; i < 60; i++) {
    const here = level(w);
    const slope = level(w * factor) - here;
    if (!Number.isFinite(here) || !Number.isFinite(slope)) return w;
    // Far enough when nothing changes any more, or when it moves away and is a thousand times off.
    if (Math.abs(slope) < 1e-3 || (here * slope > 0 && Math.abs(here) > (loop.delay > 0 ? -Math.log(SMALLEST) : 4.6)))
      return w;
    // Straight on in logarithms to where it is that far.
    const target = slope > 0 ? 4.7 : -4.7;
    const halvings = (target - here) / slope;
    w *= factor ** Math.min(Math.max(halvings, 1), 40);
  }
  return w;
}

/** Samples at these frequencies and between them where the response turns or grows too much from one to the next. */
function refined(loop: OpenLoop, list: Float64Array): Sample[] {
  const made: Sample[] = [];
  const pending: Sample[] = [];
  const sample = (w: number): Sample => {
    const { re, im } = loop.at(w);
    return { w, re, im };
  };
  let before = Number.NaN;
  for (const w of list) {
    if (w === before) continue;
    before = w;
    pending.push(sample(w));
    while (pending.length > 0) {
      const next = pending.at(-1);
      const last = made.at(-1);
      if (next === undefined) break;
      if (last !== undefined && made.length < MOST_SAMPLES && turnsMuch(last, next, loop.delay)) {
        const middle = last.w > 0 && next.w > 4 * last.w ? Math.sqrt(last.w * next.w) : (last.w + next.w) / 2;
        if (middle > last.w && middle < next.w && next.w - last.w > 1e-12 * next.w) {
          pending.push(sample(middle));
          continue;
        }
      }
      made.push(next);
      pending.pop();
    }
  }
  return made.filter(({ re, im }) => Number.isFinite(re) && Number.isFinite(im));
}

/** Whether two samples are too far apart, as seen from 0 or from −1, or could be a turn of the dead time apart. */
function turnsMuch(a: Sample, b: Sample, delay: number): boolean {
  if (delay * (b.w - a.w) > 1) return true;
  const moved = (a.re - b.re) ** 2 + (a.im - b.im) ** 2;
  const fromCritical = Math.min((1 + a.re) ** 2 + a.im ** 2, (1 + b.re) ** 2 + b.im ** 2);
  if (moved > 0.2 * fromCritical) return true;
  const sizes = [a.re ** 2 + a.im ** 2, b.re ** 2 + b.im ** 2] as const;
  return moved > 0.25 * Math.min(...sizes) && Math.max(...sizes) > 1e-8;
}
