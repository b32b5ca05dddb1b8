/** Cases computed elsewhere: difficult arguments of the elementary functions, and rounding to single precision. */

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { operation } from '../../compiler/ir/operations.ts';
import type { Real } from '../../compiler/ir/program.ts';
import { answer, reals } from './functions.ts';
import { place, referenceFolder } from './reference.ts';

interface Case {
  readonly id: string;
  readonly function: string;
  /** Patterns of the arguments, then that of the correctly rounded result. */
  readonly f32: readonly (readonly string[])[];
  readonly f64: readonly (readonly string[])[];
}

const cases = JSON.parse(readFileSync(new URL('libm_cases.json', referenceFolder), 'utf8')) as {
  readonly source: string;
  readonly libm: readonly Case[];
  readonly round_f32: readonly (readonly [x: string, rounded: string])[];
};

function number(pattern: string, real: Real): number {
  const view = new DataView(new ArrayBuffer(8));
  if (real === 'f32') view.setUint32(0, Number(pattern));
  else view.setBigUint64(0, BigInt(pattern));
  return real === 'f32' ? view.getFloat32(0) : view.getFloat64(0);
}

for (const real of reals)
  test.each(cases.libm)(`$id in ${real}`, (one) => {
    expect(one[real].length).toBeGreaterThan(0);
    for (const row of one[real]) {
      const x = row.slice(0, -1).map((pattern) => number(pattern, real));
      const wanted = number(row.at(-1) ?? '', real);
      const got = one.function === 'sqrt' ? operation(`sqrt_${real}`).evaluate(...x) : answer(one.function, real, ...x);
      if (Number.isNaN(wanted) || !Number.isFinite(wanted) || wanted === 0) expect(got, `at ${x}`).toBe(wanted);
      else expect(Math.abs(Number(place(got, real) - place(wanted, real))), `at ${x}`).toBeLessThanOrEqual(1);
    }
  });

test('f32_from_f64 rounds to nearest even', () => {
  expect(cases.round_f32.length).toBeGreaterThan(10);
  for (const [x, rounded] of cases.round_f32)
    expect(operation('f32_from_f64').evaluate(number(x, 'f64'))).toBe(number(rounded, 'f32'));
});
