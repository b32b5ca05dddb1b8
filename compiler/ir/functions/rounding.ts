/** Rounding to the nearest whole number, halves away from zero, in either real type. */

import { Builder } from '../build.ts';
import type { Func, Real } from '../program.ts';
import { arithmetic } from './arithmetic.ts';

/** As C99 `round`: 0.5 gives 1, −0.5 gives −1, −0.3 gives −0; ±∞ and NaN give themselves. */
export function roundHalfAway(real: Real): Func {
  const b = new Builder(`round_half_away_${real}`, [real]);
  const { number, add, sub, le, abs, trunc, select, isNegative } = arithmetic(b, real);
  const whole = trunc(0);
  const away = add(whole, select(isNegative(0), number(-1), number(1)));
  return b.finish(select(le(number(0.5), abs(sub(0, whole))), away, whole));
}
