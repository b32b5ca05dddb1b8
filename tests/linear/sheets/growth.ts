/** What rows of a simulation show of growth: by how much its motions are multiplied from row to row. */

import { EigenvalueDecomposition, Matrix, SingularValueDecomposition } from 'ml-matrix';
import { withoutDust } from '../../../compiler/linear/dust.ts';

/** Singular values below this part of the largest are rounding. */
const NOISE = 1e-8;

/**
 * Moduli of the eigenvalues of the map from each row to the next, by least squares on the directions in which there is motion (dynamic
 * mode decomposition: P. J. Schmid, Journal of Fluid Mechanics 656, 2010). Each pair of rows counts at the size of its first.
 */
export function multipliers(rows: readonly Float64Array[]): number[] {
  const width = rows[0]?.length ?? 0;
  const count = rows.length - 1;
  const early = Matrix.zeros(width, count);
  const late = Matrix.zeros(width, count);
  for (let k = 0; k < count; k++) {
    const size = sizeOf(rows[k]);
    const put = (matrix: Matrix, row: Float64Array | undefined): void => {
      for (let i = 0; i < width; i++) matrix.set(i, k, (row?.[i] ?? 0) / size);
    };
    put(early, rows[k]);
    put(late, rows[k + 1]);
  }
  const { diagonal, leftSingularVectors, rightSingularVectors } = new SingularValueDecomposition(withoutDust(early), {
    autoTranspose: true,
  });
  const rank = diagonal.filter((value) => value > NOISE * (diagonal[0] ?? 0)).length;
  const U = leftSingularVectors.subMatrix(0, width - 1, 0, rank - 1);
  const V = rightSingularVectors.subMatrix(0, count - 1, 0, rank - 1);
  const moved = late.mmul(V);
  for (let j = 0; j < rank; j++) moved.mulColumn(j, 1 / (diagonal[j] ?? 1));
  const { realEigenvalues, imaginaryEigenvalues } = new EigenvalueDecomposition(U.transpose().mmul(moved));
  return realEigenvalues.map((re, i) => Math.hypot(re, imaginaryEigenvalues[i] ?? 0));
}

/** Growth of size from row to row, natural logarithm: from the mean of the first third to that of the last. */
export function growthOf(rows: readonly Float64Array[]): number {
  const third = Math.floor(rows.length / 3);
  const mean = (part: readonly Float64Array[]): number =>
    part.reduce((sum, row) => sum + Math.log(sizeOf(row)), 0) / third;
  return (mean(rows.slice(-third)) - mean(rows.slice(0, third))) / (rows.length - third);
}

function sizeOf(row: Float64Array | undefined): number {
  let most = Number.MIN_VALUE;
  for (const value of row ?? []) most = Math.max(most, Math.abs(value));
  return most;
}
