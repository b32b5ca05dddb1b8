/** One recorded signal, with its least and greatest values by level, so that any stretch of it is drawn at once. */

/** Values that one entry of the next level stands for. */
const FACTOR = 16;

/** Entries that are always kept finely. */
const LEAST = 4096;

/** A typed array that grows at its end, and can let go of its beginning. */
class Growing {
  private values: Float32Array<ArrayBuffer> | Float64Array<ArrayBuffer>;
  /** Entries ever pushed. */
  length = 0;
  /** The first entry that is still there. */
  start = 0;

  constructor(wide: boolean) {
    this.values = wide ? new Float64Array(1024) : new Float32Array(1024);
  }

  get bytes(): number {
    return this.values.byteLength;
  }

  push(value: number): void {
    const held = this.length - this.start;
    if (held === this.values.length) this.resize(held * 2);
    this.values[held] = value;
    this.length += 1;
  }

  at(i: number): number {
    return i < this.length ? (this.values[i - this.start] ?? Number.NaN) : Number.NaN;
  }

  /** Lets go of the older half, as far as whole entries of the next level stand for it. */
  halve(): void {
    const held = this.length - this.start;
    if (held < 2 * LEAST) return;
    const drop = Math.floor(held / 2 / FACTOR) * FACTOR;
    this.values.copyWithin(0, drop, held);
    this.start += drop;
    this.resize(Math.max(1024, Math.ceil((held - drop) * 1.25)));
  }

  private resize(size: number): void {
    const wide = this.values instanceof Float64Array;
    const other = wide ? new Float64Array(size) : new Float32Array(size);
    other.set(this.values.subarray(0, Math.min(size, this.length - this.start)));
    this.values = other;
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

  /** Bytes it takes. */
  get bytes(): number {
    return this.levels.reduce((sum, { low, high }) => sum + low.bytes + high.bytes, this.values.bytes);
  }

  /** Its value at a tick; where it is kept coarsely, the least and the greatest of the ticks around in turn. */
  at(tick: number): number {
    if (tick >= this.values.start) return this.values.at(tick);
    const [low, high] = this.ends(0, Math.floor(tick / FACTOR));
    return tick % FACTOR < FACTOR / 2 ? low : high;
  }

  /** Keeps its older half coarsely; the tick before which it is so. */
  thin(): number {
    this.values.halve();
    for (const { low, high } of this.levels) {
      low.halve();
      high.halve();
    }
    return this.values.start;
  }

  /** Least and greatest of an entry of a level, of the next coarser one that is still there. */
  private ends(level: number, i: number): [number, number] {
    const here = this.levels[level];
    if (here === undefined) return [Number.NaN, Number.NaN];
    if (i < here.low.start) return this.ends(level + 1, Math.floor(i / FACTOR));
    return [here.low.at(i), here.high.at(i)];
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
      const [least, most] = k < 0 ? [this.at(i), this.at(i)] : this.ends(k, i / size);
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
      const value = this.at(i);
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
        const [low, high] = this.ends(k, i / size);
        if (low !== value || high !== value) break;
        skipped = size;
        size *= FACTOR;
        k += 1;
      }
      if (skipped === 0 && !Object.is(this.at(i), value)) return i;
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
