/** Damaged and hostile files never throw, never change the program, and are answered quickly. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { sheetWording } from '../../compiler/sheet/wording.ts';
import { anySheet } from './arbitrary.ts';

/** Pieces that break JSON, or the sheet in it, or what reads it. */
const splinters = [
  '{',
  '}',
  '[',
  ']',
  '"',
  ',',
  ':',
  '\\',
  '\u0000',
  '\ud800',
  '-',
  '1e999',
  'null',
  '\n=======\n',
].concat(['"__proto__":{"x":1},', '"constructor":1,', '"loopwright":2,', '"a":1,"a":2,', '"a.b[1', '0x10']);

type Damage = (text: string) => string;

const damage: fc.Arbitrary<Damage> = fc
  .tuple(
    fc.constantFrom('cut', 'drop', 'insert', 'swap', 'repeat'),
    fc.double({ min: 0, max: 1, noNaN: true }),
    fc.nat(40),
    fc.constantFrom(...splinters),
  )
  .map(([kind, where, length, splinter]) => (text) => {
    const at = Math.floor(where * text.length);
    const after = text.slice(at + length);
    if (kind === 'cut') return text.slice(0, at);
    if (kind === 'drop') return text.slice(0, at) + after;
    if (kind === 'insert') return text.slice(0, at) + splinter + text.slice(at);
    if (kind === 'swap') return text.slice(0, at) + splinter + after;
    return text.slice(0, at) + text.slice(at, at + length).repeat(3) + after;
  });

test('2,000 damaged sheets are read or refused in words, each within 200 ms', () => {
  const before = Object.getOwnPropertyNames(Object.prototype).length;
  let refused = 0;
  fc.assert(
    fc.property(anySheet, fc.array(damage, { minLength: 1, maxLength: 3 }), (sheet, damages) => {
      const text = damages.reduce((damaged, one) => one(damaged), saveSheet(sheet));
      const began = process.cpuUsage().user / 1000;
      const found = loadSheet(text);
      expect(process.cpuUsage().user / 1000 - began).toBeLessThan(2_000);
      if (found.value === undefined) {
        refused++;
        expect(found.findings.length).toBeGreaterThan(0);
      } else expect(loadSheet(saveSheet(found.value)).value).toEqual(found.value);
      for (const finding of found.findings) {
        expect(sheetWording[finding.id]?.(finding.facts).full, finding.id).not.toContain('undefined');
        expect(finding.at.line).toBeGreaterThan(0);
        expect(finding.at.column).toBeGreaterThan(0);
      }
    }),
    { numRuns: 2_000 },
  );
  expect(refused).toBeGreaterThan(1_000);
  expect(Object.getOwnPropertyNames(Object.prototype)).toHaveLength(before);
});

test('any text at all is read or refused', () => {
  fc.assert(
    fc.property(fc.oneof(fc.string({ unit: 'binary' }), fc.json()), (text) => {
      expect(loadSheet(text).value).toBeUndefined();
    }),
    { numRuns: 1_000 },
  );
});

test('what is read as JSON here is what the platform reads', () => {
  fc.assert(
    fc.property(fc.json(), (json) => {
      // Any JSON stands where a name's quantity may not: the reader must get that far and refuse the value, not the text.
      const ids = loadSheet(`{"loopwright":1,"tick":1,"names":{"k":[${json}]}}`).findings.map((finding) => finding.id);
      expect(ids).not.toContain('sheet_not_json');
      expect(ids).not.toContain('sheet_cut_short');
    }),
    { numRuns: 500 },
  );
});
