/** The first loop in its three stages, against what any textbook says of a second-order loop. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { bench, type Change, sample, trace, unmet } from './sample.ts';

const degrees = (radians: number) => (radians * 180) / Math.PI;
const proportional = sample('first_loop/first_loop.sheet.json');
const integral = sample('first_loop/first_loop_integrator.sheet.json');
const limit = sample('first_loop/first_loop_limit.sheet.json');
const stages = { proportional, integral, limit };

test('the first of them has six blocks', () => {
  expect(Object.keys(proportional.blocks)).toHaveLength(6);
});

describe.each(Object.entries(stages))('%s', (_, sheet) => {
  test('compiles without a finding', () => {
    expect(compile(sheet, { library }).findings).toEqual([]);
  });

  test.each(Object.keys(sheet.runs))('%s meets what it expects', async (run) => {
    expect(unmet(await bench(sheet, run))).toEqual([]);
  });
});

const weak: Change = { set: { 'gain.gain': '0.004 N m/rad' } };
const strong: Change = { set: { 'gain.gain': '0.4 N m/rad' } };
const usual: Change = { set: { 'gain.gain': '0.02 N m/rad' } };
const noIntegral: Change = { set: { 'integral.gain': 0 } };
const someIntegral: Change = { set: { 'integral.gain': '0.006 N m/rad s' } };
const backwards: Change = { set: { 'drive.polarity': -1 } };
const noLimitInside: Change = { set: { 'integral.low': '-1 N m', 'integral.high': '1 N m' } };
const limitInside: Change = { set: { 'integral.low': '-0.004 N m', 'integral.high': '0.004 N m' } };
const noHand: Change = { nudges: { hand: { at: '0 s', port: 'table.load', add: 0 } } };

test.each([
  ['proportional', 'turn', 'arrives', 'too little gain', weak],
  ['proportional', 'turn', 'calm', 'too much gain', strong],
  ['proportional', 'hand_on_it', 'stays_behind', 'much more gain', strong],
  ['proportional', 'too_much_gain', 'rings', 'the usual gain', usual],
  ['integral', 'turn', 'arrives', 'polarity', backwards],
  ['integral', 'turn', 'calm', 'too much gain', strong],
  ['integral', 'hand_on_it', 'comes_back', 'no integral', noIntegral],
  ['integral', 'hand_on_it', 'notices', 'no hand', noHand],
  ['integral', 'too_much_integral', 'grows', 'the usual integral', someIntegral],
  ['limit', 'far_turn', 'arrives', 'polarity', backwards],
  ['limit', 'far_turn', 'calm', 'no limit in the integrator', noLimitInside],
  ['limit', 'wound_up', 'overshoots', 'a limit in the integrator', limitInside],
] as const)('%s, %s: %s fails with %s', async (stage, run, expectation, _, change) => {
  expect(unmet(await bench(stages[stage], run, change))).toContain(expectation);
});

/*
 * Standard second-order response: J s² + b s + K with J = 0.01, b = 0.02, K = 0.02 has damping b/(2 √(K J)) = 0.7071
 * and overshoots by exp(−π ζ/√(1 − ζ²)) = 4.32 %; a steady load M leaves M/K. The hold of 20 ms adds to the first.
 */
test('proportional: the overshoot and the offset are those of the textbook', async () => {
  const turned = trace(await bench(proportional, 'turn'), 'table.angle').map(degrees);
  expect(Math.max(...turned)).toBeGreaterThan(45 * 1.0432);
  expect(Math.max(...turned)).toBeLessThan(45 * 1.055);
  const loaded = trace(await bench(proportional, 'hand_on_it'), 'table.angle').map(degrees);
  expect(loaded.at(-1)).toBeCloseTo(45 - degrees(0.004 / 0.02), 1);
});

/* Routh's criterion for J s³ + b s² + K s + Ki: stable while Ki < b K/J = 0.04. The hold takes a little of that. */
test.each([
  [0.033, true],
  [0.042, false],
])('an integral gain of %d keeps the loop stable: %s', async (gain, stable) => {
  const result = await bench(integral, 'too_much_integral', { set: { 'integral.gain': gain } });
  const swings = trace(result, 'table.angle').map((angle) => Math.abs(degrees(angle) - 45));
  const early = Math.max(...swings.slice(200, 500));
  const late = Math.max(...swings.slice(700));
  expect(late < early).toBe(stable);
});
