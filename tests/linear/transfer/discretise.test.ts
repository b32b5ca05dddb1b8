/** Discrete equivalents against tests/reference/01-discretisation.json and 06-filters.json (mpmath; each case names its source). */

import { describe, expect, test } from 'vitest';
import { discretise, type Method } from '../../../compiler/linear/discretise.ts';
import { factored } from '../../../compiler/linear/factored.ts';
import { fromRoots } from '../../../compiler/linear/polynomial.ts';
import { response } from '../../../compiler/linear/response.ts';
import { roots } from '../../../compiler/linear/roots.ts';
import type { TransferFunction } from '../../../compiler/linear/system.ts';
import { asked, casesOf, expectList, expectSet, type Pair, sizeOf } from './cases.ts';

interface Inputs {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly T: number;
  readonly method: string;
  readonly prewarp_rad_s?: number;
}

interface Coefficients {
  readonly num: readonly number[];
  readonly den: readonly number[];
}

const file = '01-discretisation.json';

describe.each(casesOf<Inputs, Coefficients>(file, 'discretise'))('%s', (_, { inputs, expected, tolerance }) => {
  const { num, den, T, method, prewarp_rad_s: warp } = inputs;
  const name = (method === 'prewarp' ? 'tustin' : method) as Method;

  test('in the library', () => {
    const { value, findings } = discretise({ num, den, dt: 0, delay: 0 }, T, name, warp);
    expect(findings).toEqual([]);
    expectList(value?.num ?? [], expected.num, tolerance.num?.rel ?? 0, 'max');
    expectList(value?.den ?? [], expected.den, tolerance.den?.rel ?? 0, 'max');
  });

  test('asked of the command', async () => {
    const words = ['--num', num.join(','), '--den', den.join(','), '--dt', `${T}s`, '--method', name];
    const warped = warp === undefined ? [] : ['--prewarp', `${warp}rad/s`];
    const { status, data } = await asked('discretise', ...words, ...warped);
    expect(status).toBe(0);
    expectList(data.num as number[], expected.num, tolerance.num?.rel ?? 0, 'max');
    expectList(data.den as number[], expected.den, tolerance.den?.rel ?? 0, 'max');
  });
});

test.each(casesOf<Inputs, unknown>(file, 'discretise_singular'))('%s', async (_, { inputs }) => {
  const { num, den, T, method } = inputs;
  const words = ['--num', num.join(','), '--den', den.join(','), '--dt', `${T}`, '--method', method];
  const { status, errors } = await asked('discretise', ...words);
  expect(status).toBe(1);
  expect(errors).toMatch(/den: a pole lies at 20\.0000 rad\/s, where this method puts it at infinity; /);
});

interface LowPass {
  readonly wn: number;
  readonly zeta: number;
  readonly T: number;
}

test.each(casesOf<LowPass, Coefficients>('06-filters.json', 'lowpass2'))('%s', (_, { inputs, expected, tolerance }) => {
  const { wn, zeta, T } = inputs;
  const analog = { num: [wn * wn], den: [1, 2 * zeta * wn, wn * wn], dt: 0, delay: 0 };
  const { value } = discretise(analog, T, 'tustin', wn);
  const rel = (tolerance as unknown as { rel: number }).rel;
  expectList(value?.num ?? [], expected.num, rel);
  expectList(value?.den ?? [], expected.den, rel);
});

interface Butterworth {
  readonly order: number;
  readonly btype: 'lowpass' | 'highpass';
  readonly fc_hz: number;
  readonly fs_hz: number;
}

interface Digital {
  readonly b: readonly number[];
  readonly a: readonly number[];
  readonly poles?: readonly Pair[];
  readonly response: { readonly f_hz: readonly number[]; readonly value: readonly Pair[] };
}

const butterworth = casesOf<Butterworth, Digital>('06-filters.json', 'butter_digital');

test.each(butterworth)('%s', (_, { inputs, expected, tolerance }) => {
  const { order: n, btype, fc_hz: fc, fs_hz: fs } = inputs;
  const corner = 2 * Math.PI * fc;
  // S. Butterworth 1930: poles evenly on a circle about the origin, on its left.
  const poles = Array.from({ length: n }, (_, k) => {
    const angle = (Math.PI * (2 * k + n + 1)) / (2 * n);
    const middle = 2 * k + 1 === n;
    return { re: middle ? -corner : corner * Math.cos(angle), im: middle ? 0 : corner * Math.sin(angle) };
  });
  const num = btype === 'lowpass' ? [corner ** n] : [1, ...new Array<number>(n).fill(0)];
  const { value } = discretise({ num, den: fromRoots(poles), dt: 0, delay: 0 }, 1 / fs, 'tustin', corner);
  if (value === undefined) throw new Error('there is an equivalent');
  expectList(value.num, expected.b, tolerance.b?.rel ?? 0, 'max');
  expectList(value.den, expected.a, tolerance.a?.rel ?? 0, 'max');
  expectSet(roots(value.den), expected.poles ?? [], (pole) => 1e-10 * sizeOf(pole));
  expectResponse(value, expected.response, 1e-8, 0);
});

interface Cookbook {
  readonly fs_hz: number;
}

test.each(casesOf<Cookbook, Digital>('06-filters.json', 'biquad_cookbook'))(
  'response of %s',
  (_, { inputs, expected }) => {
    const system = { num: expected.b, den: expected.a, dt: 1 / inputs.fs_hz, delay: 0 };
    expectResponse(system, expected.response, 1e-8, 1e-12);
  },
);

function expectResponse(system: TransferFunction, wanted: Digital['response'], rel: number, abs: number): void {
  for (const way of [system, factored(system)]) {
    wanted.f_hz.forEach((f, i) => {
      const [re, im] = wanted.value[i] ?? [0, 0];
      const got = response(way, 2 * Math.PI * f);
      expect(Math.hypot(got.re - re, got.im - im)).toBeLessThanOrEqual(Math.max(abs, rel * Math.hypot(re, im)));
    });
  }
}

test('a held equivalent of high order keeps the gain at rest', () => {
  // (s+1)(s+2)…(s+8), sampled ten times a second: what is left of it at z = 1 is 1e-9 of its coefficients.
  const den = fromRoots(Array.from({ length: 8 }, (_, i) => ({ re: -1 - i, im: 0 })));
  const { value } = discretise({ num: [den.at(-1) ?? 0], den, dt: 0, delay: 0 }, 0.1, 'zoh');
  const sum = (list: readonly number[] = []) => list.reduce((total, c) => total + c, 0);
  expect(sum(value?.num) / sum(value?.den)).toBeCloseTo(1, 6);
});

test.each([
  ['improper', { num: [1, 0, 0], den: [1, 1] }, 0.1, 'tustin', undefined, 'transfer_improper'],
  ['no denominator', { num: [1], den: [0, 0] }, 0.1, 'zoh', undefined, 'transfer_no_denominator'],
  ['no gain', { num: [0], den: [1, 1] }, 0.1, 'zoh', undefined, 'transfer_no_gain'],
  ['no number', { num: [Number.NaN], den: [1, 1] }, 0.1, 'zoh', undefined, 'transfer_not_finite'],
  ['nothing', { num: [], den: [1, 1] }, 0.1, 'zoh', undefined, 'transfer_empty'],
  ['too much', { num: [1], den: new Array<number>(300).fill(1) }, 0.1, 'zoh', undefined, 'transfer_too_long'],
  ['no time', { num: [1], den: [1, 1] }, 0, 'forward', undefined, 'discrete_bad_step'],
  ['a pole at 1/T', { num: [1], den: [1, -10] }, 0.1, 'backward', undefined, 'discrete_pole_at_infinity'],
  ['beyond half the sampling frequency', { num: [1], den: [1, 1] }, 0.1, 'tustin', 32, 'discrete_bad_prewarp'],
  ['growing beyond numbers', { num: [1], den: [1, -1e5] }, 0.1, 'zoh', undefined, 'discrete_beyond_numbers'],
] as const)('cannot be made: %s', (_, system, dt, method, warp, id) => {
  const { value, findings } = discretise({ ...system, dt: 0, delay: 0 }, dt, method, warp);
  expect(value).toBeUndefined();
  expect(findings.map((finding) => finding.id)).toEqual([id]);
});

test('of a system in z there is no discrete equivalent', () => {
  const { findings } = discretise({ num: [1], den: [1, 0.5], dt: 0.1, delay: 0 }, 0.1, 'zoh');
  expect(findings.map(({ id }) => id)).toEqual(['discrete_not_continuous']);
});
