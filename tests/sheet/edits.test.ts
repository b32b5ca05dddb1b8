/** Edits give a changed sheet and leave the one before as it was. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { applyEdits } from '../../compiler/sheet/edits.ts';
import { blankSheet, entry, isFlipped, pointOf, type Sheet } from '../../compiler/sheet/sheet.ts';
import { anySheet } from './arbitrary.ts';

const sheet: Sheet = {
  ...blankSheet(),
  blocks: { a: { is: 'gain', set: { gain: 2 } }, b: { is: 'fixed' } },
  wires: { 'a.u': 'b.y' },
  runs: { push: { record: ['a.y', 'b.y'] } },
};

test('a value is put, its way made as needed', () => {
  const edited = applyEdits(sheet, [
    { path: ['blocks', 'a', 'set', 'gain'], value: 3 },
    { path: ['blocks', 'b', 'set', 'value'], value: '2 rad' },
    { path: ['wires', 'b.u'], value: 'a.y' },
    { path: ['runs', 'push', 'record', '1'], value: 'b.u' },
    { path: ['runs', 'push', 'record', '2'], value: 'a.u' },
  ]);
  expect(edited.blocks).toEqual({ a: { is: 'gain', set: { gain: 3 } }, b: { is: 'fixed', set: { value: '2 rad' } } });
  expect(edited.wires).toEqual({ 'a.u': 'b.y', 'b.u': 'a.y' });
  expect(edited.runs.push?.record).toEqual(['a.y', 'b.u', 'a.u']);
  expect(sheet.blocks.a?.set).toEqual({ gain: 2 });
  expect(edited.layout).toBe(sheet.layout);
});

test('without a value, what is there is removed and what is not there is no matter', () => {
  const edited = applyEdits(sheet, [
    { path: ['wires', 'a.u'] },
    { path: ['blocks', 'none', 'set', 'gain'] },
    { path: ['runs', 'push', 'record', '0'] },
  ]);
  expect(edited.wires).toEqual({});
  expect(edited.blocks).toBe(sheet.blocks);
  expect(edited.runs.push?.record).toEqual(['b.y']);
});

test('an edit cannot reach into JavaScript', () => {
  expect(() => applyEdits(sheet, [{ path: ['__proto__', 'polluted'], value: 1 }])).toThrow();
  const edited = applyEdits(sheet, [{ path: ['constructor', 'polluted'], value: 1 }]);
  expect(({} as { polluted?: number }).polluted).toBeUndefined();
  expect((Object as unknown as { polluted?: number }).polluted).toBeUndefined();
  expect(Object.hasOwn(edited, 'constructor')).toBe(true);
});

test('putting back what was there undoes any edit', () => {
  fc.assert(
    fc.property(
      anySheet,
      fc.constantFrom('blocks', 'wires', 'layout', 'shelf'),
      fc.string(),
      fc.jsonValue(),
      (any, key, name, value) => {
        fc.pre(name !== '__proto__');
        const before = entry<unknown>(any[key as 'blocks'], name);
        const path = [key, name];
        const there = applyEdits(any, [{ path, value }]);
        const back = applyEdits(there, [before === undefined ? { path } : { path, value: before }]);
        expect(back).toEqual(any);
      },
    ),
  );
});

test('names are looked up in the record alone', () => {
  expect(entry(sheet.blocks, 'a')?.is).toBe('gain');
  expect(entry(sheet.blocks, 'toString')).toBeUndefined();
});

test('a spot is a point, flipped or not', () => {
  expect([pointOf([1, 2]), isFlipped([1, 2])]).toEqual([[1, 2], false]);
  expect([pointOf({ at: [3, 4], flip: true }), isFlipped({ at: [3, 4], flip: true })]).toEqual([[3, 4], true]);
});
