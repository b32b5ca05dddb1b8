/** A state space without the modes on the edge of stability that its input does not reach or its output does not see. */

import { Matrix, SingularValueDecomposition } from 'ml-matrix';
import { withoutDust } from './dust.ts';
import { balance, eigenvalues, flat } from './eigenvalues.ts';
import type { Complex, StateSpace } from './system.ts';

/** Only the states that the inputs reach and the outputs see, by what is exactly 0. */
export function connected(system: StateSpace): StateSpace {
  const { A, B, C } = system;
  const states = Array.from({ length: A.rows }, (_, i) => i);
  const spread = (found: Set<number>, acts: (from: number, on: number) => boolean): ReadonlySet<number> => {
    for (const i of found) for (const j of states) if (acts(i, j)) found.add(j);
    return found;
  };
  const some = (row: readonly number[]): boolean => row.some((entry) => entry !== 0);
  const ahead = spread(new Set(states.filter((i) => some(B.getRow(i)))), (i, j) => A.get(j, i) !== 0);
  const behind = spread(new Set(states.filter((i) => some(C.getColumn(i)))), (i, j) => A.get(i, j) !== 0);
  const kept = states.filter((i) => ahead.has(i) && behind.has(i));
  if (kept.length === 0)
    return { ...system, A: Matrix.zeros(0, 0), B: Matrix.zeros(0, B.columns), C: Matrix.zeros(C.rows, 0) };
  const columns = (matrix: Matrix): number[] => Array.from({ length: matrix.columns }, (_, i) => i);
  const rows = Array.from({ length: C.rows }, (_, i) => i);
  return { ...system, A: A.selection(kept, kept), B: B.selection(kept, columns(B)), C: C.selection(rows, kept) };
}

/** What counts as no influence, of the largest in the balanced system. */
const NOTHING = 1e-10;
/** How far from the edge a mode may lie to be tried. */
const NEAR = 1e-5;

/**
 * Free counters and angles (a wheel's angle of which only differences are read, a bias that nothing changes) are modes at the
 * edge that no loop can move, and would look like poles on it. Each is found as V. Popov, V. Belevitch and M. Hautus do: λ − A together
 * with C (or B) loses rank; what is left is the quotient. Other hidden modes stay: they cancel, and an unstable one must be seen.
 */
export function withoutFree(given: StateSpace): StateSpace {
  let system = scaledStates(given);
  for (let again = true; again; ) {
    again = false;
    for (const value of edgeOf(system)) {
      const unseen = silent(system.A, system.C, value);
      const unreached = unseen === undefined ? silent(system.A.transpose(), system.B.transpose(), value) : undefined;
      const mode = unseen ?? unreached;
      if (mode === undefined) continue;
      system = quotient(system, mode);
      again = true;
      break;
    }
  }
  return system;
}

/** Where modes at the edge may be: at rest itself, and what was computed near the edge. */
function edgeOf({ A, dt }: StateSpace): readonly Complex[] {
  const onEdge = ({ re, im }: Complex): boolean =>
    dt === 0 ? Math.abs(re) < NEAR * Math.max(1, Math.abs(im)) : Math.abs(Math.hypot(re, im) - 1) < NEAR;
  const rest = dt === 0 ? 0 : 1;
  const found = eigenvalues(A).filter((value) => onEdge(value) && value.im >= 0);
  const turning = found.filter(({ im }) => im > NEAR);
  return found.length === 0 ? [] : [{ re: rest, im: 0 }, ...turning];
}

/** Whether λ is an eigenvalue, but for rounding. */
export function hasMode(A: Matrix, value: Complex): boolean {
  return A.rows > 0 && silent(A, Matrix.zeros(0, A.rows), value) !== undefined;
}

/** Orthonormal vectors that `A` turns into λ times themselves and `C` does not see; undefined where there are none. */
function silent(A: Matrix, C: Matrix, { re, im }: Complex): Matrix | undefined {
  const n = A.rows;
  const parts = im === 0 ? 1 : 2;
  const test = Matrix.zeros(Math.max(parts * (n + C.rows), parts * n), parts * n);
  for (let part = 0; part < parts; part++) {
    test.setSubMatrix(Matrix.sub(A, Matrix.mul(Matrix.eye(n), re)), part * n, part * n);
    if (C.rows > 0) test.setSubMatrix(C, parts * n + part * C.rows, part * n);
  }
  if (parts === 2)
    for (let i = 0; i < n; i++) {
      test.set(i, n + i, im);
      test.set(n + i, i, -im);
    }
  const { diagonal, rightSingularVectors } = new SingularValueDecomposition(withoutDust(test));
  const least = diagonal.indexOf(Math.min(...diagonal));
  if ((diagonal[least] ?? 0) > NOTHING * Math.max(...diagonal)) return undefined;
  const vector = rightSingularVectors.getColumn(least);
  const spanned = Array.from({ length: parts }, (_, part) => vector.slice(part * n, (part + 1) * n));
  return new Matrix(spanned).transpose();
}

/** The system without the directions of `mode`, its columns. */
function quotient(system: StateSpace, mode: Matrix): StateSpace {
  const n = system.A.rows;
  const basis: number[][] = [];
  const add = (vector: number[], least: number): void => {
    let left = vector;
    for (let twice = 0; twice < 2; twice++)
      for (const other of basis) {
        const along = other.reduce((sum, value, i) => sum + value * (left[i] ?? 0), 0);
        left = left.map((value, i) => value - along * (other[i] ?? 0));
      }
    const size = Math.hypot(...left);
    if (size > least) basis.push(left.map((value) => value / size));
  };
  for (let j = 0; j < mode.columns; j++) add(mode.getColumn(j), 1e-6);
  const gone = basis.length;
  // The unit vectors least along the mode first, so that what is left stays close to the states as they were.
  const order = Array.from({ length: n }, (_, i) => i).sort((a, b) => along(mode, a) - along(mode, b));
  for (const i of order) if (basis.length < n) add(unit(n, i), 1e-6);
  const rest = new Matrix(basis.slice(gone)).transpose();
  if (rest.columns === 0)
    return {
      ...system,
      A: Matrix.zeros(0, 0),
      B: Matrix.zeros(0, system.B.columns),
      C: Matrix.zeros(system.C.rows, 0),
    };
  const back = rest.transpose();
  return { ...system, A: back.mmul(system.A).mmul(rest), B: back.mmul(system.B), C: system.C.mmul(rest) };
}

function along(mode: Matrix, i: number): number {
  return Math.hypot(...mode.getRow(i));
}

function unit(n: number, i: number): number[] {
  return Array.from({ length: n }, (_, j) => (i === j ? 1 : 0));
}

/** States in units in which rows and columns are of like size. */
function scaledStates(given: StateSpace): StateSpace {
  const { A, B, C } = given;
  const n = A.rows;
  if (n === 0) return given;
  const more = Math.max(B.columns, C.rows);
  const pencil = Matrix.zeros(n + more, n + more);
  pencil.setSubMatrix(A, 0, 0);
  pencil.setSubMatrix(B, 0, n);
  pencil.setSubMatrix(C, n, 0);
  const entries = flat(pencil);
  balance(entries, n + more, more);
  const made = Matrix.from1DArray(n + more, n + more, entries);
  return {
    ...given,
    A: made.subMatrix(0, n - 1, 0, n - 1),
    B: made.subMatrix(0, n - 1, n, n + B.columns - 1),
    C: made.subMatrix(n, n + C.rows - 1, 0, n - 1),
  };
}
