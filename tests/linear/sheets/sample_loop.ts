/** Sheets of the samples as analysis and simulation take them: changed where asked, in 64 bits, with nothing that is not smooth. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { library } from '../../../blocks/library.ts';
import { type Compiled, compile } from '../../../compiler/compile.ts';
import type { Margins } from '../../../compiler/linear/margins.ts';
import { loopOf } from '../../../compiler/linear/periodic.ts';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import { type SheetModel, sheetModel } from '../../../compiler/linear/sheet_model.ts';
import type { SheetRequest } from '../../../compiler/linear/sheet_request.ts';
import type { OpenLoop } from '../../../compiler/linear/system.ts';
import { loadSheet } from '../../../compiler/sheet/load.ts';
import type { SettingValue, Sheet } from '../../../compiler/sheet/sheet.ts';
import { type Bench, type BenchOptions, openBench } from '../../../runtime/bench/bench.ts';
import { withSettings } from '../../../runtime/bench/run.ts';

const rowScoutText = readFileSync(join(import.meta.dirname, '../../../samples/row_scout/row_scout.sheet.json'), 'utf8');

/** Without noise, without steps of sensors, with encoders so fine that their steps do not matter, and without friction. */
export const smooth: Readonly<Record<string, SettingValue>> = {
  'across.noise': 0,
  'across.quantum': 0,
  'along.noise': 0,
  'along.quantum': 0,
  'gyro.noise': 0,
  'gyro.quantum': 0,
  'bearing.coulomb': 0,
  'bearing.viscous': 0,
  'left.bits': 32,
  'right.bits': 32,
  'wheel.by_left.bits': 32,
  'wheel.by_right.bits': 32,
};
/** Names of the sheet that go with it. */
export const fineEncoders = { per_turn: 4096 * 512 };

export function rowScout(set: Readonly<Record<string, SettingValue>> = {}, names: Sheet['names'] = {}): Sheet {
  const { value } = loadSheet(rowScoutText);
  if (value === undefined) throw new Error('the row scout cannot be read');
  const sheet = withSettings(value, set, []);
  return { ...sheet, names: { ...sheet.names, ...names } };
}

export function compiled(sheet: Sheet): Compiled {
  const { value, findings } = compile(sheet, { library, number: 'f64' });
  if (value === undefined) throw new Error(JSON.stringify(findings));
  return value;
}

export function model(sheet: Sheet, request: Partial<SheetRequest>): SheetModel {
  const { value, findings } = sheetModel(compiled(sheet), { from: [], to: [], cut: [], hold: {}, ...request });
  if (value === undefined) throw new Error(JSON.stringify(findings));
  return value;
}

/** The loop cut at a wire. */
export function loopAt(sheet: Sheet, cut: string, hold: SheetRequest['hold'] = {}): OpenLoop {
  return loopOf(model(sheet, { from: [cut], to: [cut], cut: [cut], hold }));
}

export function marginsAt(sheet: Sheet, cut: string, hold: SheetRequest['hold'] = {}): Margins {
  return sheetMargins(model(sheet, { from: [cut], to: [cut], cut: [cut], hold }));
}

export async function bench(sheet: Sheet, options: Partial<BenchOptions>): Promise<Bench> {
  const findings: never[] = [];
  const opened = await openBench(compiled(sheet), { engine: 'wasm', record: [], ...options }, findings);
  if (findings.length > 0) throw new Error(JSON.stringify(findings));
  return opened;
}

/** Part of a column of rows. */
export function column(rows: Float64Array, width: number, at: number): Float64Array {
  return Float64Array.from({ length: rows.length / width }, (_, k) => rows[k * width + at] ?? Number.NaN);
}
