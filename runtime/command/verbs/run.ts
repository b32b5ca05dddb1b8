/** `run`: a bench run, its rows as a table. */

import type { Finding } from '../../../compiler/findings.ts';
import { multiply, nearestDouble, shortestDecimal } from '../../../compiler/language/rational.ts';
import { csvLine, valueText } from '../../../compiler/sheet/csv.ts';
import { applyEdits } from '../../../compiler/sheet/edits.ts';
import type { SettingValue } from '../../../compiler/sheet/sheet.ts';
import type { Bench, Engine } from '../../bench/bench.ts';
import { prepareRun } from '../../bench/run.ts';
import { type Answer, messagesOf, Refusal, refusedBy } from '../answer.ts';
import { quantityArgument } from '../arguments.ts';
import { isAnswer, openSheet } from '../design.ts';
import { TextFile } from '../files.ts';

export interface RunArguments {
  readonly run?: string;
  readonly for?: string;
  readonly set: readonly (readonly [path: string, value: SettingValue])[];
  readonly record?: readonly string[];
  /** A file, or `-` for standard output. */
  readonly csv?: string;
  readonly bits?: boolean;
  readonly engine: Engine;
  readonly json: boolean;
}

/** Ticks run before rows are handed on. */
const SLICE = 16_384;
/** Values that one JSON object or one screen may hold. */
const MAX_VALUES = 20_000_000;

export async function run(file: string, given: RunArguments): Promise<Answer> {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const findings: Finding[] = [];
  // A run for its rows alone: what it expects is judged by `bench`.
  const sheet =
    given.run === undefined ? open.sheet : applyEdits(open.sheet, [{ path: ['runs', given.run, 'expect'] }]);
  const prepared = await prepareRun(
    sheet,
    {
      ...open.options,
      engine: given.engine,
      set: Object.fromEntries(given.set),
      ...(given.run === undefined ? {} : { run: given.run }),
      ...(given.for === undefined ? {} : { for: quantityArgument(given.for) }),
      ...(given.record === undefined ? {} : { record: given.record }),
    },
    findings,
  );
  if (prepared === undefined)
    return refusedBy(
      file,
      findings.filter((finding) => finding.level === 'error'),
    );

  const { bench, ticks } = prepared;
  const columns = ['tick', 't', ...bench.columns.map((column) => column.name)];
  const toFile = given.csv !== undefined && given.csv !== '-';
  const inMemory = given.json || !toFile;
  if (inMemory && ticks * columns.length > MAX_VALUES) {
    throw new Refusal(
      `${ticks} rows of ${columns.length} values are too many to print; write them to a file with --csv`,
    );
  }
  const csv = toFile ? new TextFile(given.csv) : undefined;
  const lines: string[] = [csvLine(columns)];
  const rows: (number | string)[][] = [];
  const raw = rawColumns(bench, given.bits === true);
  try {
    for (const slice of slices(bench, ticks, given.bits === true)) {
      if (given.json) for (const cells of slice) rows.push(cells.map((cell, i) => jsonValue(cell, raw.has(i))));
      if (csv !== undefined || !given.json) lines.push(...slice.map(csvLine));
      if (csv !== undefined) csv.add(lines.splice(0).join(''));
    }
    csv?.add(lines.splice(0).join(''));
    csv?.keep();
  } finally {
    csv?.drop();
  }
  const summary = `${ticks} ticks; largest solver difference ${valueText(bench.plantError, 'f64')}`;
  return {
    status: 0,
    data: { ticks, columns, rows, plantError: bench.plantError },
    text: toFile ? summary : lines.join('').trimEnd(),
    messages: [
      ...messagesOf(
        file,
        findings.filter((finding) => finding.level === 'error'),
      ),
    ],
  };
}

/** The rows as texts, a slice of ticks at a time: tick, time and what is recorded. */
function* slices(bench: Bench, ticks: number, bits: boolean): Generator<string[][]> {
  const width = bench.columns.length;
  const types = bench.columns.map((column) => column.type);
  const period = shortestDecimal(bench.compiled.resolved.tick);
  for (let done = 0; done < ticks; ) {
    const count = Math.min(SLICE, ticks - done);
    const values = bench.advance(count);
    yield Array.from({ length: count }, (_, row) => {
      const tick = done + row;
      const time = nearestDouble(multiply(period, { num: BigInt(tick), den: 1n }));
      const cells = types.map((type, i) => valueText(values[row * width + i] ?? Number.NaN, type, bits));
      return [String(tick), valueText(time, 'f64'), ...cells];
    });
    done += count;
  }
}

/** Which columns hold raw bits rather than decimals. */
function rawColumns(bench: Bench, bits: boolean): ReadonlySet<number> {
  const isRaw = (type: string) => bits && (type === 'f32' || type === 'f64');
  return new Set(bench.columns.flatMap((column, i) => (isRaw(column.type) ? [i + 2] : [])));
}

/** A cell as JSON has it: a number where that says the same, else the text (`nan`, `inf`, −0, raw bits). */
function jsonValue(cell: string, raw: boolean): number | string {
  const value = Number(cell);
  return !raw && Number.isFinite(value) && String(value) === cell ? value : cell;
}
