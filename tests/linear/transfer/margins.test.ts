/** Margins, responses and counts against tests/reference/02-frequency.json (mpmath, SciPy; each case names its source). */

import { describe, expect, test } from 'vitest';
import { margins } from '../../../compiler/linear/margins.ts';
import { openLoop, response } from '../../../compiler/linear/response.ts';
import { asked, casesOf, type Pair } from './cases.ts';
import { expectAnswer, expectMargins, type WantedMargins } from './margin_cases.ts';

interface Inputs {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly T?: number;
  readonly delay_s?: number;
}

function systemOf({ num, den, T, delay_s }: Inputs) {
  return { num, den, dt: T ?? 0, delay: delay_s ?? 0 };
}

function wordsOf({ num, den, T, delay_s }: Inputs): string[] {
  const more = [...(T === undefined ? [] : ['--dt', `${T * 1e3}ms`]), ...(delay_s ? ['--delay', `${delay_s}s`] : [])];
  return ['--num', num.join(','), '--den', den.join(','), ...more];
}

interface Responses {
  readonly value: readonly Pair[];
  readonly mag_db: readonly number[];
  readonly phase_deg: readonly number[];
}

const responses = casesOf<Inputs & { readonly w: readonly number[] }, Responses>('02-frequency.json', 'freqresp');

test.each(responses)('%s', async (_, { inputs, expected, tolerance }) => {
  const rel = tolerance.value?.rel ?? 0;
  const { status, data } = await asked('response', ...wordsOf(inputs), '--at', inputs.w.join(','));
  expect([status, data.w]).toEqual([0, inputs.w]);
  inputs.w.forEach((w, i) => {
    const [re, im] = expected.value[i] ?? [0, 0];
    const ways = [response(systemOf(inputs), w), openLoop(systemOf(inputs)).at(w)];
    ways.push({ re: (data.re as number[])[i] ?? 0, im: (data.im as number[])[i] ?? 0 });
    for (const got of ways) expect(Math.hypot(got.re - re, got.im - im)).toBeLessThanOrEqual(rel * Math.hypot(re, im));
    expect((data.phase as number[])[i]).toBeCloseTo(expected.phase_deg[i] ?? 0, 8);
    expect(20 * Math.log10((data.magnitude as number[])[i] ?? 0)).toBeCloseTo(expected.mag_db[i] ?? 0, 9);
  });
});

describe.each(casesOf<Inputs, WantedMargins>('02-frequency.json', 'margins'))('%s', (_, { inputs, expected }) => {
  test('in the library', () => {
    const system = systemOf(inputs);
    expectMargins(margins(openLoop(system)), expected);
  });

  test('asked of the command', async () => {
    const { status, data } = await asked('margins', ...wordsOf(inputs));
    expect(status).toBe(0);
    expectAnswer(data, expected);
  });
});

/** Loops whose margins can be worked out by hand. */
describe('by hand', () => {
  const of = (num: readonly number[], den: readonly number[], dt = 0, delay = 0) =>
    margins(openLoop({ num, den, dt, delay }));

  test('1/s with dead time T is stable up to a gain of π/(2T)', () => {
    expect(of([1], [1, 0], 0, 0.5).gainInterval?.[1]).toBeCloseTo(Math.PI, 9);
    expect(of([4], [1, 0], 0, 0.5)).toMatchObject({ gainInterval: null, closedLoopUnstable: 2, encirclements: 2 });
  });

  test('a gain without end at infinity leaves no time for a delay', () => {
    expect(of([2, 1], [1, 3]).delayMargin).toBe(0);
    // With dead time in it already, it has endlessly many unstable poles.
    expect(of([2, 1], [1, 3], 0, 0.1)).toMatchObject({
      closedLoopUnstable: null,
      encirclements: null,
      delayMargin: null,
    });
  });

  test('a response that only touches the unit circle crosses over there', () => {
    // |L| is exactly 1 at ω = 1 and less elsewhere: |L|² − 1 has a double root there.
    const found = of([0.5, 0], [1, 0.5, 1]);
    expect(found.crossovers).toHaveLength(1);
    expect(found.crossovers[0]).toBeCloseTo(1, 9);
    expect(found.phaseMargins[0]).toBeCloseTo(180, 7);
  });

  test('a hidden integrator stays on the edge and is no part of the loop', () => {
    // s/s cancels in the response but not among the poles.
    const found = of([2, 0], [1, 1, 0]);
    expect(found).toMatchObject({ openLoopOnEdge: 1, openLoopUnstable: 0, closedLoopUnstable: 0, countAgrees: true });
    expect(found.gainInterval).toEqual([0, null]);
  });

  test('poles twice in one place on the axis', () => {
    // 1/(s² + 1)² is unstable for every gain: two pairs leave the axis, one of them to the right.
    const found = of([0.1], [1, 0, 2, 0, 1]);
    expect(found).toMatchObject({ openLoopOnEdge: 4, closedLoopUnstable: 2, encirclements: 2, countAgrees: true });
  });

  test('an integrator of order three in z, with its pole exactly at 1', () => {
    const found = of([0.5, -0.9, 0.41], [1, -3, 3, -1], 0.1);
    expect(found).toMatchObject({ openLoopOnEdge: 3, countAgrees: true });
  });

  test('a crossover far from all poles', () => {
    expect(of([1e-9], [1, 0]).crossovers[0]).toBeCloseTo(1e-9, 18);
    expect(of([1e9], [1, 1]).crossovers[0]).toBeCloseTo(1e9, 0);
  });
});

test.each([
  [
    'improper',
    ['--num', '1,0,0', '--den', '1,1'],
    1,
    /num: the numerator has power 2 of s and the denominator only 1; /,
  ],
  ['zero denominator', ['--num', '1', '--den', '0,0'], 1, /den: the denominator is 0; /],
  ['zero gain', ['--num', '0', '--den', '1,1'], 1, /num: the numerator is 0, so nothing comes through; /],
  ['NaN', ['--num', 'NaN', '--den', '1,1'], 1, /num: a coefficient is not a finite number; /],
  [
    'on the edge',
    ['--num', '8', '--den', '1,3,3,1'],
    1,
    /the loop is exactly on the edge of stability: L is −1 at 1\.73205 rad\/s; /,
  ],
  ['on the edge in z', ['--num', '1.5', '--den', '1,-0.5', '--dt', '1'], 1, /exactly on the edge of stability/],
  [
    'on the edge by a real pole',
    ['--num', '-1', '--den', '1,1'],
    1,
    /exactly on the edge of stability: L is −1 at 0\.00000 rad\/s/,
  ],
  ['no answer', ['--num', '-1,2', '--den', '1,1'], 1, /the closed loop has no answer; /],
  [
    'part of a sample',
    ['--num', '1', '--den', '1,0', '--dt', '0.1', '--delay', '50ms'],
    1,
    /not a whole number of samples/,
  ],
  ['negative dead time', ['--num', '1', '--den', '1,0', '--delay', '-1'], 1, /-1 is no dead time; /],
  ['negative step', ['--num', '1', '--den', '1,0', '--dt', '-1ms'], 1, /is no time between samples; /],
  ['no polynomial', ['--num', '1;2', '--den', '1'], 2, /--num holds “1;2” where a number should be; /],
  ['a missing place', ['--num', '1,,2', '--den', '1,2,3'], 2, /--num holds an empty place/],
  ['none at all', [], 2, /--num and --den are missing; /],
  ['half of it', ['--num', '1'], 2, /--den is missing; /],
  ['a length for a time', ['--num', '1', '--den', '1,0', '--dt', '3mm'], 2, /--dt 3mm is no time but /],
  ['an unknown unit', ['--num', '1', '--den', '1,0', '--dt', '3 blinks'], 2, /a unit that is not known, “blinks”; /],
] as const)('margins of what has none: %s', async (_, words, wanted, said) => {
  const { status, errors, data } = await asked('margins', ...words);
  expect([status, data.ok]).toEqual([wanted, false]);
  expect(errors).toMatch(said);
  expect(errors.trimEnd().split('\n')).toHaveLength(1);
});

test.each([
  ['on a pole', ['--num', '1', '--den', '1,0', '--at', '1,0'], 1, /the response is infinite at 0 rad\/s/],
  ['nowhere', ['--num', '1', '--den', '1,0'], 2, /--at is missing; /],
  ['before 0', ['--num', '1', '--den', '1,1', '--at', '1,-2Hz'], 2, /“-2Hz” is less than 0; /],
  ['at a time', ['--num', '1', '--den', '1,0', '--at', '3s'], 2, /--at 3s is no frequency but s; /],
] as const)('no response %s', async (_, words, wanted, said) => {
  const { status, errors } = await asked('response', ...words);
  expect(status).toBe(wanted);
  expect(errors).toMatch(said);
});

test('frequencies take units', async () => {
  const { data } = await asked('response', '--num', '1', '--den', '1,1', '--at', '2Hz,3rad/s,60rpm,4');
  expect(data.w).toEqual([4 * Math.PI, 3, 2 * Math.PI, 4]);
});
