/** A sheet knows the library blocks it was made with: a newer one is said, shown and kept or taken. */

import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import type { Edit, Finding } from '../../compiler/findings.ts';
import { hashOf, withVersions } from '../../compiler/review/versions.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import type { Library } from '../../compiler/stages/shelf.ts';
import { sentence } from '../../compiler/wording.ts';
import { sample } from '../samples/sample.ts';

const before = library.get('gain')?.text ?? '';
const after = before.replace('out y: [n] Y\n', 'out y: [n] Y "the product"\n');
const shared = (entry: { text: string; former?: ReadonlyMap<string, string> }): Library =>
  new Map([...library, ['gain', { shelf: 'compensate', ...entry }]]);

const sheet: Sheet = withVersions(
  { ...blankSheet(), blocks: { r: { is: 'ramp' }, it: { is: 'gain' } }, wires: { 'it.u': 'r.y' } },
  library,
);
const changed = (on: Sheet, from: Library): readonly Finding[] =>
  compile(on, { library: from }).findings.filter((finding) => finding.id.endsWith('_changed'));

/** The sheet after a repair's edits, through its file. */
function mended(on: Sheet, edits: readonly Edit[] = []): Sheet {
  const data = structuredClone(on) as unknown as Record<string, Record<string, unknown>>;
  for (const { path, value } of edits) {
    const [record = '', key = ''] = path;
    if (value === undefined) delete data[record]?.[key];
    else (data[record] as Record<string, unknown>)[key] = value;
  }
  const loaded = loadSheet(saveSheet(data as unknown as Sheet));
  if (loaded.value === undefined) throw new Error(JSON.stringify(loaded.findings));
  return loaded.value;
}

test('the hash is FNV-1a (RFC 9923, section 8: 64-bit values of "" , "a" and "foobar")', () => {
  expect(['', 'a', 'foobar'].map(hashOf)).toEqual(['cbf29ce484222325', 'af63dc4c8601ec8c', '85944171f73967e8']);
});

test('a sheet keeps a version of each library block it uses, and they survive its file', () => {
  expect(Object.keys(sheet.versions).sort()).toEqual(['arithmetic', 'gain', 'ramp']);
  expect(mended(sheet).versions).toEqual(sheet.versions);
  expect(changed(sheet, library)).toEqual([]);
  const all = withVersions(sample('row_scout/row_scout.sheet.json'), library);
  expect(changed(all, library)).toEqual([]);
  expect(all.versions.complementary).toBe(hashOf(library.get('complementary')?.text ?? ''));
});

test('a block whose former text is there shows what changed, and can be taken or kept', () => {
  const newer = shared({ text: after, former: new Map([[hashOf(before), before]]) });
  const [finding] = changed(sheet, newer);
  if (finding === undefined) throw new Error('nothing was found');
  expect(sentence(finding).full).toContain('gain');
  expect(finding.facts.difference).toBe('− out y: [n] Y\n+ out y: [n] Y "the product"');
  expect(changed(mended(sheet, finding.repair?.edits), newer)).toEqual([]);
  const kept = mended(sheet, finding.otherwise?.edits);
  expect(kept.shelf.gain).toBe(before);
  expect(changed(kept, newer)).toEqual([]);
});

test('a block whose former text is not known can only be taken', () => {
  const [finding] = changed(sheet, shared({ text: after }));
  expect(finding?.otherwise).toBeUndefined();
  expect(finding?.repair?.edits).toEqual([{ path: ['versions', 'gain'], value: hashOf(after) }]);
});

test('another arithmetic is said too', () => {
  const old = { ...sheet, versions: { ...sheet.versions, arithmetic: '0000000000000000' } };
  const [finding] = changed(old, library);
  expect(finding?.id).toBe('arithmetic_changed');
  expect(changed(mended(old, finding?.repair?.edits), library)).toEqual([]);
});
