/** Edits to a sheet: renaming everywhere, removing with and without healing, inserting, grouping. */
import { produce } from 'immer';
import { describe, expect, test } from 'vitest';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { freshName, insertOnLine, instancesOf, makeGroup, move, removeBlocks } from '../../editor/document/edits.ts';
import { mayBeNamed, renameBlock } from '../../editor/document/rename.ts';

const through = () => ({ input: 'u', output: 'y' });

const loop: Sheet = {
  ...blankSheet('loop'),
  blocks: {
    want: { is: 'fixed' },
    error: { is: 'summing_point', inputs: { want: '+', got: '-' } },
    law: { is: 'gain' },
    smooth: { is: 'low_pass' },
    table: { is: 'turntable' },
  },
  wires: {
    'error.want': 'want.y',
    'error.got': 'table.angle',
    'law.u': 'error.y',
    'smooth.u': 'law.y',
    'table.torque': 'smooth.y',
  },
  layout: { want: [0, 0], error: [100, 0], law: [200, 0], smooth: { at: [300, 0], flip: true }, table: [400, 0] },
};

describe('renaming a block', () => {
  const spoken: Sheet = {
    ...loop,
    runs: {
      turn: {
        set: { 'law.gain': 2 },
        record: ['law.y', 'table.angle'],
        nudges: { push: { at: 1, port: 'law.u', add: 1 }, knob: { at: 2, setting: 'law.gain', to: 3 } },
        expect: { calm: 'abs(law.y) < 2 * slaw.law always', lone: 'outlaw.y > law.y once' },
      },
    },
    silenced: { unread_output: 'no place', 'unread_output law.y': 'known' },
    checked: { 'law.polarity': { result: true, hash: 'a' } },
    desk: {
      ...loop.desk,
      show: { 'law.y': 'mV' },
      pins: { 'law.y': {} },
      charts: { one: { traces: ['law.y', 'table.angle'] } },
      lines: {
        'law.u': [
          [
            [0, 0],
            [0, 9],
          ],
        ],
      },
      taps: { 'smooth.u': {} },
    },
  };
  const renamed = produce(spoken, (sheet) => void renameBlock(sheet, '', 'law', 'rule'));

  test('renames its key, its place, and both ends of its wires', () => {
    expect(Object.keys(renamed.blocks)).toContain('rule');
    expect(renamed.blocks).not.toHaveProperty('law');
    expect(renamed.layout.rule).toEqual([200, 0]);
    expect(renamed.wires).toMatchObject({ 'rule.u': 'error.y', 'smooth.u': 'rule.y' });
  });

  test('renames it in runs: settings, records, nudges, and in the words of expectations', () => {
    expect(renamed.runs.turn).toEqual({
      set: { 'rule.gain': 2 },
      record: ['rule.y', 'table.angle'],
      nudges: { push: { at: 1, port: 'rule.u', add: 1 }, knob: { at: 2, setting: 'rule.gain', to: 3 } },
      expect: { calm: 'abs(rule.y) < 2 * slaw.law always', lone: 'outlaw.y > rule.y once' },
    });
  });

  test('renames it on the desk, among silenced findings and checks', () => {
    expect(renamed.desk).toMatchObject({
      show: { 'rule.y': 'mV' },
      pins: { 'rule.y': {} },
      charts: { one: { traces: ['rule.y', 'table.angle'] } },
      lines: {
        'rule.u': [
          [
            [0, 0],
            [0, 9],
          ],
        ],
      },
      taps: { 'smooth.u': {} },
    });
    expect(renamed.silenced).toEqual({ unread_output: 'no place', 'unread_output rule.y': 'known' });
    expect(renamed.checked).toHaveProperty(['rule.polarity']);
  });

  test('inside a group renames it in every instance that is spoken of', () => {
    const grouped: Sheet = {
      ...blankSheet(),
      shelf: {
        wheel: { ports: {}, blocks: { law: { is: 'gain' } }, wires: {}, layout: {} },
        pair: { ports: {}, blocks: { left: { is: 'wheel', set: { 'law.gain': 4 } } }, wires: {}, layout: {} },
      },
      blocks: { front: { is: 'wheel', set: { 'law.gain': 2 } }, rear: { is: 'pair', set: { 'left.law.gain': 3 } } },
      runs: { go: { record: ['front.law.y', 'rear.left.law.y', 'law.y'] } },
    };
    expect(instancesOf(grouped, 'wheel')).toEqual(['front.', 'rear.left.']);
    const after = produce(grouped, (sheet) => void renameBlock(sheet, 'wheel', 'law', 'rule'));
    expect(after.runs.go?.record).toEqual(['front.rule.y', 'rear.left.rule.y', 'law.y']);
    expect(after.blocks.front?.set).toEqual({ 'rule.gain': 2 });
    expect(after.blocks.rear?.set).toEqual({ 'left.rule.gain': 3 });
    const pair = after.shelf.pair;
    expect(typeof pair === 'object' && pair.blocks.left?.set).toEqual({ 'rule.gain': 4 });
  });

  test('is refused with a sentence for a name that is taken or is none', () => {
    expect(mayBeNamed(loop, '', 'law', 'error')).toMatch(/already/);
    expect(mayBeNamed(loop, '', 'law', '2nd')).toMatch(/letter/);
    expect(mayBeNamed(loop, '', 'law', 'law')).toBe(true);
  });
});

describe('removing a block', () => {
  test('heals the line through it', () => {
    const after = produce(loop, (sheet) => void removeBlocks(sheet, '', ['law'], through));
    expect(after.wires).toEqual({
      'error.want': 'want.y',
      'error.got': 'table.angle',
      'smooth.u': 'error.y',
      'table.torque': 'smooth.y',
    });
    expect(after.layout).not.toHaveProperty('law');
  });

  test('heals through several in a row', () => {
    const after = produce(loop, (sheet) => void removeBlocks(sheet, '', ['smooth', 'law'], through));
    expect(after.wires['table.torque']).toBe('error.y');
  });

  test('leaves the gap where it is told to', () => {
    const after = produce(loop, (sheet) => void removeBlocks(sheet, '', ['law']));
    expect(after.wires).not.toHaveProperty(['smooth.u']);
  });

  test('comes to an end in a ring of removed blocks', () => {
    const ring: Sheet = {
      ...blankSheet(),
      blocks: { a: { is: 'gain' }, b: { is: 'gain' }, c: { is: 'gain' } },
      wires: { 'a.u': 'b.y', 'b.u': 'a.y', 'c.u': 'a.y' },
    };
    expect(produce(ring, (sheet) => void removeBlocks(sheet, '', ['a', 'b'], through)).wires).toEqual({});
  });
});

test('a block put into a line takes what fed it and feeds what it fed, and nothing else changes', () => {
  const after = produce(loop, (sheet) => {
    sheet.blocks.more = { is: 'gain' };
    insertOnLine(sheet, '', 'smooth.u', 'more', { input: 'u', output: 'y' });
  });
  expect(after.wires).toEqual({ ...loop.wires, 'smooth.u': 'more.y', 'more.u': 'law.y' });
});

test('a moved card stays turned', () => {
  const after = produce(loop, (sheet) => void move(sheet, '', { smooth: [20, 40], law: [0, 60] }));
  expect(after.layout).toMatchObject({ smooth: { at: [20, 40], flip: true }, law: [0, 60] });
});

test('a group takes its blocks in, is wired through its ports, and stands where they stood', () => {
  const after = produce(loop, (sheet) => void makeGroup(sheet, '', ['law', 'smooth'], 'shaping', [200, 0]));
  expect(after.blocks.shaping).toEqual({ is: 'shaping' });
  expect(after.wires).toEqual({
    'error.want': 'want.y',
    'error.got': 'table.angle',
    'shaping.u': 'error.y',
    'table.torque': 'shaping.y',
  });
  expect(after.shelf.shaping).toMatchObject({
    ports: { u: { in: '' }, y: { out: '' } },
    wires: { 'law.u': 'u', 'smooth.u': 'law.y', y: 'smooth.y' },
    blocks: { law: { is: 'gain' }, smooth: { is: 'low_pass' } },
    layout: { smooth: { at: [300, 0], flip: true } },
  });
});

test('a fresh name is a name, and not taken', () => {
  const taken = new Set(['gain', 'gain_2']);
  expect(freshName('gain', (name) => taken.has(name))).toBe('gain_3');
  expect(freshName('lead–lag', () => false)).toBe('lead_lag');
  expect(freshName('2 tanks', () => false)).toBe('tanks');
  expect(freshName('…', () => false)).toBe('block');
});
