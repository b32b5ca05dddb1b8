/** Sensors and plants of the shelf against the arithmetic and mechanics they stand for. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { play } from './play.ts';

const tick = 0.01;
const mean = (list: readonly number[]): number => list.reduce((a, b) => a + b, 0) / list.length;

test('an encoder of few bits, read through its counter, gives back the angle and the speed', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(fc.integer({ min: -100, max: 100 }), { minLength: 20, maxLength: 20 }), async (steps) => {
      const counts = steps.map((_, k) => steps.slice(0, k + 1).reduce((a, b) => a + b, 0));
      const angle = counts.map((count) => ((count + 0.5) * 2 * Math.PI) / 4096);
      const { count } = await play({
        is: 'encoder',
        set: { bits: 8 },
        tick,
        inputs: { angle },
        ticks: 20,
        outputs: ['count'],
      });
      expect(count).toEqual(counts.map((c) => ((((c + 128) % 256) + 256) % 256) - 128));
      const into = { inputs: { count: count ?? [] }, tick, ticks: 20 };
      const turned = await play({ is: 'count_angle', set: { bits: 8 }, ...into, outputs: ['angle'] });
      const speed = await play({ is: 'count_speed', set: { bits: 8 }, ...into, outputs: ['speed'] });
      for (let k = 1; k < 20; k++) {
        expect(turned.angle?.[k]).toBeCloseTo((((counts[k] ?? 0) - (counts[0] ?? 0)) * 2 * Math.PI) / 4096, 12);
        expect(speed.speed?.[k]).toBeCloseTo(((steps[k] ?? 0) * 2 * Math.PI) / 4096 / tick, 9);
      }
    }),
    { numRuns: 20 },
  );
});

test("a sensor's noise has the mean and size it is set to, and does not repeat", async () => {
  const set = { noise: 0.2, bias: 0.5 };
  const { y = [] } = await play({ is: 'channel_in', set, tick, inputs: { truth: [1] }, ticks: 20_000, outputs: ['y'] });
  expect(Math.abs(mean(y) - 1.5)).toBeLessThan(4 * (0.2 / Math.sqrt(y.length)));
  const size = Math.sqrt(mean(y.map((value) => (value - 1.5) ** 2)));
  expect(Math.abs(size - 0.2)).toBeLessThan(4 * (0.2 / Math.sqrt(2 * y.length)));
  const next = mean(y.slice(1).map((value, k) => (value - 1.5) * ((y[k] ?? 0) - 1.5))) / size ** 2;
  expect(Math.abs(next)).toBeLessThan(4 / Math.sqrt(y.length));
  expect(new Set(y).size).toBeGreaterThan(19_000);
  const again = await play({ is: 'channel_in', set, tick, inputs: { truth: [1] }, ticks: 50, outputs: ['y'] });
  expect(again.y).toEqual(y.slice(0, 50));
});

test('what a sensor reads passes through how it is mounted, its step, its range and its delay, in that order', async () => {
  const truth = [0, 0.26, -0.9, 4, -4, 0, 0, 0];
  const set = { mounted: -1, quantum: 0.5, low: -2, high: 3, delay: 0.02, polarity: -1, scale: 10 };
  const { y, raw } = await play({ is: 'channel_in', set, tick, inputs: { truth }, ticks: 8, outputs: ['y', 'raw'] });
  expect(raw?.map((value) => value + 0)).toEqual([0, 0, 0, -0.5, 1, -2, 3, 0]);
  expect(y).toEqual(raw?.map((value) => -10 * value));
});

test('an accelerometer at rest gives the lean back', async () => {
  for (const lean of [-1.2, -0.1, 0, 0.05, 0.7]) {
    const felt = await play({
      is: 'accelerometer_site',
      tick,
      inputs: { lean: [lean], lean_rate: [0], lean_acceleration: [0] },
      ticks: 1,
      outputs: ['across', 'up'],
    });
    const inputs = { across: felt.across ?? [], up: felt.up ?? [] };
    const got = await play({ is: 'lean_angle', tick, inputs, ticks: 1, outputs: ['lean'] });
    expect(got.lean?.[0]).toBeCloseTo(lean, 12);
  }
});

test('a body let go falls away from upright as its inverted pendulum does', async () => {
  const set = { start: 1e-6, inertia: 0.031, stiffness: 1.942 };
  const { lean } = await play({
    is: 'reaction_wheel_body',
    set,
    tick: 0.005,
    inputs: { torque: [0] },
    ticks: 101,
    outputs: ['lean'],
  });
  // Linear about upright: start · cosh(√(stiffness/inertia) · t).
  expect(lean?.[100]).toBeCloseTo(1e-6 * Math.cosh(Math.sqrt(1.942 / 0.031) * 0.5), 10);
});

test('the wheel takes from the body what the body loses: without weight, momentum is kept', async () => {
  const set = { start: 0, stiffness: 0, inertia: 0.031, wheel_inertia: 0.0021 };
  const torque = Array.from({ length: 60 }, (_, k) => 0.1 * Math.sin(k / 5));
  const played = await play({
    is: 'reaction_wheel_body',
    set,
    tick,
    inputs: { torque },
    ticks: 61,
    outputs: ['lean_rate', 'wheel_speed'],
  });
  for (const [k, rate] of (played.lean_rate ?? []).entries())
    expect(0.031 * rate + 0.0021 * (rate + (played.wheel_speed?.[k] ?? 0))).toBeCloseTo(0, 12);
  expect(Math.max(...(played.wheel_speed ?? []))).toBeGreaterThan(1);
});

test('the prop pushes, and never pulls', async () => {
  const set = { start: 0.0436, stiffness: 1.942, prop_at: 0.0436, prop_stiffness: 200, prop_damping: 2 };
  const rest = await play({
    is: 'reaction_wheel_body',
    set,
    tick: 0.005,
    inputs: { torque: [0] },
    ticks: 400,
    outputs: ['lean'],
  });
  // At rest the weight presses as hard as the prop holds: k·(lean − at) = stiffness·sin lean.
  const lean = rest.lean?.at(-1) ?? 0;
  expect(200 * (lean - 0.0436)).toBeCloseTo(1.942 * Math.sin(lean), 6);
  const deeper = { ...set, start: 0.045 };
  const lifted = await play({
    is: 'reaction_wheel_body',
    set: deeper,
    tick: 0.005,
    inputs: { torque: [0.3] },
    ticks: 40,
    outputs: ['lean', 'propped', 'lean_acceleration'],
  });
  const free = (lifted.propped ?? []).indexOf(0);
  expect(free).toBeGreaterThan(0);
  expect(lifted.lean_acceleration?.[free]).toBeCloseTo((1.942 * Math.sin(lifted.lean?.[free] ?? 0) - 0.3) / 0.031, 9);
});

test('a motor held fast draws its stall current, and runs free where its back-emf meets the supply', async () => {
  const set = { torque_constant: 0.028, resistance: 0.75, ratio: 3, supply: 12, full: 100 };
  const outputs = ['torque', 'current'];
  const held = await play({ is: 'motor', set, tick, inputs: { command: [100], speed: [0] }, ticks: 1, outputs });
  expect(held.current?.[0]).toBeCloseTo(12 / 0.75, 12);
  expect(held.torque?.[0]).toBeCloseTo((3 * 0.028 * 12) / 0.75, 12);
  const free = await play({
    is: 'motor',
    set,
    tick,
    inputs: { command: [100], speed: [12 / (0.028 * 3)] },
    ticks: 1,
    outputs,
  });
  expect(free.torque?.[0]).toBeCloseTo(0, 12);
});

test('a lamp blinks at its own pace whatever its tick', async () => {
  const { raw } = await play({
    is: 'lamp',
    set: { blink: 0.5 },
    tick: 0.005,
    inputs: { on: [true] },
    ticks: 1000,
    outputs: ['raw'],
  });
  const flashes = (raw ?? []).filter((value, k) => value === 1 && raw?.[k - 1] !== 1).length;
  expect(flashes).toBe(10);
  expect(mean(raw ?? [])).toBe(0.5);
});
