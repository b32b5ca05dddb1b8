/** Runs the examples of a block text: each becomes a small sheet of its own. */

import { compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { BlockText, Example, ExampleValue } from '../../compiler/language/syntax.ts';
import { type BlockOnSheet, blankSheet, type SettingValue, type Sheet } from '../../compiler/sheet/sheet.ts';
import { SheetValues } from '../../compiler/stages/sheet_value.ts';
import { type Library, parsedBlock } from '../../compiler/stages/shelf.ts';
import { type Engine, openBench } from './bench.ts';

/** One value an example gives, against what the block gave. */
export interface Compared {
  readonly step: number;
  readonly output: string;
  readonly expected: readonly number[];
  readonly got: readonly number[];
  readonly agrees: boolean;
}

export interface ExampleResult {
  readonly compared: readonly Compared[];
  readonly findings: readonly Finding[];
}

const DEFAULT_PERIOD = '10 ms';

/** Runs one example at `f64`. */
export async function runExample(
  name: string,
  text: string,
  example: Example,
  library: Library,
  engine: Engine = 'interpreter',
): Promise<ExampleResult> {
  const findings: Finding[] = [];
  const block = parsedBlock(text, name).value;
  if (block === undefined) return { compared: [], findings: parsedBlock(text, name).findings };
  const values = new SheetValues(blankSheet(), true);
  const numbers = (value: ExampleValue): readonly number[] => {
    const read = values.evaluate(value.value, value.name);
    if ('id' in read) {
      findings.push({
        id: read.id,
        level: 'error',
        at: { path: name, line: example.at.line },
        facts: { ...read.facts },
      });
      return [];
    }
    return read.numbers;
  };
  const given = new Map<string, readonly number[]>();
  for (const step of example.steps)
    for (const input of step.inputs) if (!given.has(input.name)) given.set(input.name, numbers(input));
  const plantSources = new Set<string>();
  const makeSheet = (): Sheet => exampleSheet(name, text, block, example, given, plantSources, values);
  let found = compile(makeSheet(), { library, number: 'f64', files: (text) => text.replaceAll('|', '\n') });
  for (const finding of found.findings)
    if (finding.id === 'wire_across_shore') plantSources.add(finding.at.path.slice('it.'.length));
  if (plantSources.size > 0)
    found = compile(makeSheet(), { library, number: 'f64', files: (text) => text.replaceAll('|', '\n') });
  if (found.value === undefined) return { compared: [], findings: [...findings, ...found.findings] };
  const outputs = [...new Set(example.steps.flatMap((step) => step.outputs.map((output) => output.name)))];
  const bench = await openBench(found.value, { engine, record: outputs.map((output) => `it.${output}`) }, findings);
  const compared: Compared[] = [];
  for (const [i, step] of example.steps.entries()) {
    for (const input of step.inputs) bench.put(`source_${input.name}.value`, numbers(input));
    const rows = bench.advance(step.ticks);
    const width = bench.columns.length;
    const last = rows.subarray(rows.length - width);
    for (const output of step.outputs) {
      const prefix = `it.${output.name}`;
      const got = [...last].filter((_, j) => {
        const column = bench.columns[j]?.name ?? '';
        return column === prefix || column.startsWith(`${prefix}[`);
      });
      const expected = modeOr(output, block) ?? numbers(output);
      compared.push({ step: i + 1, output: output.name, expected, got, agrees: agree(output, expected, got) });
    }
  }
  return { compared, findings };
}

/** A mode is written by its name. */
function modeOr(output: ExampleValue, block: BlockText): readonly number[] | undefined {
  const e = output.value;
  if (e.kind !== 'name' || !block.modes.includes(e.name)) return undefined;
  return [block.modes.indexOf(e.name)];
}

function agree(output: ExampleValue, expected: readonly number[], got: readonly number[]): boolean {
  if (expected.length !== got.length) return false;
  const slack = output.about ? lastDigit(output) / 2 : undefined;
  return expected.every((want, i) => {
    const value = got[i] ?? Number.NaN;
    if (Object.is(want, value)) return true;
    return Math.abs(value - want) <= (slack ?? 1e-9 * Math.max(1, Math.abs(want)));
  });
}

/** Size of the last decimal written, in SI. */
function lastDigit(output: ExampleValue): number {
  const e = output.value.kind === 'unary' ? output.value.arg : output.value;
  if (e.kind !== 'number') return 0;
  const digits = /^[\d.]+/.exec(e.text)?.[0] ?? '1';
  const decimals = digits.split('.')[1]?.length ?? 0;
  const written = Number(digits);
  const factor = written === 0 ? 1 : Math.abs(e.value / written);
  return factor * 10 ** -decimals;
}

function settingOf(numbers: readonly number[]): SettingValue {
  return numbers.length === 1 ? (numbers[0] ?? 0) : [...numbers];
}

function exampleSheet(
  name: string,
  text: string,
  block: BlockText,
  example: Example,
  given: ReadonlyMap<string, readonly number[]>,
  plantSources: ReadonlySet<string>,
  values: SheetValues,
): Sheet {
  const set: Record<string, SettingValue> = {};
  for (const setting of example.settings) {
    const e = setting.value;
    if (e.kind === 'word') set[setting.name] = e.word;
    else if (e.kind === 'matrix' && e.rows.flat().some((entry) => entry.kind === 'word'))
      set[setting.name] = e.rows.flat().flatMap((entry) => (entry.kind === 'word' ? [entry.word] : []));
    else {
      const read = values.evaluate(e, setting.name);
      if ('id' in read) continue;
      set[setting.name] =
        read.kind === 'bool'
          ? read.numbers[0] === 1
          : read.columns > 1
            ? Array.from({ length: read.rows }, (_, i) => read.numbers.slice(i * read.columns, (i + 1) * read.columns))
            : e.kind === 'matrix'
              ? [...read.numbers]
              : settingOf(read.numbers);
    }
  }
  const every = example.every === undefined ? undefined : values.evaluate(example.every, 'every');
  const tick = every === undefined || 'id' in every ? DEFAULT_PERIOD : (every.numbers[0] ?? DEFAULT_PERIOD);
  const blocks: Record<string, BlockOnSheet> = {
    it: {
      is: name,
      set,
      inputs: Object.fromEntries(example.inputs.map((input) => [input.name, input.kind])),
    },
  };
  const wires: Record<string, string> = {};
  const shelf: Record<string, string> = { [name]: text };
  const base = (input: string): string => {
    const declared = block.inputs.find((item) => item.name === input)?.type.base;
    if (declared !== undefined) return declared;
    const kind = example.inputs.find((item) => item.name === input)?.kind;
    return (
      block.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(kind ?? ''))?.type.base ?? 'real'
    );
  };
  for (const [input, numbers] of given) {
    const type = base(input);
    const size = numbers.length > 1 ? '[n] ' : '';
    const unit = type === 'real' ? `${size}U` : type;
    const start = type === 'bool' ? 'false' : '0';
    const source = `source_of_${type}${numbers.length > 1 ? '_vector' : ''}`;
    const vector = numbers.length > 1 ? `[${numbers.map(() => '0').join(', ')}]` : start;
    const key = numbers.length > 1 ? `${source}_${numbers.length}` : source;
    shelf[key] =
      `block ${key}\n  "Gives an example its input."\nout y: ${unit}\nset value: ${unit} = ${vector}\ny = value\n`;
    const finite = numbers.map((number) => (Number.isFinite(number) ? number : 0));
    const first = type === 'bool' ? numbers[0] === 1 : settingOf(finite);
    blocks[`source_${input}`] = {
      is: key,
      set: { value: first },
      ...(plantSources.has(input) ? { side: 'plant' as const } : {}),
    };
    wires[`it.${input}`] = `source_${input}.y`;
  }
  return { ...blankSheet('example'), tick, number: 'f64', blocks, wires, shelf };
}
