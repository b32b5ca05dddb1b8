/** Systems as gain, zeros and poles: from a transfer function, from a state space, and back to coefficients. */

import type { Matrix } from 'ml-matrix';
import { onBoundary } from './boundary.ts';
import { balance, eigenvalues, eigenvaluesOf } from './eigenvalues.ts';
import { fromRoots, scaled, trimmed } from './polynomial.ts';
import { roots } from './roots.ts';
import type { Complex, Factored, StateSpace, TransferFunction } from './system.ts';

/** Zeros and poles of a transfer function; those that lie exactly on the edge of stability come out exactly there. */
export function factored({ num, den, dt, delay }: TransferFunction): Factored {
  const top = trimmed(num);
  const bottom = trimmed(den);
  return {
    zeros: onBoundary(top, roots(top), dt),
    poles: onBoundary(bottom, roots(bottom), dt),
    gain: (top[0] ?? 0) / (bottom[0] ?? 0),
    dt,
    delay,
  };
}

/** Coefficients in descending powers, the leading one of the denominator 1. */
export function expand({ zeros, poles, gain }: Pick<Factored, 'zeros' | 'poles' | 'gain'>): {
  num: number[];
  den: number[];
} {
  return { num: scaled(fromRoots(zeros), gain), den: fromRoots(poles) };
}

/**
 * Poles, zeros and gain of a state space with one input and one output. Nothing cancels: a mode that the input does not
 * reach or the output does not see is both a pole and a zero. A system whose response is 0 has gain 0 and no zeros.
 */
export function factoredOf({ A, B, C, D, dt }: StateSpace): Factored {
  const n = A.rows;
  const direct = D.get(0, 0);
  if (n === 0) return { zeros: [], poles: [], gain: direct, dt, delay: 0 };
  return { ...zerosOf(A, B, C, direct), poles: eigenvalues(A), dt, delay: 0 };
}

/** [A B; C D] of a system with `n` states, row after row. */
interface Pencil {
  readonly a: Float64Array;
  readonly n: number;
}

/** The pencil of a system, balanced over the states. */
function pencil(A: Matrix, B: Matrix, C: Matrix, direct: number): Pencil {
  const n = A.rows;
  const wide = n + 1;
  const a = new Float64Array(wide * wide);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) a[i * wide + j] = A.get(i, j);
    a[i * wide + n] = B.get(i, 0);
    a[n * wide + i] = C.get(0, i);
  }
  a[n * wide + n] = direct;
  balance(a, wide, 1);
  return { a, n };
}

/**
 * Zeros as eigenvalues after reduction by reflections: while nothing goes straight through, the state that the input
 * drives is taken out, and becomes the input of the rest (A. Emami-Naeini and P. Van Dooren 1982, for one input and output).
 */
function zerosOf(A: Matrix, B: Matrix, C: Matrix, direct: number): { zeros: Complex[]; gain: number } {
  let system = pencil(A, B, C, direct);
  let gain = 1;
  for (;;) {
    const { a, n } = system;
    const wide = n + 1;
    const through = a[n * wide + n] as number;
    let [into, out] = [0, 0];
    for (let i = 0; i < n; i++) {
      into = Math.hypot(into, a[i * wide + n] as number);
      out = Math.hypot(out, a[n * wide + i] as number);
    }
    // What goes straight through counts as nothing where it is rounding of what goes around.
    if (Math.abs(through) > 4 * n * Number.EPSILON * into * out) {
      if (n === 0) return { zeros: [], gain: gain * through };
      const inner = new Float64Array(n * n);
      for (let i = 0; i < n; i++) {
        const share = (a[i * wide + n] as number) / through;
        for (let j = 0; j < n; j++) {
          const around = share === 0 ? 0 : share * (a[n * wide + j] as number);
          inner[i * n + j] = (a[i * wide + j] as number) - around;
        }
      }
      return { zeros: eigenvaluesOf(inner, n), gain: gain * through };
    }
    if (n === 0 || into === 0) return { zeros: [], gain: 0 };
    const { turned, drive } = reflected(system, into);
    gain *= drive;
    system = turned;
  }
}

/** The pencil of what is left when the state driven by the input, of length `size`, becomes the input. */
function reflected({ a, n }: Pencil, size: number): { turned: Pencil; drive: number } {
  const wide = n + 1;
  const v = new Float64Array(n);
  for (let i = 0; i < n; i++) v[i] = a[i * wide + n] as number;
  const first = v.findIndex((value) => value !== 0);
  let drive = v[first] as number;
  if (v.some((value, i) => i !== first && value !== 0)) {
    // Reflection that turns the input onto the state `first`: rows, then columns.
    drive = drive > 0 ? -size : size;
    v[first] = (v[first] as number) - drive;
    const square = v.reduce((total, x) => total + x * x, 0);
    const reflect = (start: number, step: number) => {
      let along = 0;
      for (let i = 0; i < n; i++) along += (v[i] as number) * (a[start + i * step] as number);
      const twice = (2 * along) / square;
      if (twice === 0) return;
      for (let i = 0; i < n; i++) {
        if (v[i] !== 0) a[start + i * step] = (a[start + i * step] as number) - twice * (v[i] as number);
      }
    };
    for (let j = 0; j <= n; j++) reflect(j, wide);
    for (let i = 0; i <= n; i++) reflect(i * wide, 1);
  }
  // Rows: the other states and the output; columns: the other states, then the one driven as the input.
  const made = new Float64Array(n * n);
  let row = 0;
  for (let i = 0; i <= n; i++) {
    if (i === first) continue;
    let column = 0;
    for (let j = 0; j < n; j++) if (j !== first) made[row * n + column++] = a[i * wide + j] as number;
    made[row * n + n - 1] = a[i * wide + first] as number;
    row++;
  }
  return { turned: { a: made, n: n - 1 }, drive };
}
