/** One recorded signal, with its least and greatest values by level, so that any stretch of it is drawn at once. */

/** Values that one entry of the next level stands for. */
const FACTOR = 16;

/** A typed array that grows. */
class Growing {
  values: Float32Array<ArrayBuffer> | Float64Array<ArrayBuffer>;
  length = 0;

  constructor(wide: boolean) {
    this.values = wide ? new Float64Array(1024) : new Float32Array(1024);
  }

  push(value: number): void {
    if (this.length === this.values.length) {
      const wide = this.values instanceof Float64Array;
      const larger = wide ? new Float64Array(this.length * 2) : new Float32Array(this.length * 2);
      larger.set(this.values);
      this.values = larger;
    }
    this.values[this.length] = value;
    this.length += 1;
  }

  at(i: number): number {
    return i < this.length ? (this.values[i] ?? Number.NaN) : Number.NaN;
  }
}

interface Level {
  readonly low: Growing;
  readonly high: Growing;
}

/** A stretch of a logic signal: its value from a tick until before another. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly value: number;
}

export class Trace {
  private readonly wide: boolean;
  private readonly values: Growing;
  private readonly levels: Level[] = [];

  /** `wide`: its numbers need 64 bits. */
  constructor(wide: boolean) {
    this.wide = wide;
    this.values = new Growing(wide);
  }

  get length(): number {
    return this.values.length;
  }

  at(tick: number): number {
    return this.values.at(tick);
  }

  push(value: number): void {
    this.values.push(value);
    let size = FACTOR;
    for (let k = 0; this.values.length % size === 0; k++, size *= FACTOR) {
      const [low, high] = this.extremes(this.values.length - size, this.values.length, k);
      let level = this.levels[k];
      if (level === undefined) {
        level = { low: new Growing(this.wide), high: new Growing(this.wide) };
        this.levels.push(level);
      }
      level.low.push(low);
      level.high.push(high);
    }
  }

  /** Least and greatest number from tick `from` until before `to`, by the first `levels` levels; NaN where there is none. */
  extremes(from: number, to: number, levels = this.levels.length): [number, number] {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let i = from; i < to; ) {
      let size = 1;
      let k = -1;
      while (k + 1 < levels && i % (size * FACTOR) === 0 && i + size * FACTOR <= to) {
        size *= FACTOR;
        k += 1;
      }
      const level = this.levels[k];
      const least = level === undefined ? this.values.at(i) : level.low.at(i / size);
      const most = level === undefined ? least : level.high.at(i / size);
      if (least < low) low = least;
      if (most > high) high = most;
      i += size;
    }
    return low > high ? [Number.NaN, Number.NaN] : [low, high];
  }

  /** The stretches of equal value among these ticks; where there are more than `most`, the rest is left out. */
  stretches(from: number, to: number, most: number): Stretch[] {
    const end = Math.min(to, this.length);
    const found: Stretch[] = [];
    for (let i = Math.max(0, from); i < end && found.length < most; ) {
      const value = this.values.at(i);
      const next = this.firstOther(i, end, value);
      found.push({ from: i, to: next, value });
      i = next;
    }
    return found;
  }

  /** The first tick from `from` on whose value is another. */
  private firstOther(from: number, end: number, value: number): number {
    let i = from;
    while (i < end) {
      let [size, k] = [FACTOR, 0];
      let skipped = 0;
      while (i % size === 0 && i + size <= end) {
        const level = this.levels[k];
        if (level === undefined || level.low.at(i / size) !== value || level.high.at(i / size) !== value) break;
        skipped = size;
        size *= FACTOR;
        k += 1;
      }
      if (skipped === 0 && !Object.is(this.values.at(i), value)) return i;
      i += Math.max(1, skipped);
    }
    return end;
  }
}

/** Several traces over the same stretch, at most two points a bucket. */
export interface Drawn {
  /** Ticks. */
  readonly x: Float64Array<ArrayBuffer>;
  /** One a trace, as long as `x`; NaN where a trace has ended. */
  readonly y: readonly Float64Array<ArrayBuffer>[];
}

/** Traces from tick `from` until before `to`: every value where that is at most two a bucket, else the extremes of each bucket. */
export function draw(traces: readonly Trace[], from: number, to: number, buckets: number): Drawn {
  const count = Math.max(0, to - from);
  if (count <= 2 * buckets) {
    const x = Float64Array.from({ length: count }, (_, i) => from + i);
    return { x, y: traces.map((trace) => x.map((tick) => trace.at(tick))) };
  }
  const edge = (i: number) => from + Math.floor((i * count) / buckets);
  const x = new Float64Array(2 * buckets);
  for (let i = 0; i < buckets; i++) {
    x[2 * i] = edge(i);
    x[2 * i + 1] = Math.max(edge(i), edge(i + 1) - 1);
  }
  const y = traces.map((trace) => {
    const points = new Float64Array(2 * buckets);
    let last = trace.at(from);
    for (let i = 0; i < buckets; i++) {
      const [low, high] = trace.extremes(edge(i), Math.min(trace.length, edge(i + 1)));
      const rises = Math.abs(low - last) <= Math.abs(high - last);
      points[2 * i] = rises ? low : high;
      points[2 * i + 1] = rises ? high : low;
      last = rises ? high : low;
    }
    return points;
  });
  return { x, y };
}
