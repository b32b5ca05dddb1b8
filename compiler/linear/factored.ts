/** Systems as gain, zeros and poles: from a transfer function, from a state space, and back to coefficients. */

import { Matrix } from 'ml-matrix';
import { onBoundary } from './boundary.ts';
import { balanced, eigenvalues } from './eigenvalues.ts';
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

/** Where the states of a system with `n` states stand in its pencil: [A B; C D], balanced over the states. */
function pencil(A: Matrix, B: Matrix, C: Matrix, direct: number): Matrix {
  const n = A.rows;
  const made = Matrix.zeros(n + 1, n + 1);
  made.setSubMatrix(A, 0, 0);
  made.setSubMatrix(B, 0, n);
  made.setSubMatrix(C, n, 0);
  made.set(n, n, direct);
  return balanced(made, 1);
}

/**
 * Zeros as eigenvalues after reduction by reflections: while nothing goes straight through, the state that the input
 * drives is taken out, and becomes the input of the rest (A. Emami-Naeini and P. Van Dooren 1982, for one input and output).
 */
function zerosOf(A: Matrix, B: Matrix, C: Matrix, direct: number): { zeros: Complex[]; gain: number } {
  let system = pencil(A, B, C, direct);
  let gain = 1;
  for (;;) {
    const n = system.rows - 1;
    const through = system.get(n, n);
    const input = Array.from({ length: n }, (_, i) => system.get(i, n));
    const output = Array.from({ length: n }, (_, j) => system.get(n, j));
    const size = norm(input);
    // What goes straight through counts as nothing where it is rounding of what goes around.
    if (Math.abs(through) > 4 * n * Number.EPSILON * size * norm(output)) {
      if (n === 0) return { zeros: [], gain: gain * through };
      const inner = system.subMatrix(0, n - 1, 0, n - 1);
      for (let i = 0; i < n; i++) {
        const share = (input[i] ?? 0) / through;
        if (share === 0) continue;
        for (let j = 0; j < n; j++) inner.set(i, j, inner.get(i, j) - share * (output[j] ?? 0));
      }
      return { zeros: eigenvalues(inner), gain: gain * through };
    }
    if (n === 0 || size === 0) return { zeros: [], gain: 0 };
    const { turned, drive } = reflected(system, input, size);
    gain *= drive;
    system = turned;
  }
}

/** The pencil of what is left when the state driven by the input becomes the input. */
function reflected(system: Matrix, input: readonly number[], size: number): { turned: Matrix; drive: number } {
  const n = input.length;
  const inputs = input.flatMap((value, i) => (value === 0 ? [] : [i]));
  const made = system.clone();
  const first = inputs[0] ?? 0;
  let drive = input[first] ?? 0;
  if (inputs.length > 1) {
    // Reflection that turns the input onto the state `first`.
    const v = [...input];
    drive = (v[first] ?? 0) > 0 ? -size : size;
    v[first] = (v[first] ?? 0) - drive;
    const square = v.reduce((total, x) => total + x * x, 0);
    const reflect = (get: (i: number) => number, set: (i: number, x: number) => void) => {
      let along = 0;
      for (let i = 0; i < n; i++) along += (v[i] ?? 0) * get(i);
      const twice = (2 * along) / square;
      if (twice === 0) return;
      for (let i = 0; i < n; i++) if (v[i] !== 0) set(i, get(i) - twice * (v[i] ?? 0));
    };
    for (let j = 0; j <= n; j++) {
      reflect(
        (i) => made.get(i, j),
        (i, x) => made.set(i, j, x),
      );
    }
    for (let i = 0; i <= n; i++) {
      reflect(
        (j) => made.get(i, j),
        (j, x) => made.set(i, j, x),
      );
    }
  }
  const rest = Array.from({ length: n }, (_, i) => i).filter((i) => i !== first);
  // Rows: the other states and the output; columns: the other states, then the one driven as the input.
  return { turned: made.selection([...rest, n], [...rest, first]), drive };
}

function norm(list: readonly number[]): number {
  return Math.hypot(...list);
}
