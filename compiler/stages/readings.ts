/** Recorded numbers inside a program: a table that is walked forward, one row at most a tick. */

import type { Builder } from '../ir/build.ts';
import type { Real, Value } from '../ir/program.ts';
import { wholePeriods } from '../language/quantity.ts';
import type { Spot } from '../language/syntax.ts';
import { readCsv } from '../sheet/csv.ts';
import type { Instance } from './resolve.ts';
import { type Lowering, textFinding } from './slots.ts';

/** Rows that differ for a block of this period: the number of the own tick on which each begins, and its values. */
interface Rows {
  readonly begins: readonly number[];
  /** Row by row. */
  readonly values: readonly number[];
}

/**
 * The values of the row that holds now, 0 before the first. A row holds from the first own tick that is not before its
 * time; of several that begin on one tick the last one counts. `tick` is the base tick.
 */
export function emitReadings(
  b: Builder,
  real: Real,
  tick: Value,
  instance: Instance,
  file: string,
  columns: readonly string[],
  lowering: Lowering,
  at: Spot,
): readonly Value[] | undefined {
  const rows = readRows(instance, file, columns, lowering, at);
  if (rows === undefined) return undefined;
  if (rows.values.length === 0) return columns.map(() => b.const(real, 0));
  const { assembly } = lowering;
  const count = rows.begins.length;
  const block = instance.path;
  const row = assembly.slot(`${block}.row`, 'memory', 'i32', { block, note: 'rows begun' });
  const begins = assembly.slot(`${block}.begins`, 'setting', 'i32', {
    block,
    length: count,
    start: rows.begins,
    note: 'tick on which each row begins',
  });
  const table = assembly.slot(`${block}.table`, 'setting', real, {
    block,
    length: rows.values.length,
    start: rows.values,
  });
  const before = b.load(row, 'i32');
  const left = b.op('lt_i32', before, b.const('i32', count));
  const reached = b.op('le_i32', b.load(begins, 'i32', before), tick);
  const one = b.const('i32', 1);
  const now = b.op('select_i32', b.op('and_bool', left, reached), b.op('add_i32', before, one), before);
  b.store(row, now);
  const none = b.op('eq_i32', now, b.const('i32', 0));
  const first = b.op('mul_i32', b.op('sub_i32', now, one), b.const('i32', columns.length));
  return columns.map((_, i) => {
    const value = b.load(table, real, b.op('add_i32', first, b.const('i32', i)));
    return b.op(`select_${real}`, none, b.const(real, 0), value);
  });
}

function readRows(
  instance: Instance,
  file: string,
  columns: readonly string[],
  lowering: Lowering,
  at: Spot,
): Rows | undefined {
  const text = lowering.files(file);
  if (text === undefined) {
    lowering.findings.push(textFinding(instance, 'no_such_file', { file }, at, ''));
    return undefined;
  }
  const found = readCsv(text, file, { wanted: columns });
  for (const finding of found.findings)
    lowering.findings.push({ ...finding, at: { ...finding.at, path: `${instance.path}.file` } });
  const table = found.value;
  const time = table?.time;
  if (table === undefined || time === undefined) return undefined;
  const data = columns.map((column) => table.columns.get(column));
  const begins: number[] = [];
  const values: number[] = [];
  const { tick } = lowering.resolved;
  for (let row = 0; row < table.rows; row++) {
    const baseTick = Math.max(0, wholePeriods(Math.max(0, time[row] ?? 0), tick));
    const own = Math.max(0, Math.ceil((baseTick - instance.phase) / instance.every));
    const begin = instance.phase + own * instance.every;
    if (begins.at(-1) === begin) values.length -= columns.length;
    else begins.push(begin);
    for (const column of data) values.push(column?.[row] ?? 0);
  }
  return { begins, values };
}
