/** The exponential of a matrix and its first integral, for systems that go on under held inputs. */

import { Matrix } from 'ml-matrix';

/** Largest norm at which the series is summed; beyond it the step is halved and doubled back. */
const SERIES_NORM = 0.5;
const TERMS = 18;

export interface Flow {
  /** e^(A·h). */
  readonly over: Matrix;
  /** ∫ e^(A·s) ds for s from 0 to h, so that x(h) = over·x(0) + held·(dx/dt of what is held). */
  readonly held: Matrix;
}

/**
 * The flow of dx/dt = A·x + constant over `h` seconds. Only products and sums are taken, so that what does not influence
 * another state keeps an exact 0. (Scaling and squaring with a Taylor series: N. J. Higham, Functions of Matrices, SIAM 2008, §10.)
 */
export function flowOver(A: Matrix, h: number): Flow {
  const n = A.rows;
  if (n === 0) return { over: Matrix.zeros(0, 0), held: Matrix.zeros(0, 0) };
  const norm = h * Math.max(...A.to2DArray().map((row) => row.reduce((sum, x) => sum + Math.abs(x), 0)));
  const halvings = Number.isFinite(norm) ? Math.max(0, Math.ceil(Math.log2(norm / SERIES_NORM))) : 0;
  const step = h / 2 ** halvings;
  const Z = Matrix.mul(A, step);
  const one = Matrix.eye(n);
  // φ(Z) = Σ Zᵏ/(k+1)!, by Horner's rule.
  let phi = one.clone();
  for (let k = TERMS; k >= 1; k--) phi = Matrix.add(one, Matrix.mul(Z.mmul(phi), 1 / (k + 1)));
  let over = Matrix.add(one, Z.mmul(phi));
  for (let i = 0; i < halvings; i++) {
    phi = Matrix.mul(Matrix.add(over, one).mmul(phi), 0.5);
    over = over.mmul(over);
  }
  return { over, held: Matrix.mul(phi, h) };
}
