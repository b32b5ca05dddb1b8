/** Every wire of every sample can be asked about: margins with nothing but numbers in them, or a finding that says why not. */

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import { sheetModel } from '../../../compiler/linear/sheet_model.ts';
import { linearWording } from '../../../compiler/linear/wording.ts';
import { loadSheet } from '../../../compiler/sheet/load.ts';
import { compiled } from './sample_loop.ts';

const folder = join(import.meta.dirname, '../../../samples');
const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.sheet.json'));

test.each(files)('%s', { timeout: 120_000 }, (file) => {
  const { value: sheet } = loadSheet(readFileSync(join(folder, file), 'utf8'));
  if (sheet === undefined) throw new Error(file);
  const made = compiled(sheet);
  let loops = 0;
  for (const wire of Object.keys(sheet.wires)) {
    const { value, findings } = sheetModel(made, { from: [wire], to: [wire], cut: [wire], hold: {} });
    expect(
      findings.every(({ id }) => Object.hasOwn(linearWording, id)),
      `${wire}: ${JSON.stringify(findings)}`,
    ).toBe(true);
    if (value === undefined) continue;
    loops++;
    const found = sheetMargins(value);
    expect(JSON.stringify(found), wire).toBe(
      JSON.stringify(found, (_, entry: unknown) => (Number.isNaN(entry) ? 'NaN' : entry)),
    );
    expect(found.closedLoopUnstable, wire).not.toBeNull();
  }
  console.log(`${file}: ${loops} of ${Object.keys(sheet.wires).length} wires lie on a loop`);
  expect(loops).toBeGreaterThan(0);
});
