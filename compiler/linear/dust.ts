/** Matrices as the library's singular value decomposition takes them. */

import type { Matrix } from 'ml-matrix';

/** Below this part of the largest entry a number is what underflow has left. */
const DUST = 1e-30;

/**
 * The matrix without entries that are next to nothing beside its largest: ml-matrix 6.15.1 need not come to an end on a matrix that
 * is nearly short of rank and holds numbers near 1e-100.
 */
export function withoutDust(matrix: Matrix): Matrix {
  const made = matrix.clone();
  if (made.isEmpty()) return made;
  const least = DUST * Math.max(made.max(), -made.min());
  for (let i = 0; i < made.rows; i++)
    for (let j = 0; j < made.columns; j++) if (Math.abs(made.get(i, j)) < least) made.set(i, j, 0);
  return made;
}
