/** Random linear sheets of several rates, phases, delays and schedules: the poles of their whole period against growth in simulation. */

import { expect, test } from 'vitest';
import { eigenvalues } from '../../../compiler/linear/eigenvalues.ts';
import { loopOf } from '../../../compiler/linear/periodic.ts';
import { type BlockOnSheet, blankSheet, type Sheet } from '../../../compiler/sheet/sheet.ts';
import { bench, model } from './sample_loop.ts';

const COUNT = Number(process.env.LOOPS ?? 200);
const FIRST = Number(process.env.FIRST_LOOP ?? 1);

/** Mulberry32 (T. Ettinger, public domain): the same numbers from the same seed. */
function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let x = Math.imul(state ^ (state >>> 15), 1 | state);
    x = (x + Math.imul(x ^ (x >>> 7), 61 | x)) ^ x;
    return ((x ^ (x >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** A plant of two inputs and outputs and a law of one or two loops around it, the second one outside the first. */
function randomSheet(seed: number): Sheet {
  const random = randomFrom(seed);
  const among = <T>(...list: readonly T[]): T => list[Math.floor(random() * list.length)] as T;
  const spread = (low: number, high: number): number => Number((low + (high - low) * random()).toFixed(3));
  const order = among(1, 2, 3);
  const rates = Array.from({ length: order }, (_, i) => {
    const own = `${spread(-6, i === 0 ? 3 : -0.5)} * x${i + 1}`;
    const others = Array.from({ length: order }, (_, j) => (j === i ? '' : ` + ${spread(-2, 2)} * x${j + 1}`));
    return `d/dt x${i + 1} = ${own}${others.join('')} + ${spread(0.5, 3)} * u1 + ${spread(-1, 1)} * u2`;
  });
  const states = Array.from({ length: order }, (_, i) => `state x${i + 1} = ${spread(-1, 1)}`);
  const rig = [
    'block rig',
    '"A linear plant."',
    'side plant',
    'in u1 = 0',
    'in u2 = 0',
    'out y1',
    'out y2',
    ...states,
    ...rates,
    'y1 = x1',
    `y2 = x${order}`,
  ].join('\n');
  const blocks: Record<string, BlockOnSheet> = { rig: { is: 'rig' } };
  const wires: Record<string, string> = {};
  const layered = among(true, false);
  const two = random() < 0.6;
  const fast = among(1, 1, 2, 3);
  const slow = fast * among(1, 2, 3);
  const law = (i: number, every: number): string => {
    const rate = { every, phase: Math.floor(random() * every) };
    blocks[`s${i}`] = { is: 'channel_in', set: { delay: `${10 * among(0, 0, 1, 2)} ms` } };
    wires[`s${i}.truth`] = `rig.y${i}`;
    blocks[`e${i}`] = { is: 'summing_point', inputs: { got: '-', ...(i === 1 && two ? { want: '+' } : {}) }, ...rate };
    wires[`e${i}.got`] = `s${i}.y`;
    let from = `e${i}.y`;
    const length = among(1, 2, 3);
    for (let k = 0; k < length; k++) {
      const name = `c${i}${k}`;
      const kinds: readonly BlockOnSheet[] = [
        { is: 'gain', set: { gain: spread(0.2, 4) } },
        { is: 'integrator', set: { gain: spread(0.1, 2) } },
        {
          is: 'lead_lag',
          set: { gain: spread(0.3, 3), zero: `${spread(1, 8)} rad/s`, pole: `${spread(5, 30)} rad/s` },
        },
        { is: 'tick_delay' },
        { is: 'transfer_function', set: { num: [spread(0.5, 3)], den: [spread(0.05, 0.5), 1] } },
        { is: 'difference_equation', set: { num: [spread(0.1, 1), spread(-0.5, 0.5)], den: [1, spread(-0.8, 0.3)] } },
      ];
      blocks[name] = { ...among(...kinds), ...rate };
      wires[`${name}.u`] = from;
      from = `${name}.y`;
    }
    return from;
  };
  const inner = law(1, fast);
  blocks.a1 = { is: 'channel_out' };
  wires['a1.u'] = inner;
  wires['rig.u1'] = 'a1.truth';
  if (two) wires['e1.want'] = law(2, slow);
  return {
    ...blankSheet(),
    title: `loop ${seed}`,
    tick: '10 ms',
    number: 'f64',
    schedule: layered ? 'layered' : 'single',
    outputs: among('at_once', 'next_tick'),
    shelf: { rig },
    blocks,
    wires,
  };
}

const recorded = ['rig.x1', 's1.y', 'a1.u'];

/** Natural logarithm of the growth a period, and that of the spectral radius. */
async function both(sheet: Sheet): Promise<{ seen: number; told: number; periods: number }> {
  const { system, apart } = model(sheet, { from: ['a1.u'], to: ['s1.y'] });
  const poles = [...eigenvalues(system.A), ...apart];
  const told = Math.log(Math.max(...poles.map(({ re, im }) => Math.hypot(re, im))));
  const ticks = Math.round(system.dt / 0.01);
  const periods = Math.round(Math.min(3000, Math.max(60, 80 / Math.abs(told))));
  const run = await bench(sheet, { record: recorded });
  const window = Math.max(20, Math.round(periods / 4));
  const size = (rows: Float64Array): number => rows.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  run.advance(window * ticks);
  const first = size(run.advance(window * ticks));
  run.advance((periods - window) * ticks);
  const last = size(run.advance(window * ticks));
  return { seen: Math.log(last / first) / periods, told, periods };
}

test(`${COUNT} random sheets grow or fade as the poles of their period say`, { timeout: 300_000 }, async () => {
  const wrong: string[] = [];
  let unstable = 0;
  for (let seed = FIRST; seed < FIRST + COUNT; seed++) {
    const { seen, told, periods } = await both(randomSheet(seed));
    // A window may hold another part of a slow swing than the other: what that changes, over so many periods.
    const tolerance = 0.03 * Math.abs(told) + 3 / periods;
    const agrees = Math.abs(seen - told) <= tolerance && (Math.abs(told) < 1e-3 || Math.sign(seen) === Math.sign(told));
    if (told > 0) unstable++;
    if (!agrees) wrong.push(`FIRST_LOOP=${seed} LOOPS=1: ${seen} seen, ${told} told, ${periods} periods`);
  }
  console.log(`random loops from ${FIRST}: ${COUNT}, ${unstable} of them unstable`);
  expect(wrong).toEqual([]);
});

test('cut at any wire and closed again, a loop has the poles of the whole one', { timeout: 120_000 }, () => {
  for (let seed = 1; seed <= 30; seed++) {
    const sheet = randomSheet(seed);
    const whole = model(sheet, { from: ['a1.u'], to: ['s1.y'] });
    const wires = Object.keys(sheet.wires).filter((name) => /^(a1|c1|e1\.got)/.test(name));
    const cut = wires[seed % wires.length] ?? 'a1.u';
    const open = model(sheet, { from: [cut], to: [cut], cut: [cut] });
    const closed = loopOf(open).closed(1) ?? [];
    const growth = (poles: readonly { re: number; im: number }[], seconds: number): number =>
      Math.log(Math.max(...poles.map(({ re, im }) => Math.hypot(re, im)))) / seconds;
    const told = growth(eigenvalues(whole.system.A), whole.system.dt);
    const found = growth(closed, open.sample);
    expect
      .soft(Math.abs(found - told), `seed ${seed} cut at ${cut}, ${sheet.schedule}`)
      .toBeLessThan(1e-6 * (1 + Math.abs(told)));
  }
});
