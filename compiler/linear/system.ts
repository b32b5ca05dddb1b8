/** What linear analysis works on: systems in time, s or z, and a loop cut open. */

import type { Matrix } from 'ml-matrix';

export interface Complex {
  readonly re: number;
  readonly im: number;
}

/** A rational transfer function: coefficients in descending powers of s (`dt` 0) or z (`dt` > 0, in seconds). */
export interface TransferFunction {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly dt: number;
  /** Dead time in seconds; in z it is held exactly as exp(−jω·delay). */
  readonly delay: number;
}

/** The same, factored: `gain` · Π(s − zero) / Π(s − pole). */
export interface Factored {
  readonly zeros: readonly Complex[];
  readonly poles: readonly Complex[];
  readonly gain: number;
  readonly dt: number;
  readonly delay: number;
}

/** dx/dt = A x + B u (`dt` 0) or x at the next sample (`dt` > 0, in seconds); y = C x + D u. */
export interface StateSpace {
  readonly A: Matrix;
  readonly B: Matrix;
  readonly C: Matrix;
  readonly D: Matrix;
  readonly dt: number;
}

/** A loop cut open, L: minus what comes back over what is put in, so that −1 is critical. */
export interface OpenLoop {
  /** Seconds; 0 in s. */
  readonly dt: number;
  readonly delay: number;
  /** L at ω rad/s, the delay in it; infinite parts only exactly on a pole. */
  at(w: number): Complex;
  readonly poles: readonly Complex[];
  /** Where L is known to be 0; frequencies near them and near the poles are looked at closely. */
  readonly zeros: readonly Complex[];
  /** L at infinite frequency; 0 in z where it is strictly proper. */
  readonly direct: number;
  /** Poles of the closed loop with L multiplied by `factor`; undefined where a dead time in s makes them infinitely many. */
  closed(factor: number): readonly Complex[] | undefined;
}
