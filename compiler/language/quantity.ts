/** Numbers as people meet them: durations in whole periods, shortest decimals, values shown in a unit. */

import { ceiling, decimal, divide, multiply, nearestDouble, shortestDecimal } from './rational.ts';
import type { UnitExpression } from './syntax.ts';
import { unitOf } from './units.ts';

/**
 * The fewest whole periods that last at least `duration`, both in seconds and taken as the shortest decimals that read
 * back as them: 0.3 s at 0.1 s is 3, though 0.3 / 0.1 is more in doubles. Not a number where it has no answer.
 */
export function wholePeriods(duration: number, period: number): number {
  if (Number.isNaN(duration) || !(period > 0) || !Number.isFinite(period)) return Number.NaN;
  if (!Number.isFinite(duration)) return duration;
  return Number(ceiling(divide(shortestDecimal(duration), shortestDecimal(period))));
}

/** A double as the shortest decimal that reads back as it; −0 as `-0`. */
export function shortest(value: number): string {
  return Object.is(value, -0) ? '-0' : String(value);
}

/** An `f32` value as the shortest decimal that reads back as it. */
export function shortestSingle(value: number): string {
  if (!Number.isFinite(value) || value === 0) return shortest(value);
  for (let digits = 1; digits <= 9; digits++) {
    const candidate = Number(value.toPrecision(digits));
    if (Math.fround(candidate) === value) return shortest(candidate);
  }
  return shortest(value);
}

/** `text`, a decimal in `unit`, as the nearest SI double: `decimalIn('20', ms)` is 0.02. Undefined if it is none. */
export function decimalIn(text: string, unit: UnitExpression): number | undefined {
  const known = unitOf(unit);
  const exact = decimal(text);
  return 'unknown' in known || exact === undefined ? undefined : nearestDouble(multiply(exact, known.exact));
}

/**
 * An SI value in a unit, as the shortest decimal that reads back as it: 0.17453292519943295 in deg is `10`.
 * An unknown unit leaves the number in SI.
 */
export function shownIn(value: number, unit: UnitExpression): string {
  const known = unitOf(unit);
  if ('unknown' in known || !Number.isFinite(value)) return shortest(value);
  const near = nearestDouble(divide(shortestDecimal(value), known.exact));
  for (let digits = 1; digits <= 17; digits++) {
    const candidate = shortest(Number(near.toPrecision(digits)));
    const exact = decimal(candidate);
    if (exact !== undefined && nearestDouble(multiply(exact, known.exact)) === value) return candidate;
  }
  return shortest(near);
}
