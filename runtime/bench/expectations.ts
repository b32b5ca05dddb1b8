/** Judges the sentences a run must satisfy, tick by tick, over what was recorded. */

import type { Compiled } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { HostGraph } from '../../compiler/language/host_value.ts';
import { parseExpectation, parseUnit } from '../../compiler/language/parser.ts';
import { wholePeriods } from '../../compiler/language/quantity.ts';
import type { Expression } from '../../compiler/language/syntax.ts';
import { declaredForm, UnitInference, UnitSolver } from '../../compiler/language/unit_check.ts';
import { namesIn } from '../../compiler/language/walk.ts';
import { Allowance } from '../../compiler/stages/allowance.ts';
import { lowerExpression } from '../../compiler/stages/expression.ts';
import { scalar } from '../../compiler/stages/quantity.ts';
import type { Column } from './bench.ts';

export interface Judged {
  readonly name: string;
  readonly text: string;
  readonly holds: boolean;
  /** Tick of the first failure of an `always`, or of the first success of a `once`. */
  readonly tick: number | undefined;
}

const parsed = new Map<string, ReturnType<typeof parseExpectation>>();

function parse(text: string): ReturnType<typeof parseExpectation> {
  const known = parsed.get(text);
  if (known !== undefined) return known;
  const found = parseExpectation(text);
  parsed.set(text, found);
  return found;
}

/** The ports an expectation speaks of. */
export function namesExpected(text: string, where: string, findings: Finding[]): string[] {
  const found = parse(text);
  for (const finding of found.findings) findings.push({ ...finding, at: { ...finding.at, path: where } });
  return found.value === undefined ? [] : portsIn(found.value.condition);
}

/** Names with a dot, with their element where one is asked for. */
function portsIn(condition: Expression): string[] {
  return namesIn(condition).filter((name) => name.includes('.'));
}

/** An expectation over the rows of a run. */
export interface Watched {
  readonly name: string;
  readonly text: string;
  readonly mode: 'always' | 'once';
  /** First and last tick it is judged at; without an `until` the last is infinite. */
  readonly begin: number;
  readonly end: number;
  /** Whether the condition holds in a row. */
  holds(row: Float64Array): boolean;
}

/** Expectations made ready for rows of these columns; those that cannot be are reported and left out. */
export function watchExpectations(
  expect: Readonly<Record<string, string>>,
  compiled: Compiled,
  columns: readonly Column[],
  findings: Finding[],
): Watched[] {
  const { tick } = compiled.resolved;
  const seconds = (e: Expression | undefined): number | undefined => {
    if (e === undefined) return undefined;
    const value = compiled.resolved.values.evaluate(e, '');
    return 'id' in value ? undefined : value.numbers[0];
  };
  return Object.entries(expect).flatMap(([name, text]): Watched[] => {
    const expectation = parse(text).value;
    if (expectation === undefined) return [];
    const holds = evaluator(expectation.condition, compiled, columns, name, findings);
    if (holds === undefined) return [];
    const [from, until] = [seconds(expectation.from), seconds(expectation.until)];
    return [
      {
        name,
        text,
        mode: expectation.mode,
        begin: from === undefined ? 0 : wholePeriods(from, tick),
        end: until === undefined ? Number.POSITIVE_INFINITY : lastTickBy(until, tick),
        holds,
      },
    ];
  });
}

export function judge(
  expect: Readonly<Record<string, string>>,
  compiled: Compiled,
  columns: readonly Column[],
  rows: Float64Array,
  findings: Finding[],
): Judged[] {
  const width = columns.length;
  return watchExpectations(expect, compiled, columns, findings).map((watched) => {
    const ticks = width === 0 ? 0 : rows.length / width;
    const end = Math.min(ticks - 1, watched.end);
    const always = watched.mode === 'always';
    const { name, text } = watched;
    for (let k = watched.begin; k <= end; k++)
      if (watched.holds(rows.subarray(k * width, (k + 1) * width)) !== always)
        return { name, text, holds: !always, tick: k };
    return { name, text, holds: always && watched.begin <= end, tick: undefined };
  });
}

/** The last tick whose time is not after `time`. */
function lastTickBy(time: number, tick: number): number {
  const next = wholePeriods(time, tick);
  return wholePeriods(time + tick, tick) === next + 1 && Math.abs(next * tick - time) < tick * 1e-9 ? next : next - 1;
}

/** A function from a row to whether the condition holds; undefined after findings were reported. */
function evaluator(
  condition: Expression,
  compiled: Compiled,
  columns: readonly Column[],
  place: string,
  findings: Finding[],
): ((row: Float64Array) => boolean) | undefined {
  const graph = new HostGraph();
  const index = new Map(columns.map((column, i) => [column.name, i]));
  const used = new Map<string, number>();
  const report = (id: string, facts: Readonly<Record<string, string>>): void => {
    findings.push({ id, level: 'error', at: { path: `expect.${place}` }, facts });
  };
  const column = (name: string, i: number): ReturnType<typeof scalar> => {
    used.set(name, i);
    const type = columns[i]?.type;
    return scalar(type === 'bool' ? 'bool' : type === 'i32' ? 'int' : 'real', { host: graph.setting(name, 0) });
  };
  const quantity = lowerExpression(condition, {
    graph,
    allowance: new Allowance().of(place),
    runTime: undefined,
    tick: compiled.resolved.tick,
    period: compiled.resolved.tick,
    list: () => undefined,
    report,
    name: (name) => {
      const i = index.get(name);
      if (i !== undefined) return column(name, i);
      const elements = columns.flatMap((c, j) => (c.name.startsWith(`${name}[`) ? [column(c.name, j)] : []));
      const [first] = elements;
      if (first !== undefined)
        return { ...first, rows: elements.length, columns: 1, items: elements.flatMap((element) => element.items) };
      const mode = modeNumber(name, condition, compiled);
      if (mode !== undefined) return scalar('int', { host: graph.constant(mode) });
      const value = compiled.resolved.values.evaluate({ kind: 'name', name, at: { line: 1, column: 1 } }, name);
      if ('id' in value) {
        report(value.id, value.facts);
        return undefined;
      }
      return {
        kind: value.kind,
        rows: value.rows,
        columns: value.columns,
        items: value.numbers.map((n) => ({ host: graph.constant(n) })),
      };
    },
  });
  if (quantity === undefined) return undefined;
  const node = quantity.items[0]?.host;
  if (quantity.kind !== 'bool' || quantity.items.length !== 1 || node === undefined) {
    report('not_a_condition', {});
    return undefined;
  }
  checkUnits(condition, columns, report);
  return (row) => {
    const values = new Map<string, number>();
    for (const [name, i] of used) {
      const value = row[i] ?? Number.NaN;
      if (Number.isNaN(value)) return false;
      values.set(name, value);
    }
    return graph.recompute([node], values)[0] === 1;
  };
}

function modeNumber(name: string, condition: Expression, compiled: Compiled): number | undefined {
  for (const port of portsIn(condition)) {
    const modes = compiled.resolved.instances.get(port.slice(0, port.lastIndexOf('.')))?.flat.text.modes ?? [];
    if (modes.includes(name)) return modes.indexOf(name);
  }
  return undefined;
}

function checkUnits(
  condition: Expression,
  columns: readonly Column[],
  report: (id: string, facts: Record<string, string>) => void,
): void {
  const inference = new UnitInference(
    {
      unit: (name) => {
        const column = columns.find((c) => c.name === name || c.name.startsWith(`${name}[`));
        const unit = column === undefined || column.unit === '' ? undefined : parseUnit(column.unit).value;
        return declaredForm(unit);
      },
      list: () => undefined,
    },
    new UnitSolver(),
  );
  inference.infer(condition);
  if (inference.conflicts.length > 0) report('units_disagree', { value: '' });
}
