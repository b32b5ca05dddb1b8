/** What the elementary functions know about the two binary formats (IEEE 754-2019, binary32 and binary64). */

import type { Real } from '../program.ts';

/** A format seen through its top word: the pattern itself for f32, the upper half of it for f64. */
export interface Format {
  /** Bits of the fraction that stand in the top word. */
  readonly fraction: number;
  /** Exponent bias: a power of two 2ᵉ has the top word (e + bias) << fraction. */
  readonly bias: number;
  /** Significand bits, the hidden one included. */
  readonly digits: number;
  /** Top words of √½ and √¾, where the logarithms cut. */
  readonly rootHalf: number;
  readonly rootThreeQuarters: number;
  /** Largest finite number, and smallest normal one. */
  readonly largest: number;
  readonly smallest: number;
}

export const formats: Readonly<Record<Real, Format>> = {
  f32: {
    fraction: 23,
    bias: 127,
    digits: 24,
    rootHalf: 0x3f3504f3,
    rootThreeQuarters: 0x3f5db3d7,
    largest: 2 ** 127 * (2 - 2 ** -23),
    smallest: 2 ** -126,
  },
  f64: {
    fraction: 20,
    bias: 1023,
    digits: 53,
    rootHalf: 0x3fe6a09e,
    rootThreeQuarters: 0x3febb67a,
    largest: Number.MAX_VALUE,
    smallest: 2 ** -1022,
  },
};
