/** What a tick means, on small sheets whose every value can be worked out by hand (contract: rates, holds, switching, order). */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { runSheet } from '../../runtime/bench/run.ts';
import { played } from './played.ts';

/** Counts its own ticks from 0 after every start. */
const count = 'block count\n  "Counts its ticks."\nout n: int\nmem k: int = 0\nn = k\nnext k = k + 1\n';
/** Gives the number of the base tick. */
const clock = 'block clock\n  "The base tick."\nout k: int\nk = tick\n';
const hold = 'block hold\n  "Passes a whole number on."\nin u: int\nout y: int\ny = u\n';
const pulse =
  'block pulse\n  "True on ticks 3 to 6 and from 10."\nout on: bool\non = tick >= 3 and tick < 7 or tick >= 10\n';

describe('rates', () => {
  test('a block runs on its phase, is 0 before, and is held between', async () => {
    const { 'c.n': n } = await played(
      { shelf: { count }, blocks: { c: { is: 'count', every: 3, phase: 1 } } },
      ['c.n'],
      9,
    );
    expect(n).toEqual([0, 0, 0, 0, 1, 1, 1, 2, 2]);
  });

  test('a slower reader samples at its own tick, a faster one sees what is held', async () => {
    const blocks = { c: { is: 'clock' }, slow: { is: 'hold', every: 4, phase: 2 }, fast: { is: 'hold', every: 1 } };
    const wires = { 'slow.u': 'c.k', 'fast.u': 'slow.y' };
    const got = await played({ shelf: { clock, hold }, blocks, wires }, ['slow.y', 'fast.y'], 8);
    expect(got['slow.y']).toEqual([0, 0, 2, 2, 2, 2, 6, 6]);
    expect(got['fast.y']).toEqual(got['slow.y']);
  });

  test('a block that says no rate takes that of its fastest input', async () => {
    const blocks = { c: { is: 'count', every: 2 }, h: { is: 'hold' }, after: { is: 'hold' } };
    const wires = { 'h.u': 'c.n', 'after.u': 'h.y' };
    const sheet: Sheet = { ...blankSheet(), tick: '10 ms', shelf: { count, hold }, blocks, wires };
    const result = await runSheet(sheet, { library, record: ['after.y'], for: '40 ms' }, []);
    expect(result?.compiled.resolved.instances.get('after')?.every).toBe(2);
  });

  test("a group's divider multiplies those inside, phases too", async () => {
    const group = { ports: {}, blocks: { c: { is: 'count', every: 2, phase: 1 } }, wires: {}, layout: {} };
    const { 'g.c.n': n } = await played(
      { shelf: { count, group }, blocks: { g: { is: 'group', every: 2, phase: 1 } } },
      ['g.c.n'],
      12,
    );
    // Every 4 ticks, on 1 + 2 · 1.
    expect(n).toEqual([0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2]);
  });
});

describe('switched groups', () => {
  const group = { ports: {}, blocks: { c: { is: 'count' }, slow: { is: 'count', every: 2 } }, wires: {}, layout: {} };
  const parts = { shelf: { count, pulse, group }, blocks: { p: { is: 'pulse' }, g: { is: 'group', when: 'p.on' } } };

  test('hold while off, and start anew at the first due tick', async () => {
    const { 'g.c.n': n } = await played(parts, ['g.c.n'], 13);
    expect(n).toEqual([0, 0, 0, 0, 1, 2, 3, 3, 3, 3, 0, 1, 2]);
  });

  test("phases stay those of the sheet's clock", async () => {
    const { 'g.slow.n': n } = await played(parts, ['g.slow.n'], 13);
    // On from tick 3: first due at 4 and 6; on again from 10: due at 10 and 12.
    expect(n).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 1]);
  });
});

describe('within a tick', () => {
  test('every next happens together at the end', async () => {
    const swap =
      'block swap\n  "Two memories that change places."\nout x\nout y\nmem a = 1\nmem b = 2\nx = a\ny = b\nnext a = b\nnext b = a\n';
    const got = await played({ shelf: { swap }, blocks: { s: { is: 'swap' } } }, ['s.x', 's.y'], 4);
    expect(got['s.x']).toEqual([1, 2, 1, 2]);
    expect(got['s.y']).toEqual([2, 1, 2, 1]);
  });

  /** Raw goes out, straight through the plant, and comes back by a sensor. */
  const through = 'block through\n  "The actuator, seen at once."\nside plant\nin v\nout p\np = v\n';
  const round = {
    shelf: {
      through,
      clock,
      real: 'block real_of\n  "A number."\nin u: int\nout y\ny = real(u)\n'.replace('real_of', 'real'),
    },
    blocks: {
      c: { is: 'clock' },
      r: { is: 'real' },
      drive: { is: 'channel_out', set: { neutral: -7 } },
      plant: { is: 'through' },
      sense: { is: 'channel_in' },
    },
    wires: { 'r.u': 'c.k', 'drive.u': 'r.y', 'plant.v': 'drive.truth', 'sense.truth': 'plant.p' },
  } satisfies Partial<Sheet>;

  test('sensors sample under the actuators that acted just before, neutral before the first', async () => {
    const at = await played({ ...round, outputs: 'at_once' }, ['sense.y'], 5);
    expect(at['sense.y']).toEqual([-7, 0, 1, 2, 3]);
  });

  test('actuators of the next tick act one tick later', async () => {
    const next = await played({ ...round, outputs: 'next_tick' }, ['sense.y'], 5);
    expect(next['sense.y']).toEqual([-7, -7, 0, 1, 2]);
  });
});

describe('nudges', () => {
  const parts = {
    shelf: {},
    blocks: { a: { is: 'ramp', set: { slope: 100 } }, one: { is: 'gain' }, two: { is: 'gain' } },
    wires: { 'one.u': 'a.y', 'two.u': 'a.y' },
  } satisfies Partial<Sheet>;
  const record = ['one.y', 'two.y'];

  test('add to an output: all its readers, while it lasts', async () => {
    const nudges = { n: { at: '20 ms', for: '20 ms', port: 'a.y', add: 10 } };
    const got = await played(parts, record, 6, { nudges });
    expect(got['one.y']?.map(Math.round)).toEqual([0, 1, 12, 13, 4, 5]);
    expect(got['two.y']).toEqual(got['one.y']);
  });

  test('put an input: that reader only', async () => {
    const nudges = { n: { at: '15 ms', port: 'two.u', to: 8 } };
    const got = await played(parts, record, 4, { nudges });
    expect(got['one.y']?.map(Math.round)).toEqual([0, 1, 2, 3]);
    expect(got['two.y']?.map(Math.round)).toEqual([0, 1, 8, 8]);
  });

  test('held and not-a-number', async () => {
    const held = await played(parts, record, 5, { nudges: { n: { at: '30 ms', port: 'a.y', to: 'held' } } });
    expect(held['one.y']?.map(Math.round)).toEqual([0, 1, 2, 2, 2]);
    const broken = await played(parts, record, 3, {
      nudges: { n: { at: '10 ms', for: '10 ms', port: 'a.y', to: 'nan' } },
    });
    expect(broken['one.y']?.map((x) => Math.round(x))).toEqual([0, Number.NaN, 2]);
  });

  test('a setting, from then on, with no memory cleared', async () => {
    const nudges = { n: { at: '20 ms', setting: 'one.gain', to: 3 } };
    const got = await played(parts, record, 4, { nudges });
    expect(got['one.y']?.map(Math.round)).toEqual([0, 1, 6, 9]);
  });
});

describe('adjusting while it runs', () => {
  test('with a constant error, a new integral gain changes the output by nothing at that tick', async () => {
    const parts = {
      blocks: { e: { is: 'fixed', set: { value: 2 } }, i: { is: 'integrator', set: { gain: 1 } } },
      wires: { 'i.u': 'e.y' },
    } satisfies Partial<Sheet>;
    const before = await played(parts, ['i.y'], 6);
    const after = await played(parts, ['i.y'], 6, { nudges: { n: { at: '30 ms', setting: 'i.gain', to: 5 } } });
    expect(after['i.y']?.slice(0, 4)).toEqual(before['i.y']?.slice(0, 4));
    expect(after['i.y']?.[4]).toBeCloseTo((before['i.y']?.[3] ?? 0) + 5 * 2 * 0.01, 12);
  });
});
