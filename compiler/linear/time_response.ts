/** What a system answers to a step, a ramp or an impulse: exact from one point in time to the next. */

import { Matrix } from 'ml-matrix';
import { flowOver } from './exponential.ts';
import { trimmed } from './polynomial.ts';
import type { StateSpace, TransferFunction } from './system.ts';

/** What is put in from t = 0 on: 1, t, or all of 1 at once (in z: in the first sample). */
export type Input = 'step' | 'ramp' | 'impulse';

export interface TimeResponse {
  /** Seconds. */
  readonly t: readonly number[];
  readonly y: readonly number[];
  /** dy/dt at the same times, where the system is one in s. */
  readonly slope?: readonly number[];
}

/** A system in s as a state space in companion form, time counted in units in which its coefficients are of like size. */
export function realised({ num, den, dt }: TransferFunction): StateSpace {
  const bottom = trimmed(den);
  const n = bottom.length - 1;
  const lead = bottom[0] ?? 1;
  const a = bottom.map((c) => c / lead);
  const top = trimmed(num).map((c) => c / lead);
  const b = [...new Array<number>(Math.max(0, n + 1 - top.length)).fill(0), ...top];
  const rates = a.slice(1).map((c, i) => Math.abs(c) ** (1 / (i + 1)));
  const unit = dt === 0 ? 2 ** Math.round(Math.log2(Math.max(...rates, 0) || 1)) : 1;
  const direct = b[0] ?? 0;
  const A = Matrix.zeros(n, n);
  const B = Matrix.zeros(n, 1);
  const C = Matrix.zeros(1, n);
  for (let i = 0; i < n; i++) {
    A.set(0, i, -(a[i + 1] ?? 0) / unit ** i);
    if (i > 0) A.set(i, i - 1, unit);
    C.set(0, i, ((b[i + 1] ?? 0) - direct * (a[i + 1] ?? 0)) / unit ** i);
  }
  if (n > 0) B.set(0, 0, 1);
  return { A, B, C, D: new Matrix([[direct]]), dt };
}

/** The answer of a system at `points` times from 0 to `until`, both ends included; in z at its samples up to `until`. */
export function timeResponse(
  system: TransferFunction | StateSpace,
  input: Input,
  until: number,
  points = 401,
): TimeResponse {
  const delay = 'delay' in system ? system.delay : 0;
  if (system.dt > 0) return sampledResponse(system, input, Math.floor(until / system.dt + 1e-9) + 1, delay);
  const times = Array.from({ length: points }, (_, i) => (until * i) / (points - 1));
  return responseAt(system, input, times, until / (points - 1));
}

/**
 * The answer of a system in s at rising times. An impulse through a system with something going straight through is only
 * what follows it. `step` says that all times but the first are that far apart.
 */
export function responseAt(
  system: TransferFunction | StateSpace,
  input: Input,
  times: readonly number[],
  step?: number,
): TimeResponse {
  const delay = 'delay' in system ? system.delay : 0;
  const { A, B, C, D } = 'A' in system ? system : realised(system);
  const n = A.rows;
  // The input is part of the state: u' = 0 for a step, u' = 1 for a ramp.
  const inputs = input === 'impulse' ? 0 : input === 'step' ? 1 : 2;
  const whole = Matrix.zeros(n + inputs, n + inputs);
  whole.setSubMatrix(A, 0, 0);
  if (inputs > 0 && n > 0) whole.setSubMatrix(B, 0, n);
  if (inputs === 2) whole.set(n, n + 1, 1);
  const out = [...C.to1DArray(), ...[D.get(0, 0), 0].slice(0, inputs)];
  const start = [
    ...(input === 'impulse' ? B.to1DArray() : new Array<number>(n).fill(0)),
    ...[input === 'ramp' ? 0 : 1, 1].slice(0, inputs),
  ];
  const flows = new Map<number, Rows>();
  const flow = (h: number) => {
    const known = flows.get(h);
    if (known !== undefined) return known;
    const made = rowsOf(flowOver(whole, h).over);
    if (flows.size < 8) flows.set(h, made);
    return made;
  };
  // dy/dt is one row too: out · A.
  const rate = Matrix.rowVector(out).mmul(whole).to1DArray();
  const y: number[] = [];
  const slope: number[] = [];
  let state = Float64Array.from(start);
  let at = 0;
  for (const time of times) {
    const here = time - delay;
    if (here < 0) {
      y.push(0);
      slope.push(0);
      continue;
    }
    const gap = here - at;
    // Equal steps are equal to the last bit, however their times are rounded.
    const h = step !== undefined && Math.abs(gap - step) < 1e-9 * step ? step : gap;
    if (h > 0) state = applied(flow(h), state);
    at = here;
    y.push(dot(out, state));
    slope.push(dot(rate, state));
  }
  return { t: times, y, slope };
}

type Rows = readonly Float64Array[];

function rowsOf(matrix: Matrix): Rows {
  return matrix.to2DArray().map((row) => Float64Array.from(row));
}

function applied(rows: Rows, x: ArrayLike<number>): Float64Array<ArrayBuffer> {
  const made = new Float64Array(rows.length);
  for (let i = 0; i < rows.length; i++) made[i] = dot(rows[i] as Float64Array, x);
  return made;
}

function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}

/** What an input is at the samples of a system in z. */
function sampledInput(input: Input, samples: number, dt: number): number[] {
  return Array.from({ length: samples }, (_, k) =>
    input === 'step' ? 1 : input === 'ramp' ? k * dt : k === 0 ? 1 : 0,
  );
}

function sampledResponse(
  system: TransferFunction | StateSpace,
  input: Input,
  samples: number,
  delay: number,
): TimeResponse {
  const u = sampledInput(input, samples, system.dt);
  const y = 'A' in system ? stepped(system, u) : filtered(system, u);
  return { t: u.map((_, k) => k * system.dt + delay), y };
}

/** The answer of a transfer function in z to a list of samples, from rest. */
export function filtered({ num, den }: Pick<TransferFunction, 'num' | 'den'>, u: readonly number[]): number[] {
  const bottom = trimmed(den);
  const n = bottom.length - 1;
  const lead = bottom[0] ?? 1;
  const top = trimmed(num);
  const lag = n - (top.length - 1);
  const y: number[] = [];
  for (let k = 0; k < u.length; k++) {
    let sum = 0;
    for (let i = 0; i < top.length; i++) sum += (top[i] as number) * (u[k - lag - i] ?? 0);
    for (let i = 1; i <= n; i++) sum -= (bottom[i] as number) * (y[k - i] ?? 0);
    y.push(sum / lead);
  }
  return y;
}

function stepped({ A, B, C, D }: StateSpace, u: readonly number[]): number[] {
  const drive = B.to1DArray();
  const out = C.to1DArray();
  const rows = rowsOf(A);
  let state = new Float64Array(A.rows);
  return u.map((value) => {
    const y = dot(out, state) + D.get(0, 0) * value;
    state = applied(rows, state).map((x, i) => x + (drive[i] ?? 0) * value);
    return y;
  });
}
