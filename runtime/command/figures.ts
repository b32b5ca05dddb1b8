/** Numbers as they are printed for people: six digits, and nothing where rounding is all there is. */

import type { Complex } from '../../compiler/linear/system.ts';

export function figures(value: number): string {
  return String(Math.abs(value) < 1e-12 ? 0 : Number(value.toPrecision(6)));
}

export function complexText({ re, im }: Complex): string {
  if (im === 0) return figures(re);
  return `${figures(re)} ${im < 0 ? '−' : '+'} ${figures(Math.abs(im))}j`;
}
