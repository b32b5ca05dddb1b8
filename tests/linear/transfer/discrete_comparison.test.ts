/** A discrete equivalent beside its design: where they agree, and by how much they differ elsewhere. */

import { expect, test } from 'vitest';
import { compareAt } from '../../../compiler/linear/discrete_comparison.ts';
import { discretise } from '../../../compiler/linear/discretise.ts';

const lag = { num: [1], den: [0.1, 1], dt: 0, delay: 0 };
const T = 0.05;
const equivalent = (method: 'tustin' | 'zoh' | 'forward' | 'backward', prewarp?: number) => {
  const { value } = discretise(lag, T, method, prewarp);
  if (value === undefined) throw new Error(method);
  return value;
};

test('prewarped, the trapezoidal rule is exact at its frequency', () => {
  const [there, beside] = compareAt(lag, equivalent('tustin', 20), [20, 30]);
  expect(Math.abs((there?.gain ?? 0) - 1)).toBeLessThan(1e-12);
  expect(Math.abs(there?.phase ?? 1)).toBeLessThan(1e-10);
  expect(Math.abs((beside?.gain ?? 1) - 1)).toBeGreaterThan(1e-3);
});

test('unwarped, it answers at ω as the design does at (2/T)·tan(ωT/2) (Tustin 1947; any textbook on sampled control)', () => {
  const w = 25;
  const [found] = compareAt(lag, equivalent('tustin'), [w]);
  const at = (x: number) => ({ gain: 1 / Math.hypot(1, 0.1 * x), phase: -Math.atan(0.1 * x) });
  const [warped, straight] = [at((2 / T) * Math.tan((w * T) / 2)), at(w)];
  expect(Math.abs((found?.gain ?? 0) - warped.gain / straight.gain)).toBeLessThan(1e-12);
  expect(Math.abs((found?.phase ?? 0) - ((warped.phase - straight.phase) * 180) / Math.PI)).toBeLessThan(1e-9);
});

test('a held equivalent of a lag is late by T/(1 − e^(−T/τ)) − τ at low frequency, about half a sample', () => {
  const w = 0.01;
  const late = T / (1 - Math.exp(-T / 0.1)) - 0.1;
  const [found] = compareAt(lag, equivalent('zoh'), [w]);
  expect(Math.abs((found?.phase ?? 0) + w * late * (180 / Math.PI))).toBeLessThan(1e-7);
});

test('where the design lets nothing through there is nothing to compare', () => {
  const notch = { num: [1, 0, 100], den: [1, 5, 100], dt: 0, delay: 0 };
  const { value } = discretise(notch, T, 'tustin');
  if (value === undefined) throw new Error('no equivalent');
  expect(compareAt(notch, value, [10])[0]).toMatchObject({ gain: null, phase: null });
});
