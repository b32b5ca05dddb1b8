/** Discrete equivalents of systems in s, in twice the precision so that nothing is lost on the way. */

import type { Found } from '../findings.ts';
import { add2, type Double2, divide2, double2, multiply2, negated2, product2, sum2, value2 } from './double_double.ts';
import { trimmed } from './polynomial.ts';
import type { TransferFunction } from './system.ts';
import { checkTransfer, transferFinding } from './transfer_check.ts';

/** How a system in s is made to answer once a sample. */
export type Method = 'tustin' | 'zoh' | 'forward' | 'backward';
export const methods: readonly Method[] = ['tustin', 'zoh', 'forward', 'backward'];

/** How much smaller than its parts a leading coefficient must be to count as 0. */
const VANISHES = 1e-13;

/**
 * The discrete equivalent with samples `dt` seconds apart: descending powers of z, leading denominator 1, numerator as
 * long as the denominator. `prewarp` is a frequency in rad/s at which Tustin's is exact.
 */
export function discretise(
  system: TransferFunction,
  dt: number,
  method: Method,
  prewarp?: number,
): Found<TransferFunction> {
  const findings = checkTransfer(system);
  if (findings.length > 0) return { value: undefined, findings };
  if (system.dt > 0) return none('discrete_not_continuous');
  if (!(dt > 0) || !Number.isFinite(dt)) return none('discrete_bad_step', { given: `${dt}` }, 'dt');
  const num = trimmed(system.num).map(double2);
  const den = trimmed(system.den).map(double2);
  if (method === 'zoh') return held(num, den, dt, system.delay);
  let rate = divide2(double2(method === 'tustin' ? 2 : 1), double2(dt));
  if (method === 'tustin' && prewarp !== undefined) {
    const half = (prewarp * dt) / 2;
    if (!(half > 0) || !(half < Math.PI / 2)) {
      return none('discrete_bad_prewarp', { given: `${prewarp}`, most: (Math.PI / dt).toPrecision(6) }, 'prewarp');
    }
    rate = double2(prewarp / Math.tan(half));
  }
  const top = [rate, negated2(rate)];
  const bottom = { tustin: [ONE, ONE], forward: [ONE], backward: [ONE, ZERO] }[method];
  const n = den.length - 1;
  const lower = substituted(den, top, bottom, n);
  const upper = substituted(num, top, bottom, n);
  if (Math.abs(value2(lower[0] ?? ZERO)) <= VANISHES * Math.max(...lower.map((c) => Math.abs(value2(c))))) {
    return none('discrete_pole_at_infinity', { at: value2(rate).toPrecision(6) }, 'den');
  }
  return made(upper, lower, dt, system.delay);
}

function none(id: string, facts: Readonly<Record<string, string>> = {}, path = ''): Found<TransferFunction> {
  return { value: undefined, findings: [transferFinding(id, facts, path)] };
}

const ZERO = double2(0);
const ONE = double2(1);

/** p(top/bottom)·bottomⁿ, by Horner's rule. */
function substituted(p: readonly Double2[], top: readonly Double2[], bottom: readonly Double2[], n: number): Double2[] {
  let value: Double2[] = [];
  let power: Double2[] = [ONE];
  for (const c of p) {
    const added = power.map((x) => multiply2(x, c));
    value = value.length === 0 ? added : sum2(product2(value, top), added);
    power = product2(power, bottom);
  }
  for (let i = p.length - 1; i < n; i++) value = product2(value, bottom);
  return value;
}

/** Divided by the leading coefficient, the numerator filled up with zeros. */
function made(num: readonly Double2[], den: readonly Double2[], dt: number, delay: number): Found<TransferFunction> {
  const lead = den[0] ?? ONE;
  const over = (list: readonly Double2[]) => list.map((c) => value2(divide2(c, lead)) + 0);
  const filled = [...new Array<number>(Math.max(0, den.length - num.length)).fill(0), ...over(num)];
  const value = { num: filled, den: [1, ...over(den).slice(1)], dt, delay };
  if (![...value.num, ...value.den].every(Number.isFinite)) return none('discrete_beyond_numbers', {}, 'dt');
  return { value, findings: [] };
}

type Square = readonly (readonly Double2[])[];

/** Exact for inputs held from sample to sample: the flow of a companion matrix over one of them. */
function held(num: readonly Double2[], den: readonly Double2[], dt: number, delay: number): Found<TransferFunction> {
  const n = den.length - 1;
  const lead = den[0] ?? ONE;
  const a = den.map((c) => divide2(c, lead));
  const filled = [...new Array<Double2>(n + 1 - num.length).fill(ZERO), ...num];
  const b = filled.map((c) => divide2(c, lead));
  const direct = b[0] ?? ZERO;
  // Time in units in which no coefficient is above 1: s = unit·p.
  const rates = a.slice(1).map((c, i) => Math.abs(value2(c)) ** (1 / (i + 1)));
  const unit = 2 ** Math.ceil(Math.log2(Math.max(...rates, 0) || 1));
  const scale = a.map((_, i) => unit ** i);
  const row = a.map((c, i) => divide2(c, double2(scale[i] ?? 1)));
  const out = b.map((c, i) => divide2(add2(c, negated2(multiply2(direct, a[i] ?? ZERO))), double2(scale[i] ?? 1)));
  // States and the held input: [A B; 0 0].
  const flow = Array.from({ length: n + 1 }, (_, i) =>
    Array.from({ length: n + 1 }, (_, j) => {
      if (i === 0) return j < n ? negated2(row[j + 1] ?? ZERO) : ONE;
      return i < n && j === i - 1 ? ONE : ZERO;
    }),
  );
  const over = exponential(flow, unit * dt);
  if (over === undefined) return none('discrete_beyond_numbers', {}, 'dt');
  const A = over.slice(0, n).map((line) => line.slice(0, n));
  const B = over.slice(0, n).map((line) => line[n] ?? ZERO);
  const { den: lower, num: around } = coefficientsOf(A, B, out.slice(1));
  const upper = lower.map((c, i) => add2(multiply2(direct, c), around[i] ?? ZERO));
  return made(upper, lower, dt, delay);
}

/** e^(M·t) by a series on a halved step, squared back; undefined where it leaves all numbers. */
function exponential(matrix: Square, t: number): Square | undefined {
  const size = t * Math.max(...matrix.map((row) => row.reduce((total, x) => total + Math.abs(value2(x)), 0)));
  if (!Number.isFinite(size)) return undefined;
  const halvings = Math.max(0, Math.ceil(Math.log2(size / 0.25)));
  const step = double2(t / 2 ** halvings);
  const Z = matrix.map((row) => row.map((x) => multiply2(x, step)));
  const one = matrix.map((row, i) => row.map((_, j) => (i === j ? ONE : ZERO)));
  let made: Square = one;
  for (let k = 22; k >= 1; k--) {
    const next = times(Z, made);
    made = one.map((row, i) => row.map((x, j) => add2(x, divide2(next[i]?.[j] ?? ZERO, double2(k)))));
  }
  for (let i = 0; i < halvings; i++) made = times(made, made);
  return made.every((row) => row.every((x) => Number.isFinite(value2(x)))) ? made : undefined;
}

function times(a: Square, b: Square): Square {
  return a.map((row) =>
    row.map((_, j) =>
      row.reduce((total, x, k) => {
        const y = b[k]?.[j] ?? ZERO;
        return x.hi === 0 || y.hi === 0 ? total : add2(total, multiply2(x, y));
      }, ZERO),
    ),
  );
}

/** det(zI − A) and C·adj(zI − A)·B in descending powers of z (U. Le Verrier, D. K. Faddeev). */
function coefficientsOf(A: Square, B: readonly Double2[], C: readonly Double2[]): { den: Double2[]; num: Double2[] } {
  const n = A.length;
  const den: Double2[] = [ONE];
  const num: Double2[] = [ZERO];
  let M: Square = A.map((row, i) => row.map((_, j) => (i === j ? ONE : ZERO)));
  for (let k = 1; k <= n; k++) {
    num.push(
      M.reduce((total, row, i) => {
        const inner = row.reduce((sum, x, j) => add2(sum, multiply2(x, B[j] ?? ZERO)), ZERO);
        return add2(total, multiply2(C[i] ?? ZERO, inner));
      }, ZERO),
    );
    const AM = times(A, M);
    const trace = AM.reduce((total, row, i) => add2(total, row[i] ?? ZERO), ZERO);
    const c = negated2(divide2(trace, double2(k)));
    den.push(c);
    M = AM.map((row, i) => row.map((x, j) => (i === j ? add2(x, c) : x)));
  }
  return { den, num };
}
