/** Tables of numbers as CSV: read with findings that name the line, written so that every bit comes back. */

import { type Finding, type Found, nearestNames } from '../findings.ts';
import type { Type } from '../ir/program.ts';
import { shortest, shortestSingle } from '../language/quantity.ts';

/** A table: its columns in the file's order, each as long as there are rows. */
export interface Table {
  readonly rows: number;
  /** Seconds of each row, never going back. */
  readonly time: Float64Array;
  readonly columns: ReadonlyMap<string, Float64Array>;
}

/** The longest file that is read, in UTF-16 units. */
export const MAX_CSV_LENGTH = 64_000_000;

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;
const WORDS: Readonly<Record<string, number>> = {
  nan: Number.NaN,
  inf: Number.POSITIVE_INFINITY,
  infinity: Number.POSITIVE_INFINITY,
};

/**
 * Reads a table whose first line names its columns. The column `t`, or the first one where there is none, is the time of
 * each row. It and the `wanted` columns must be there and hold numbers; others are read as well if they hold numbers
 * alone. `file` is its name, for findings.
 */
export function readCsv(
  text: string,
  file: string,
  options: { readonly wanted?: readonly string[] } = {},
): Found<Table> {
  const refused = (id: string, facts: Readonly<Record<string, string>>, line?: number): Found<Table> => {
    const at = line === undefined ? { path: '' } : { path: '', line };
    const finding: Finding = { id, level: 'error', at, facts: { file, ...facts } };
    return { value: undefined, findings: [finding] };
  };
  if (text.length > MAX_CSV_LENGTH) {
    const facts = { size: (text.length / 1e6).toFixed(1), limit: (MAX_CSV_LENGTH / 1e6).toFixed(1) };
    return refused('csv_too_large', facts);
  }
  const lines = text.replace(/^\ufeff/, '').split(/\r\n|\n|\r/);
  while (lines.at(-1)?.trim() === '') lines.pop();
  const names = fields(lines[0] ?? '');
  if (lines.length < 2) return refused('csv_empty', {});

  const twice = names.find((name, i) => names.indexOf(name) < i);
  if (twice !== undefined) return refused('csv_twice', { column: twice }, 1);
  const timed = names.includes('t') ? 't' : (names[0] ?? '');
  const wanted = [timed, ...(options.wanted ?? names)];
  for (const column of wanted) {
    if (names.includes(column)) continue;
    const near = nearestNames(column, names)[0] ?? '';
    return refused('csv_no_column', { column, near, known: names.join(', ') }, 1);
  }

  const rows = lines.length - 1;
  const values = names.map(() => new Float64Array(rows));
  const words = new Set<number>();
  for (let row = 0; row < rows; row++) {
    const line = row + 2;
    const cells = fields(lines[row + 1] ?? '');
    if (cells.length !== names.length) {
      const facts = { line: String(line), count: String(cells.length), wanted: String(names.length) };
      return refused('csv_ragged', facts, line);
    }
    for (let i = 0; i < names.length; i++) {
      const cell = cells[i] ?? '';
      const value = numberIn(cell);
      const column = names[i] ?? '';
      if (value !== undefined) {
        const into = values[i];
        if (into !== undefined) into[row] = value;
      } else if (wanted.includes(column)) {
        return refused(
          'csv_not_number',
          { line: String(line), column, found: JSON.stringify(cell.slice(0, 40)) },
          line,
        );
      } else words.add(i);
    }
  }

  const columns = new Map<string, Float64Array>();
  for (const [i, name] of names.entries()) {
    const column = values[i];
    if (column !== undefined && !words.has(i)) columns.set(name, column);
  }
  const time = columns.get(timed) ?? new Float64Array(rows);
  const back = firstFall(time);
  if (back === undefined) return { value: { rows, time, columns }, findings: [] };
  const line = back.row + 2;
  return refused('csv_backwards', { column: timed, line: String(line), before: back.before, found: back.found }, line);
}

/** Where a column goes back, or holds no number to compare. */
function firstFall(column: Float64Array): { row: number; before: string; found: string } | undefined {
  let before = Number.NEGATIVE_INFINITY;
  for (const [row, value] of column.entries()) {
    if (!(value >= before)) return { row, before: String(before), found: String(value) };
    before = value;
  }
  return undefined;
}

/** The fields of one line; quotes may surround one, and a doubled quote in it stands for one (RFC 4180). */
function fields(line: string): string[] {
  if (!line.includes('"')) return line.split(',').map((field) => field.trim());
  const found: string[] = [];
  for (const match of line.matchAll(/(?:^|,)\s*(?:"((?:[^"]|"")*)"\s*(?=,|$)|([^,]*))/g)) {
    found.push(match[1]?.replaceAll('""', '"') ?? (match[2] ?? '').trim());
  }
  return found;
}

function numberIn(cell: string): number | undefined {
  if (NUMBER.test(cell)) return Number(cell);
  const word = /^([+-]?)([a-z]+)$/i.exec(cell);
  const value = WORDS[word?.[2]?.toLowerCase() ?? ''];
  return value === undefined ? undefined : word?.[1] === '-' ? -value : value;
}

/**
 * One value as text: the shortest decimal that comes back to the same bits in its own width, `nan`, `inf` or `-inf`;
 * with `bits`, a real number's raw IEEE 754 pattern in hexadecimal, 8 or 16 digits, every not-a-number as one. Truths
 * are 0 and 1, whole numbers stay decimal.
 */
export function valueText(value: number, type: Type, bits = false): string {
  if (type === 'bool' || type === 'i32') return String(value);
  if (bits) return type === 'f32' ? bits32(value) : bits64(value);
  if (Number.isNaN(value)) return 'nan';
  if (!Number.isFinite(value)) return value > 0 ? 'inf' : '-inf';
  return type === 'f32' ? shortestSingle(value) : shortest(value);
}

/** One line of a table. */
export function csvLine(cells: readonly string[]): string {
  return `${cells.map((cell) => (/[",\n\r]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell)).join(',')}\n`;
}

function bits32(value: number): string {
  if (Number.isNaN(value)) return '7fc00000';
  const view = new DataView(new ArrayBuffer(4));
  view.setFloat32(0, value);
  return view.getUint32(0).toString(16).padStart(8, '0');
}

function bits64(value: number): string {
  if (Number.isNaN(value)) return '7ff8000000000000';
  const view = new DataView(new ArrayBuffer(8));
  view.setFloat64(0, value);
  return view.getBigUint64(0).toString(16).padStart(16, '0');
}
