/** How far a discrete equivalent is from the continuous design, frequency by frequency. */

import { quotient, response } from './response.ts';
import type { Complex, TransferFunction } from './system.ts';

export interface ComparedAt {
  /** ω in rad/s. */
  readonly w: number;
  readonly design: Complex;
  readonly discrete: Complex;
  /** Gain of the equivalent over that of the design; null where the design's is 0 or either is infinite. */
  readonly gain: number | null;
  /** Phase of the equivalent less that of the design, in degrees, in (−180, 180]; null likewise. */
  readonly phase: number | null;
}

/** Both responses at each frequency. Holding its output costs a loop another half sample that no equivalent has in it, but for `zoh`. */
export function compareAt(
  design: TransferFunction,
  discrete: TransferFunction,
  frequencies: readonly number[],
): readonly ComparedAt[] {
  return frequencies.map((w) => {
    const both = { w, design: response(design, w), discrete: response(discrete, w) };
    const ratio = quotient(both.discrete, both.design);
    const gain = Math.hypot(ratio.re, ratio.im);
    if (!Number.isFinite(gain) || gain === 0) return { ...both, gain: null, phase: null };
    return { ...both, gain, phase: (Math.atan2(ratio.im, ratio.re) * 180) / Math.PI };
  });
}
