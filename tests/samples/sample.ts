/** Reads a sample's sheet and runs it on the bench, as it stands or with something changed. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { library } from '../../blocks/library.ts';
import type { Finding } from '../../compiler/findings.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import type { Nudge, Run, SettingValue, Sheet } from '../../compiler/sheet/sheet.ts';
import { type RunResult, runSheet } from '../../runtime/bench/run.ts';

/** What a test changes in a run: its name tells what is broken, or put right. */
export interface Change {
  readonly set?: Readonly<Record<string, SettingValue>>;
  readonly nudges?: Readonly<Record<string, Nudge>>;
  readonly seed?: number;
}

/** The sheet in `samples/`, which must load without a finding. */
export function sample(path: string): Sheet {
  const { value, findings } = loadSheet(readFileSync(join(import.meta.dirname, '../../samples', path), 'utf8'));
  if (value === undefined || findings.length > 0) throw new Error(`${path}: ${JSON.stringify(findings)}`);
  return value;
}

/** One of the sheet's runs, changed; throws if the bench finds anything wrong with it. */
export async function bench(sheet: Sheet, name: string, change: Change = {}): Promise<RunResult> {
  const run: Run = sheet.runs[name] ?? {};
  const changed: Run = {
    ...run,
    seed: change.seed ?? run.seed ?? 0,
    set: { ...run.set, ...change.set },
    nudges: { ...run.nudges, ...change.nudges },
  };
  const findings: Finding[] = [];
  const result = await runSheet({ ...sheet, runs: { [name]: changed } }, { library, run: name }, findings);
  if (result === undefined || findings.some((finding) => finding.level === 'error'))
    throw new Error(`${name}: ${JSON.stringify(findings)}`);
  return result;
}

/** The names of the expectations that a run did not meet. */
export function unmet(result: RunResult): string[] {
  return result.judged.filter((expectation) => !expectation.holds).map((expectation) => expectation.name);
}

/** One recorded column, tick by tick. */
export function trace(result: RunResult, name: string): number[] {
  const width = result.columns.length;
  const column = result.columns.findIndex((one) => one.name === name);
  if (column < 0) throw new Error(`${name} is not recorded`);
  return Array.from(
    { length: result.rows.length / width },
    (_, row) => result.rows[row * width + column] ?? Number.NaN,
  );
}
