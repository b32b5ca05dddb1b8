/** Blocks that keep things safe, tick by tick, against the rules they are written from (contract of the gate; common practice). */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { play } from './play.ts';

const modes = ['held', 'settling', 'waiting', 'ramping', 'enabled', 'tripped'] as const;

interface Inputs {
  readonly command: readonly number[];
  readonly ask: readonly boolean[];
  readonly stop: readonly boolean[];
  readonly level?: readonly boolean[];
  readonly fallen?: readonly boolean[];
}

const tick = 0.01;
const dwell = 3;
const ramp = 4;

/** The gate with a dwell of 3 ticks and a ramp of 4, as lines `mode y`. */
async function gate(
  inputs: Inputs,
  ticks: number,
  neutral = 0,
): Promise<{ mode: string; y: number; enabled: boolean; ramp: number; begins: boolean }[]> {
  const played = await play({
    is: 'arming_gate',
    set: { dwell: dwell * tick, ramp_time: ramp * tick, neutral },
    kinds: { ...(inputs.level && { level: 'reasons' }), ...(inputs.fallen && { fallen: 'trips' }) },
    tick,
    inputs: { ...inputs },
    ticks,
    outputs: ['mode', 'y', 'enabled', 'ramp', 'begins'],
  });
  return Array.from({ length: ticks }, (_, k) => ({
    mode: modes[played.mode?.[k] ?? -1] ?? '?',
    y: played.y?.[k] ?? Number.NaN,
    enabled: played.enabled?.[k] === 1,
    ramp: played.ramp?.[k] ?? Number.NaN,
    begins: played.begins?.[k] === 1,
  }));
}

/** A list of booleans that is true at the given ticks. */
const at = (ticks: number, ...when: number[]): boolean[] => Array.from({ length: ticks }, (_, k) => when.includes(k));
const never = [false];

describe('arming_gate', () => {
  test('asked once waiting, it ramps its command up', async () => {
    const rows = await gate({ command: [8], ask: at(6, 5), stop: never, level: [true], fallen: never }, 12);
    expect(rows.map(({ mode }) => mode)).toEqual([
      ...['settling', 'settling', 'settling', 'waiting', 'waiting'],
      ...['ramping', 'ramping', 'ramping', 'ramping', 'enabled', 'enabled', 'enabled'],
    ]);
    expect(rows.map(({ y }) => y)).toEqual([0, 0, 0, 0, 0, 0, 2, 4, 6, 8, 8, 8]);
    expect(rows.map(({ begins }) => begins)).toEqual(at(12, 5));
    expect(rows.map(({ enabled }) => enabled)).toEqual(at(12, 5, 6, 7, 8, 9, 10, 11));
  });

  test('an ask that is on at power-up, or comes too early, does not count', async () => {
    const held = await gate({ command: [8], ask: [true], stop: never, level: [true] }, 20);
    expect(held.some(({ enabled }) => enabled)).toBe(false);
    const early = await gate({ command: [8], ask: at(3, 2), stop: never, level: [true] }, 20);
    expect(early.some(({ enabled }) => enabled)).toBe(false);
    expect(early.at(-1)?.mode).toBe('waiting');
  });

  test('a reason that breaks starts the dwell again; after enabling it is ignored', async () => {
    const level = [true, true, false, true, true, true, true, true, false];
    const rows = await gate({ command: [8], ask: at(8, 7), stop: never, level }, 12);
    expect(rows.map(({ mode }) => mode).slice(0, 8)).toEqual([
      ...['settling', 'settling', 'held', 'settling', 'settling', 'settling', 'waiting', 'ramping'],
    ]);
    expect(rows.at(-1)?.mode).toBe('enabled');
  });

  test('a trip acts from ramping on, in its own tick, and latches', async () => {
    const fallen = [true, true, false, false, false, false, false, false, true, false];
    const ask = [false, false, false, false, true, false];
    const rows = await gate({ command: [8], ask, stop: never, level: [true], fallen }, 20);
    expect(rows[3]?.mode).toBe('waiting');
    expect(rows[7]).toMatchObject({ mode: 'ramping', y: 6 });
    expect(rows.slice(8).every(({ mode, y, enabled }) => mode === 'tripped' && y === 0 && !enabled)).toBe(true);
  });

  test('asked while something trips, it goes to tripped without ever being enabled', async () => {
    const rows = await gate({ command: [8], ask: at(6, 5), stop: never, level: [true], fallen: [true] }, 10);
    expect(rows.map(({ mode }) => mode).slice(4, 7)).toEqual(['waiting', 'tripped', 'tripped']);
    expect(rows.some(({ enabled }) => enabled)).toBe(false);
  });

  test('stop holds it before, trips it after, and its release does not arm', async () => {
    const stop = [true, true, false, false, false, false, false, true, true, false];
    const rows = await gate({ command: [8], ask: at(7, 6), stop, level: [true] }, 20);
    expect(rows[1]?.mode).toBe('held');
    expect(rows[6]?.mode).toBe('ramping');
    expect(rows.slice(7).every(({ mode, y }) => mode === 'tripped' && y === 0)).toBe(true);
  });

  test('from tripped an ask leads to held, only with nothing tripping, and arms nothing by itself', async () => {
    const fallen = [...at(9, 8), true, true, true, false];
    const rows = await gate({ command: [8], ask: at(20, 5, 10, 14), stop: never, level: [true], fallen }, 30);
    expect(rows[10]?.mode).toBe('tripped');
    expect(rows[14]?.mode).toBe('held');
    expect(rows.at(-1)?.mode).toBe('waiting');
  });

  test('what is not finite never leaves it, and trips it', async () => {
    for (const bad of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
      const command = [...new Array<number>(8).fill(8), bad, 8];
      const rows = await gate({ command, ask: at(5, 4), stop: never, level: [true] }, 14, 1);
      expect(rows[8]?.y).toBe(1);
      expect(rows.slice(9).every(({ mode, y }) => mode === 'tripped' && y === 1)).toBe(true);
      expect(rows.every(({ y }) => Number.isFinite(y))).toBe(true);
    }
  });

  test('whatever comes in: neutral unless enabled, enabled only by an ask after a dwell, tripped until asked', async () => {
    const bools = fc.array(fc.boolean(), { minLength: 60, maxLength: 60 });
    const mostly = fc
      .array(fc.integer({ min: 0, max: 9 }), { minLength: 60, maxLength: 60 })
      .map((list) => list.map((n) => n > 0));
    const rarely = mostly.map((list) => list.map((value) => !value));
    await fc.assert(
      fc.asyncProperty(bools, rarely, mostly, rarely, async (ask, stop, level, fallen) => {
        const rows = await gate({ command: [5], ask, stop, level, fallen }, 60, -1);
        for (const [k, row] of rows.entries()) {
          const before = rows[k - 1];
          const asked = k > 0 && ask[k] === true && ask[k - 1] === false;
          if (!row.enabled) expect(row.y).toBe(-1);
          else expect(row.y).toBe(-1 + row.ramp * 6);
          if (row.enabled && before?.enabled !== true) {
            expect(asked && before?.mode === 'waiting' && !stop[k] && !fallen[k]).toBe(true);
            for (let back = 1; back <= dwell; back++) expect(level[k - back] === true && !stop[k - back]).toBe(true);
          }
          if (row.enabled) expect(stop[k] || fallen[k]).toBe(false);
          if (before?.enabled === true && !row.enabled) expect(row.mode).toBe('tripped');
          if (before?.mode === 'tripped' && row.mode !== 'tripped') expect(asked && row.mode === 'held').toBe(true);
          if (before?.enabled === true && row.enabled) expect(row.ramp).toBe(Math.min(1, before.ramp + 1 / ramp));
        }
      }),
      { numRuns: 60 },
    );
  });
});

test('saturation gives its limit for an infinity, and 0 within its range and a latched fault for not a number', async () => {
  const u = [0.5, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NaN, 0.5];
  for (const number of ['f32', 'f64'] as const) {
    const played = await play({
      is: 'saturation',
      set: { low: 0.25, high: 0.75 },
      tick,
      number,
      inputs: { u },
      ticks: 5,
      outputs: ['y', 'limited', 'fault'],
    });
    expect(played.y).toEqual([0.5, 0.75, 0.25, 0.25, 0.5]);
    expect(played.limited).toEqual([0, 1, 1, 1, 0]);
    expect(played.fault).toEqual([0, 0, 0, 1, 1]);
  }
});

test('an actuator channel gives neutral from the first command that is not finite', async () => {
  const u = [1, 9, Number.NaN, 1];
  const set = { low: -2, high: 2, neutral: 0.5, polarity: -1, mounted: -1 };
  const played = await play({
    is: 'channel_out',
    set,
    tick,
    inputs: { u },
    ticks: 4,
    outputs: ['raw', 'truth', 'fault'],
  });
  expect(played.raw).toEqual([-1, -2, 0.5, 0.5]);
  expect(played.truth).toEqual([1, 2, -0.5, -0.5]);
  expect(played.fault).toEqual([0, 0, 1, 1]);
});

test('held_in_window counts every moment of the last while', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(fc.boolean(), { minLength: 40, maxLength: 40 }), async (u) => {
      const set = { longest: 3 * tick, window: 10 * tick };
      const { y } = await play({ is: 'held_in_window', set, tick, inputs: { u }, ticks: 40, outputs: ['y'] });
      for (const [k, value] of (y ?? []).entries()) {
        const trues = u.slice(Math.max(0, k - 10), k).filter(Boolean).length;
        expect(value === 1, `tick ${k}`).toBe(trues > 3);
      }
    }),
    { numRuns: 40 },
  );
});

test('an integral gain changed with a constant error changes nothing at that tick', async () => {
  const options = { is: 'integrator', set: { gain: 2 }, tick, inputs: { u: [3] }, ticks: 20, outputs: ['y'] };
  const [plain, adjusted] = [
    await play(options),
    await play({ ...options, adjust: [{ tick: 10, setting: 'gain', value: 5 }] }),
  ];
  expect(adjusted.y?.slice(0, 11)).toEqual(plain.y?.slice(0, 11));
  expect((adjusted.y?.[11] ?? 0) - (adjusted.y?.[10] ?? 0)).toBeCloseTo(5 * tick * 3, 12);
});

test('a limited integrator leaves its limit at once', async () => {
  const u = [...new Array<number>(50).fill(10), -1];
  const { y } = await play({
    is: 'integrator',
    set: { high: 0.5, low: -0.5 },
    tick,
    inputs: { u },
    ticks: 53,
    outputs: ['y'],
  });
  expect(y?.slice(49, 53)).toEqual([0.5, 0.5, 0.49, 0.48]);
});

test('bias_while_still finds the mean of what it saw and keeps it', async () => {
  const seen = Array.from({ length: 30 }, (_, k) => 0.4 + 0.1 * Math.sin(k));
  const still = seen.map(() => true);
  const played = await play({
    is: 'bias_while_still',
    set: { time: 30 * tick },
    tick,
    inputs: { u: [...seen, 5], still: [...still, false] },
    ticks: 40,
    outputs: ['bias', 'found', 'y'],
  });
  const mean = seen.reduce((a, b) => a + b) / seen.length;
  expect(played.bias?.[39]).toBeCloseTo(mean, 12);
  expect(played.y?.[39]).toBeCloseTo(5 - mean, 12);
  expect(played.found?.slice(28, 32)).toEqual([0, 0, 1, 1]);
});
