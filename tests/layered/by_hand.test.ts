/** What a layered schedule means, on small sheets whose every value can be worked out by hand. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import { blankSheet, type Run, type Sheet } from '../../compiler/sheet/sheet.ts';
import { allTogether } from '../../compiler/stages/schedule.ts';
import { played as playedOn } from '../bench/played.ts';

const count = 'block count\n  "Counts its ticks from 1."\nout n: int\nmem k: int = 1\nn = k\nnext k = k + 1\n';
const clock = 'block clock\n  "The base tick."\nout k: int\nk = tick\n';
const hold = 'block hold\n  "Passes a whole number on."\nin u: int\nout y: int\ny = u\n';
const late = 'block late\n  "The tick it was released at."\nout y: int\ny = tick\n';
const gap = 'block gap\n  "True but for tick 5."\nout on: bool\non = tick != 5\n';
const shelf = { count, clock, hold, late, gap };

function sheetOf(parts: Partial<Sheet>): Sheet {
  return { ...blankSheet(), tick: '10 ms', number: 'f64', schedule: 'layered', shelf, ...parts };
}

const played = (parts: Partial<Sheet>, record: readonly string[], ticks: number, run: Run = {}) =>
  playedOn({ schedule: 'layered', shelf, ...parts }, record, ticks, run);

describe('what is handed over', () => {
  test('a slower task takes faster values of its tick and publishes at its next release', async () => {
    const blocks = { c: { is: 'clock' }, slow: { is: 'hold', every: 4, phase: 2 }, fast: { is: 'hold', every: 1 } };
    const wires = { 'slow.u': 'c.k', 'fast.u': 'slow.y' };
    const got = await played({ blocks, wires }, ['slow.y', 'fast.y'], 12);
    expect(got['fast.y']).toEqual([0, 0, 0, 0, 0, 0, 2, 2, 2, 2, 6, 6]);
    expect(got['slow.y']).toEqual(got['fast.y']);
  });

  test('a task of another phase is read as last published', async () => {
    const blocks = { a: { is: 'count', every: 4 }, b: { is: 'hold', every: 4, phase: 2 } };
    const got = await played({ blocks, wires: { 'b.u': 'a.n' } }, ['a.n', 'b.y'], 12);
    // a is released at 0, 4, 8 and publishes 1 at 4, 2 at 8; b takes 0 at 2, 1 at 6, 2 at 10, and publishes them later.
    expect(got['a.n']).toEqual([0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]);
    expect(got['b.y']).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1]);
  });

  test('a task released within the period of a faster one takes what that run makes', async () => {
    const blocks = { a: { is: 'count', every: 3 }, b: { is: 'hold', every: 4, phase: 2 } };
    const got = await played({ blocks, wires: { 'b.u': 'a.n' } }, ['b.y'], 16);
    // a runs at 0, 3, 6, 9, 12 and makes 1 … 5; b takes at 2 (1), 6 (3), 10 (4), 14 (5).
    expect(got['b.y']).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 3, 3, 3, 3, 4, 4]);
  });

  test('a task reads the tick it was released at', async () => {
    const got = await played({ blocks: { slow: { is: 'late', every: 3, phase: 1 } } }, ['slow.y'], 9);
    expect(got['slow.y']).toEqual([0, 0, 0, 0, 1, 1, 1, 4, 4]);
  });

  test('a loop over a slower task needs no memory of its own', async () => {
    const blocks = {
      slow: { is: 'gain', every: 2 },
      sum: { is: 'summing_point', every: 1, inputs: { a: '+', b: '+' } },
      one: { is: 'fixed', set: { value: 1 } },
    };
    const wires = { 'slow.u': 'sum.y', 'sum.a': 'one.y', 'sum.b': 'slow.y' };
    const got = await played({ blocks, wires }, ['sum.y'], 8);
    expect(got['sum.y']).toEqual([1, 1, 2, 2, 3, 3, 4, 4]);
  });
});

describe('switched groups', () => {
  test('a group that was off between two of its releases starts anew', async () => {
    const group = { ports: {}, blocks: { c: { is: 'count' } }, wires: {}, layout: {} };
    const blocks = { sw: { is: 'gap' }, g: { is: 'counting', every: 4, when: 'sw.on' } };
    const got = await played({ shelf: { ...shelf, counting: group }, blocks }, ['g.c.n'], 16);
    // Runs at 0 (1), 4 (2); off at 5; runs at 8 anew (1), at 12 (2); each seen at the next release.
    expect(got['g.c.n']).toEqual([0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 1, 1, 1, 1]);
  });
});

describe('settings', () => {
  test('are swapped where all tasks are released together', async () => {
    const blocks = {
      f: { is: 'fixed', every: 1, set: { value: 1 } },
      slow: { is: 'hold', every: 4 },
      c: { is: 'clock' },
    };
    const run: Run = { nudges: { up: { at: '30 ms', setting: 'f.value', to: 5 } } };
    const got = await played({ blocks, wires: { 'slow.u': 'c.k' } }, ['f.y'], 8, run);
    expect(got['f.y']).toEqual([1, 1, 1, 1, 5, 5, 5, 5]);
  });

  test('change at their own tick where no common release can be counted', async () => {
    const primes = [101, 103, 107, 109, 113, 127, 131, 137, 139];
    const slow = Object.fromEntries(primes.map((every) => [`s${every}`, { is: 'clock', every }]));
    const run: Run = { nudges: { up: { at: '30 ms', setting: 'f.value', to: 5 } } };
    const got = await played({ blocks: { f: { is: 'fixed', every: 1, set: { value: 1 } }, ...slow } }, ['f.y'], 6, run);
    expect(got['f.y']).toEqual([1, 1, 1, 5, 5, 5]);
  });

  test('the tick at which all are due', () => {
    expect(
      allTogether([
        { every: 3, phase: 1 },
        { every: 4, phase: 2 },
      ]),
    ).toBe(10);
    expect(
      allTogether([
        { every: 1, phase: 0 },
        { every: 6, phase: 5 },
      ]),
    ).toBe(5);
    expect(
      allTogether([
        { every: 4, phase: 0 },
        { every: 4, phase: 2 },
      ]),
    ).toBe(0);
  });
});

describe('overruns', () => {
  const parts = (overrun: 'skip' | 'trip'): Partial<Sheet> => ({
    overrun,
    blocks: {
      c: { is: 'count', every: 1 },
      slow: { is: 'hold', every: 2 },
      lamp: { is: 'lamp' },
      on: { is: 'above' },
      half: { is: 'fixed', set: { value: -1 } },
    },
    wires: { 'slow.u': 'c.n', 'on.u': 'half.y', 'lamp.on': 'on.y' },
  });

  function machineOf(overrun: 'skip' | 'trip') {
    const sheet = sheetOf({
      ...parts(overrun),
      blocks: { ...parts(overrun).blocks, on: { is: 'above', set: { limit: -2 } } },
    });
    const { value, findings } = compile(sheet, { library });
    if (value === undefined) throw new Error(JSON.stringify(findings));
    const { controller } = value;
    const machine = createInterpreter(controller);
    machine.start();
    const slot = (name: string): number => controller.slots.find((one) => one.name === name)?.id ?? -1;
    return { machine, read: (name: string) => machine.read(slot(name)) };
  }

  test('a release that finds its task running is left out, counted, and its tick kept', () => {
    const { machine, read } = machineOf('skip');
    const masks: (number | undefined)[] = [];
    for (let tick = 0; tick < 8; tick++) {
      const mask = machine.call('release') ?? 0;
      masks.push(mask);
      if ((mask & 1) !== 0) machine.call('task_1_0');
      machine.call('outputs');
      // The slow task of tick 2 goes on until after tick 5.
      if ((mask & 2) !== 0 && tick !== 2) machine.call('task_2_0');
      if (tick === 5) machine.call('task_2_0');
    }
    expect(masks).toEqual([3, 1, 3, 1, 1, 1, 3, 1]);
    expect([read('overruns_2_0'), read('overrun_tick_2_0'), read('overruns_1_0')]).toEqual([1, 4, 0]);
  });

  test('where the sheet says so, an overrun stops everything and the outputs go neutral', () => {
    const { machine, read } = machineOf('trip');
    const lamps: number[] = [];
    for (let tick = 0; tick < 6; tick++) {
      const mask = machine.call('release') ?? 0;
      if ((mask & 1) !== 0) machine.call('task_1_0');
      machine.call('outputs');
      lamps.push(read('lamp'));
      if (tick >= 2) expect(mask & 2).toBe(tick === 2 ? 2 : 0);
      else if ((mask & 2) !== 0) machine.call('task_2_0');
      if (tick > 3) expect(mask).toBe(0);
    }
    expect(lamps).toEqual([1, 1, 1, 1, 0, 0]);
    expect(read('tripped')).toBe(1);
    machine.start();
    expect(machine.call('release')).toBe(3);
  });
});

test('the schedule proposes phases that level the work and leaves them to the sheet', () => {
  const blocks = Object.fromEntries(Array.from({ length: 3 }, (_, i) => [`g${i}`, { is: 'low_pass', every: 2 + i }]));
  const wires = Object.fromEntries(Object.keys(blocks).map((name) => [`${name}.u`, 'r.y']));
  const { value } = compile(sheetOf({ blocks: { r: { is: 'ramp' }, ...blocks }, wires }), { library });
  const { levelling, tasks } = value?.schedule ?? {};
  expect(tasks?.map((task) => task.phase)).toEqual([0, 0, 0, 0]);
  expect(levelling?.proposed).toBeLessThan(levelling?.now ?? 0);
  expect(levelling?.phases[0]).toBe(0);
});
