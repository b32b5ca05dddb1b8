/** Largest errors of the elementary functions against high-precision values (mpmath; see tests/reference/arithmetic). */

import { expect, test } from 'vitest';
import { answer, reals, referenced } from './functions.ts';
import { reference, worst } from './reference.ts';

/**
 * Largest error allowed in units in the last place: what is promised is 1. The tighter bounds are what was measured
 * over 60,000 arguments a function and type, rounded up, so that a change for the worse shows.
 */
const promised: Readonly<Record<(typeof referenced)[number], number>> = {
  sin: 0.8,
  cos: 0.8,
  tan: 0.92,
  asin: 0.85,
  acos: 0.8,
  atan: 0.75,
  atan2: 0.95,
  exp: 0.8,
  log: 0.82,
  pow: 0.8,
  hypot: 0.9,
};

for (const real of reals)
  test.each(referenced)(`%s_${real} is within one unit in the last place`, (name) => {
    const found = reference(name, real);
    expect(found.rows).toBeGreaterThanOrEqual(2000);
    const most = worst((...x) => answer(name, real, ...x), found, real);
    expect(most.error, `at ${most.at.join(', ')}: ${most.got} for ${most.value}`).toBeLessThanOrEqual(promised[name]);
  });

test('the measure itself sees a unit in the last place', () => {
  const found = reference('sin', 'f64');
  const off = worst((x) => answer('sin', 'f64', x) * (1 + 4 * Number.EPSILON), found, 'f64');
  expect(off.error).toBeGreaterThan(3);
  const rounded = worst((...x) => Math.fround(answer('hypot', 'f64', ...x)), reference('hypot', 'f32'), 'f32');
  expect(rounded.error).toBeLessThan(0.51);
});
