/** Eigenvalues of real matrices, loops that do not touch each other apart, each balanced. */

import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { ordered, quadraticRoots } from './roots.ts';
import type { Complex } from './system.ts';

/** Eigenvalues with conjugate pairs exact; those of parts in cascade come out as those of the parts by themselves. */
export function eigenvalues(matrix: Matrix): Complex[] {
  return eigenvaluesOf(flat(matrix), matrix.rows);
}

/** The same of an n × n matrix given row after row. */
export function eigenvaluesOf(a: Float64Array, n: number): Complex[] {
  const found: Complex[] = [];
  for (const part of cycles(a, n)) {
    const [i = 0, j = 0] = part;
    const at = (row: number, column: number) => a[row * n + column] as number;
    if (part.length === 1) found.push({ re: at(i, i), im: 0 });
    else if (part.length === 2) found.push(...pairOf(at(i, i), at(i, j), at(j, i), at(j, j)));
    else found.push(...valuesOf(a, n, part));
  }
  return ordered(found);
}

/** Eigenvalues of the rows and columns of a matrix that are `part`. */
function valuesOf(whole: Float64Array, size: number, part: readonly number[]): Complex[] {
  const n = part.length;
  const a = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const row = (part[i] as number) * size;
    for (let j = 0; j < n; j++) a[i * n + j] = whole[row + (part[j] as number)] as number;
  }
  balance(a, n, 0);
  const { realEigenvalues, imaginaryEigenvalues } = new EigenvalueDecomposition(Matrix.from1DArray(n, n, a));
  return realEigenvalues.map((re, i) => ({ re, im: imaginaryEigenvalues[i] ?? 0 }));
}

/** Eigenvalues of a 2×2 matrix with nothing lost where they lie close together. */
function pairOf(a: number, b: number, c: number, d: number): Complex[] {
  const half = (a - d) / 2;
  const middle = (a + d) / 2;
  const rest = half * half + b * c;
  if (rest < 0) {
    const im = Math.sqrt(-rest);
    return [
      { re: middle, im },
      { re: middle, im: -im },
    ];
  }
  const root = Math.sqrt(rest);
  const far = middle + (middle < 0 ? -root : root);
  // The other one from the determinant where that is the better of two, as in roots of a quadratic.
  const near = far === 0 ? 0 : middle - (middle < 0 ? -root : root);
  const loses = Math.abs(near) < 1e-3 * Math.abs(far);
  const small = loses ? quadraticRoots(1, -(a + d), a * d - b * c)[1]?.re : undefined;
  return [
    { re: far, im: 0 },
    { re: small ?? near, im: 0 },
  ];
}

/** Sets of states that act on each other in circles (R. E. Tarjan 1972): the diagonal blocks of the matrix in order. */
function cycles(a: Float64Array, n: number): number[][] {
  const index = new Int32Array(n).fill(-1);
  const low = new Int32Array(n);
  const open = new Uint8Array(n);
  const stack: number[] = [];
  const parts: number[][] = [];
  let next = 0;
  const visit = (v: number): void => {
    index[v] = low[v] = next++;
    stack.push(v);
    open[v] = 1;
    for (let w = 0; w < n; w++) {
      if (w === v || a[v * n + w] === 0) continue;
      if (index[w] === -1) {
        visit(w);
        low[v] = Math.min(low[v] ?? 0, low[w] ?? 0);
      } else if (open[w] === 1) low[v] = Math.min(low[v] ?? 0, index[w] ?? 0);
    }
    if (low[v] !== index[v]) return;
    const part: number[] = [];
    for (let w = -1; w !== v; ) {
      w = stack.pop() ?? v;
      open[w] = 0;
      part.push(w);
    }
    parts.push(part.sort((a, b) => a - b));
  };
  for (let v = 0; v < n; v++) if (index[v] === -1) visit(v);
  return parts;
}

/** A matrix row after row. */
export function flat(matrix: Matrix): Float64Array {
  const [rows, columns] = [matrix.rows, matrix.columns];
  const made = new Float64Array(rows * columns);
  for (let i = 0; i < rows; i++) for (let j = 0; j < columns; j++) made[i * columns + j] = matrix.get(i, j);
  return made;
}

/**
 * Scales states by powers of two until rows and columns are of like size (E. E. Osborne 1960), all but the last `fixed`;
 * eigenvalues stay as they are.
 */
export function balance(a: Float64Array, n: number, fixed: number): void {
  for (let round = 0, changed = true; changed && round < 50; round++) {
    changed = false;
    for (let i = 0; i < n - fixed; i++) {
      let row = 0;
      let column = 0;
      for (let j = 0; j < n; j++) {
        if (j === i) continue;
        row += Math.abs(a[i * n + j] as number);
        column += Math.abs(a[j * n + i] as number);
      }
      if (row === 0 || column === 0) continue;
      const factor = 2 ** Math.round(Math.log2(row / column) / 2);
      if (factor === 1 || column * factor + row / factor >= 0.95 * (row + column)) continue;
      changed = true;
      for (let j = 0; j < n; j++) {
        a[i * n + j] = (a[i * n + j] as number) / factor;
        a[j * n + i] = (a[j * n + i] as number) * factor;
      }
    }
  }
}
