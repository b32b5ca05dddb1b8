/** Older sheets are brought up to date a step at a time, and no step is ever missing. */

import { existsSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { type Migration, migrate, migrations } from '../../compiler/sheet/migrate.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { SHEET_VERSION } from '../../compiler/sheet/sheet.ts';

test('there is one step from every version before this one, in order, each with a sentence', () => {
  expect(migrations.map((step) => step.from)).toEqual(Array.from({ length: SHEET_VERSION - 1 }, (_, i) => i + 1));
  for (const step of migrations) expect(step.what).toMatch(/\.$/);
});

test.each(Array.from({ length: SHEET_VERSION }, (_, i) => i + 1))('a sheet kept from version %i loads', (version) => {
  const file = new URL(`../reference/sheets/version_${version}.sheet.json`, import.meta.url);
  expect(existsSync(file), 'every version keeps a file that uses all of it').toBe(true);
  const text = readFileSync(file, 'utf8');
  const found = loadSheet(text);
  expect(found.findings).toEqual([]);
  if (version === SHEET_VERSION && found.value !== undefined) expect(saveSheet(found.value)).toBe(text);
});

const steps: readonly Migration[] = [
  { from: 1, what: 'period became tick.', change: ({ period, ...rest }) => ({ ...rest, tick: period }) },
  { from: 2, what: 'Titles are shouted.', change: (raw) => ({ ...raw, title: String(raw.title).toUpperCase() }) },
];

test('steps run in order from the version of the file, and count it up', () => {
  const old = { loopwright: 1, period: 2, title: 'x', other: {} };
  expect(migrate(old, 1, steps, 3)).toEqual({ loopwright: 3, tick: 2, title: 'X', other: {} });
  expect(migrate({ loopwright: 2, tick: 4, title: 'y' }, 2, steps, 3)).toEqual({ loopwright: 3, tick: 4, title: 'Y' });
  expect(old).toEqual({ loopwright: 1, period: 2, title: 'x', other: {} });
});

test('a missing step is our fault and says so', () => {
  expect(() => migrate({ loopwright: 1 }, 1, steps.slice(1), 3)).toThrow('no migration from sheet version 1');
});
