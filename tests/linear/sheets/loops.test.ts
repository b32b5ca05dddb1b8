/** The loops of sheets are found by themselves, inner ones first, under the names of their wires. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { findLoops } from '../../../compiler/linear/loops.ts';
import { loadSheet } from '../../../compiler/sheet/load.ts';
import { blankSheet, type Sheet } from '../../../compiler/sheet/sheet.ts';
import { compiled, marginsAt, rowScout } from './sample_loop.ts';

test('the row scout has a lean loop inside a wheel-speed loop', () => {
  const loops = findLoops(compiled(rowScout()));
  expect(loops).toEqual([
    { name: 'lean.estimate', cut: 'inner.error.y', wanted: 'outer.wanted', inside: [], every: 1 },
    { name: 'wheel.speed', cut: 'outer.error.y', wanted: undefined, inside: ['lean.estimate'], every: 5 },
  ]);
  for (const { cut } of loops) expect(marginsAt(rowScout(), cut, { 'body.lean': 0 }).closedLoopUnstable).toBe(0);
});

test('the turntable has one loop', () => {
  const text = readFileSync(join(import.meta.dirname, '../../../samples/first_loop/first_loop.sheet.json'), 'utf8');
  const { value } = loadSheet(text);
  if (value === undefined) throw new Error('the sheet cannot be read');
  expect(findLoops(compiled(value))).toMatchObject([{ inside: [], every: 1 }]);
});

describe('drawn otherwise', () => {
  const sheet = (parts: Partial<Sheet>): Sheet => ({ ...blankSheet(), tick: '10 ms', number: 'f64', ...parts });

  test('a law of one’s own that subtracts is a comparison too', () => {
    const law = 'block law\n"Proportional."\nin want\nin got\nout y\nset gain = 2\ny = gain * (want - got)\n';
    const own = sheet({
      shelf: { law },
      blocks: {
        sensor: { is: 'channel_in' },
        law: { is: 'law' },
        drive: { is: 'channel_out' },
        lag: { is: 'first_order_lag' },
        one: { is: 'fixed', set: { value: 1 } },
      },
      wires: {
        'sensor.truth': 'lag.y',
        'law.got': 'sensor.y',
        'law.want': 'one.y',
        'drive.u': 'law.y',
        'lag.u': 'drive.truth',
      },
    });
    expect(findLoops(compiled(own))).toEqual([
      { name: 'sensor.y', cut: 'law.y', wanted: undefined, inside: [], every: 1 },
    ]);
  });

  test('without any comparison the actuator’s command is offered', () => {
    const plain = sheet({
      blocks: {
        sensor: { is: 'channel_in' },
        law: { is: 'gain', set: { gain: -2 } },
        drive: { is: 'channel_out' },
        lag: { is: 'first_order_lag' },
      },
      wires: { 'sensor.truth': 'lag.y', 'law.u': 'sensor.y', 'drive.u': 'law.y', 'lag.u': 'drive.truth' },
    });
    expect(findLoops(compiled(plain))).toEqual([
      { name: 'law.y', cut: 'drive.u', wanted: undefined, inside: [], every: 1 },
    ]);
  });

  test('two readings of one thing are no loop, and nothing without a loop is', () => {
    const twice = sheet({
      blocks: {
        left: { is: 'channel_in' },
        right: { is: 'channel_in' },
        mean: { is: 'average', inputs: { left: '+', right: '-' } },
        drive: { is: 'channel_out' },
        lag: { is: 'first_order_lag' },
      },
      wires: {
        'left.truth': 'lag.y',
        'right.truth': 'lag.y',
        'mean.left': 'left.y',
        'mean.right': 'right.y',
        'drive.u': 'mean.y',
        'lag.u': 'drive.truth',
      },
    });
    expect(findLoops(compiled(twice)).map(({ cut }) => cut)).toEqual(['drive.u']);
    const open = sheet({
      blocks: { one: { is: 'fixed' }, drive: { is: 'channel_out' } },
      wires: { 'drive.u': 'one.y' },
    });
    expect(findLoops(compiled(open))).toEqual([]);
  });
});
