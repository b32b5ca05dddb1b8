/** What the bench reads and writes in words: numbers, knobs, what a change of the sheet is to a run, and readings. */
import { describe, expect, test } from 'vitest';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { knobRange, quantityLike, siValue } from '../../editor/run/knob_values.ts';
import { usualRun } from '../../editor/work/bench.ts';
import type { Watched } from '../../editor/work/bench_messages.ts';
import { createReadings, sentenceOf } from '../../editor/work/readings.ts';
import { compareSheets } from '../../editor/work/sheet_changes.ts';
import { numberWords, shownAs, timeWords, valueWords, withUnit } from '../../editor/work/value_words.ts';

const real = { type: 'f64', modes: [] } as const;

describe('numbers', () => {
  test.each([
    [0, '0.000'],
    [0.0314159, '0.0314'],
    [1.23456, '1.235'],
    [-12.3456, '−12.35'],
    [9999.6, '10000'],
    [123456, '1.235e5'],
    [0.000123, '1.230e−4'],
    [Number.NaN, 'not a number'],
    [Number.NEGATIVE_INFINITY, '−∞'],
  ])('%d reads %s', (value, words) => expect(numberWords(value)).toBe(words));

  test('are shown in the unit somebody chose', () => {
    const shown = shownAs({ unit: 'rad' }, 'deg');
    expect(withUnit(valueWords(real, Math.PI / 2, shown), shown.unit)).toBe('90.00°');
    expect(shownAs({ unit: 'rad' }, 'nonsense')).toEqual({ factor: 1, unit: 'rad' });
  });

  test('are words where they stand for modes and truths', () => {
    const plain = shownAs({ unit: '' }, undefined);
    expect(valueWords({ type: 'i32', modes: ['held', 'ramping'] }, 1, plain)).toBe('ramping');
    expect(valueWords({ type: 'bool', modes: [] }, 1, plain)).toBe('yes');
  });

  test('of time have the digits a tick needs', () => {
    expect(timeWords(2.345, 0.005)).toBe('2.345');
    expect(timeWords(2, 0.02)).toBe('2.00');
  });
});

describe('knobs', () => {
  test('write a number in the words of the one before it', () => {
    expect(quantityLike('0.4 N m/rad', 0.51234, 'N m/rad')).toBe('0.5123 N m/rad');
    expect(quantityLike('-90 deg', -Math.PI / 4, 'rad')).toBe('-45 deg');
    expect(quantityLike(3, 3.5, 'V')).toBe('3.5');
    expect(quantityLike(undefined, 0.25, 's')).toBe('0.25 s');
  });

  test('know the number of a plain quantity, and of nothing else', () => {
    expect(siValue('-90 deg')).toBeCloseTo(-Math.PI / 2, 12);
    expect(siValue('2 * stiffness')).toBeUndefined();
  });

  test('end at the bounds of the setting, else at twice the value', () => {
    expect(knobRange({ low: 0, high: 1 }, 0.3)).toEqual({ low: 0, high: 1 });
    expect(knobRange({ low: undefined, high: undefined }, -4)).toEqual({ low: -8, high: 0 });
    expect(knobRange({ low: 0, high: undefined }, 10)).toEqual({ low: 0, high: 20 });
  });
});

describe('a change of the sheet', () => {
  const before: Sheet = {
    ...blankSheet(),
    blocks: { law: { is: 'gain', set: { gain: 2 } }, slow: { is: 'low_pass', every: 5 } },
    wires: { 'slow.u': 'law.y' },
  };

  test('of settings can be followed by a run: put, changed and taken back', () => {
    const after = {
      ...before,
      blocks: { law: { is: 'gain' }, slow: { is: 'low_pass', every: 5, set: { corner: '3 rad/s' } } },
    };
    expect(compareSheets(before, after)).toEqual({
      same: true,
      settings: [
        { setting: 'law.gain', value: undefined },
        { setting: 'slow.corner', value: '3 rad/s' },
      ],
    });
  });

  test('of looks is none', () => {
    const after = { ...before, layout: { law: [1, 2] as const }, title: 'other', silenced: { x: 'y' } };
    expect(compareSheets(before, after)).toEqual({ same: true, settings: [] });
  });

  test.each([
    ['a wire', { ...before, wires: {} }],
    ['a rate', { ...before, blocks: { ...before.blocks, slow: { is: 'low_pass', every: 4 } } }],
    ['a block', { ...before, blocks: { law: before.blocks.law ?? { is: '' } } }],
    ['the tick', { ...before, tick: '1 ms' }],
  ])('of %s cannot be followed', (_, after) => expect(compareSheets(before, after).same).toBe(false));
});

test('a sheet is shown with the run of which most is expected as it stands', () => {
  const run = (expected: number, set?: Record<string, number>) => ({
    expect: Object.fromEntries(Array.from({ length: expected }, (_, i) => [`e${i}`, ''])),
    ...(set === undefined ? {} : { set }),
  });
  expect(usualRun({ ...blankSheet(), runs: { a: run(1), b: run(3), c: run(9, { 'law.gain': 1 }) } })).toBe('b');
  expect(usualRun(blankSheet())).toBeUndefined();
});

describe('readings', () => {
  const facts = (name: string, count = 1): Watched => ({
    name,
    count,
    type: 'f64',
    unit: 'V',
    modes: [],
    stepped: true,
    every: 1,
    phase: 0,
  });

  test('are asked for once for all that is on screen, and hand out each its numbers', async () => {
    const asked: (readonly [number, readonly string[]])[] = [];
    const readings = createReadings((number, names) => asked.push([number, names]));
    const heard: Record<string, string> = {};
    const listen = (name: string) =>
      readings.register(name, (value) => (heard[name] = sentenceOf(value, undefined)), true);
    listen('a.y');
    const stop = listen('b.v');
    listen('c.gone');
    expect(heard['a.y']).toBe('not recorded');
    await Promise.resolve();
    expect(asked).toEqual([[1, ['a.y', 'b.v', 'c.gone']]]);
    readings.watched(1, [facts('a.y'), facts('b.v', 2), undefined]);
    readings.values(1, 7, Float64Array.of(1.5, 2.5, -3.5));
    expect(heard).toEqual({ 'a.y': '1.500 V', 'b.v': '[2.500, −3.500] V', 'c.gone': 'not recorded' });

    // What is told to an older question is dropped.
    stop();
    await Promise.resolve();
    expect(asked[1]).toEqual([2, ['a.y', 'c.gone']]);
    readings.values(1, 8, Float64Array.of(9, 9, 9));
    expect(heard['a.y']).toBe('1.500 V');
    readings.nothing();
    expect(heard['a.y']).toBe('not recorded');
  });
});
