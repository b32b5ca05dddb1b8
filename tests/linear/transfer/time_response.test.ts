/** Time responses against tests/reference/05-time-response.json (mpmath, SciPy) and closed forms. */

import { expect, test } from 'vitest';
import { factored } from '../../../compiler/linear/factored.ts';
import { feedback } from '../../../compiler/linear/feedback.ts';
import { finalValue, stepFigures } from '../../../compiler/linear/step_figures.ts';
import type { TransferFunction } from '../../../compiler/linear/system.ts';
import { filtered, type Input, realised, responseAt, timeResponse } from '../../../compiler/linear/time_response.ts';
import { casesOf, expectList } from './cases.ts';

interface Inputs {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly input: string;
  readonly t: readonly number[];
  readonly delay_s?: number;
  readonly w?: number;
}

const continuous = casesOf<Inputs, { readonly y: readonly number[] }>('05-time-response.json', 'tresp_c');

test.each(continuous.filter(([, { inputs }]) => inputs.input !== 'sine'))(
  '%s',
  (_, { inputs, expected, tolerance }) => {
    const { num, den, t, input, delay_s } = inputs;
    const { y } = responseAt({ num, den, dt: 0, delay: delay_s ?? 0 }, input as Input, t);
    const { rel = 0, abs = 0 } = tolerance.y ?? {};
    expectList(y, expected.y, rel, undefined, abs);
  },
);

interface Filter {
  readonly b: readonly number[];
  readonly a: readonly number[];
  readonly u: readonly number[];
}

const discrete = casesOf<Filter, { readonly y: readonly number[] }>('05-time-response.json', 'lfilter');

test.each(discrete)('%s', (_, { inputs: { b, a, u }, expected, tolerance }) => {
  // Powers of 1/z: of equal length they are those of z.
  const length = Math.max(a.length, b.length);
  const filled = (list: readonly number[]) => [...list, ...new Array<number>(length - list.length).fill(0)];
  expectList(filtered({ num: filled(b), den: filled(a) }, u), expected.y, tolerance.y?.rel ?? 0, 'max');
});

const secondOrder = (zeta: number): TransferFunction => ({ num: [9], den: [1, 6 * zeta, 9], dt: 0, delay: 0 });

test.each([0.2, 0.5, 0.9])('figures of a second-order system with damping %d', (zeta) => {
  const system = secondOrder(zeta);
  const final = finalValue(factored(system));
  const found = stepFigures(timeResponse(system, 'step', 20, 2001), final);
  // Closed forms, as in any textbook: overshoot exp(−πζ/√(1−ζ²)) at π/(ωn·√(1−ζ²)).
  const damped = Math.sqrt(1 - zeta * zeta);
  expect(final).toBeCloseTo(1, 12);
  expect(found.overshoot).toBeCloseTo(Math.exp((-Math.PI * zeta) / damped), 7);
  expect(found.peakTime).toBeCloseTo(Math.PI / (3 * damped), 5);
  // A system in companion form and one given as a state space answer alike.
  const other = timeResponse(realised(system), 'step', 20, 2001);
  expectList(other.y, timeResponse(system, 'step', 20, 2001).y, 1e-12, 'max');
});

test('a lag rises from 10 % to 90 % in ln 9 and settles within 2 % in ln 50 of its time constant', () => {
  const system = { num: [3], den: [2, 1], dt: 0, delay: 0 };
  const found = stepFigures(timeResponse(system, 'step', 20), finalValue(factored(system)));
  expect(found).toMatchObject({ final: 3, overshoot: 0 });
  expect(found.riseTime).toBeCloseTo(2 * Math.log(9), 6);
  expect(found.settlingTime).toBeCloseTo(2 * Math.log(50), 6);
});

test('what does not come to rest has no figures', () => {
  expect(finalValue(factored({ num: [1], den: [1, 0], dt: 0, delay: 0 }))).toBeNull();
  expect(finalValue(factored({ num: [1], den: [1, -1], dt: 0, delay: 0 }))).toBeNull();
  expect(finalValue(factored({ num: [1], den: [1, -1.1], dt: 0.1, delay: 0 }))).toBeNull();
  expect(finalValue(factored({ num: [1], den: [1, -0.5], dt: 0.1, delay: 0 }))).toBeCloseTo(2, 12);
});

test('a disturbance before an integrating plant with a proportional controller comes to rest at 1/gain', () => {
  const plant = { num: [1], den: [1, 1, 0], dt: 0, delay: 0 };
  const { value } = feedback(plant, { num: [4], den: [1], dt: 0, delay: 0 });
  if (value === undefined) throw new Error('the loop can be closed');
  expect(finalValue(factored(value))).toBeCloseTo(0.25, 12);
  expect(timeResponse(value, 'step', 60).y.at(-1)).toBeCloseTo(0.25, 10);
});

test('a loop with dead time is not closed as a quotient of polynomials', () => {
  const lag = { num: [1], den: [1, 1], dt: 0, delay: 0.1 };
  const { value, findings } = feedback(lag, { num: [1], den: [1], dt: 0, delay: 0 });
  expect([value, findings.map(({ id }) => id)]).toEqual([undefined, ['closed_with_delay']]);
});

test('samples of a system in z come after its dead time, its ramp is t', () => {
  const { t, y } = timeResponse({ num: [1], den: [1, -0.5], dt: 0.1, delay: 0.1 }, 'ramp', 0.4);
  expectList(t, [0.1, 0.2, 0.3, 0.4, 0.5], 1e-12);
  expectList(y, [0, 0, 0.1, 0.25, 0.425], 1e-12, 'max');
});
