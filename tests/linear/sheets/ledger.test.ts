/** Where a loop's phase goes: each line of the row scout's ledgers against the block's formula, worked out by hand. */

import { expect, test } from 'vitest';
import { type Ledger, ledgerAt } from '../../../compiler/linear/ledger.ts';
import type { Sheet } from '../../../compiler/sheet/sheet.ts';
import { compiled, rowScout } from './sample_loop.ts';

const upright = { 'body.lean': 0 };
const degrees = (radians: number): number => (radians * 180) / Math.PI;
/** The s that the trapezoidal rule puts in the place of jω. */
const warped = (w: number, T: number): number => (2 / T) * Math.tan((w * T) / 2);

function of(sheet: Sheet, cut: string, w: number): (name: string) => { degrees: number; gain: number } {
  const ledger: Ledger = ledgerAt(compiled(sheet), cut, upright, w);
  return (name) => {
    const line = ledger.lines.find(({ what, name: own }) => (own === '' ? what : own) === name);
    if (line === undefined) throw new Error(`no line ${name} among ${ledger.lines.map((one) => one.name).join(', ')}`);
    return line;
  };
}

test('the inner loop: a tick held for half of it, a lead and an integrator by their rules, a trapezoidal low-pass', () => {
  const [w, T] = [21.3, 0.005];
  const line = of(rowScout(), 'drive.u', w);
  expect(line('hold').degrees).toBeCloseTo(-degrees((w * T) / 2), 10);
  expect(line('compute').degrees).toBe(0);
  const s = warped(w, T);
  expect(line('inner.lead').degrees).toBeCloseTo(degrees(Math.atan(s / 12) - Math.atan(s / 200)), 9);
  expect(line('inner.lead').gain / 720).toBeCloseTo(Math.hypot(1, s / 12) / Math.hypot(1, s / 200), 9);
  expect(line('lean.smooth').degrees).toBeCloseTo(-degrees(Math.atan(s / 10)), 9);
  // Forward sum: T/(z − 1) has −90° and half a sample.
  expect(line('inner.integral').degrees).toBeCloseTo(-90 - degrees((w * T) / 2), 9);
});

test('the outer loop: five ticks held, a speed from counts early by a differentiator and late by half a period', () => {
  const [w, T] = [1.28, 0.025];
  const line = of(rowScout(), 'outer.error.y', w);
  expect(line('hold').degrees).toBeCloseTo(-degrees((w * T) / 2), 10);
  expect(line('wheel.by_left').degrees).toBeCloseTo(90 - degrees((w * T) / 2), 9);
  expect(line('outer.lead').degrees).toBeCloseTo(
    degrees(Math.atan(warped(w, T) / 6) - Math.atan(warped(w, T) / 12)),
    9,
  );
});

test('an actuator that acts at the next tick takes a whole one', () => {
  const w = 20;
  expect(of({ ...rowScout(), outputs: 'next_tick' }, 'drive.u', w)('compute').degrees).toBeCloseTo(
    -degrees(w * 0.005),
    10,
  );
});
