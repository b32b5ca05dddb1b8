/** Plays a small sheet and gives what was recorded, tick by tick. */

import { library } from '../../blocks/library.ts';
import type { Finding } from '../../compiler/findings.ts';
import { blankSheet, type Run, type Sheet } from '../../compiler/sheet/sheet.ts';
import { runSheet } from '../../runtime/bench/run.ts';

/** Columns by port, of so many ticks of 10 ms at `f64`. */
export async function played(
  parts: Partial<Sheet>,
  record: readonly string[],
  ticks: number,
  run: Run = {},
): Promise<Record<string, number[]>> {
  const sheet: Sheet = { ...blankSheet(), tick: '10 ms', number: 'f64', ...parts, runs: { it: run } };
  const findings: Finding[] = [];
  const result = await runSheet(sheet, { library, run: 'it', record, for: `${ticks * 10} ms` }, findings);
  if (result === undefined) throw new Error(JSON.stringify(findings));
  const width = result.columns.length;
  return Object.fromEntries(
    result.columns.map(({ name }, i) => [
      name,
      Array.from({ length: ticks }, (_, k) => result.rows[k * width + i] ?? Number.NaN),
    ]),
  );
}
