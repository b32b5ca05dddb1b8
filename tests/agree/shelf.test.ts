/**
 * Every block of the shelf, with moving inputs: interpreter = WebAssembly = gcc -O0 and -O2, 10,000 ticks, every output
 * and every memory.
 */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { type Compiled, compile } from '../../compiler/compile.ts';
import type { BlockText, TypeExpression } from '../../compiler/language/syntax.ts';
import { type BlockOnSheet, blankSheet, entry, type SettingValue, type Sheet } from '../../compiler/sheet/sheet.ts';
import { SheetValues } from '../../compiler/stages/sheet_value.ts';
import { parsedBlock } from '../../compiler/stages/shelf.ts';
import { type Engine, openBench } from '../../runtime/bench/bench.ts';
import { firstDifference, replay, type Trace } from './compare.ts';
import { compareTraces, compileDriver } from './compare_c.ts';
import { emitAll, hasCommand, inFolder, writeFiles } from './programs_c.ts';

const TICKS = 10_000;
const BATCH = 20;
/** Blocks that do not move, whatever comes in. */
const STILL = new Set(['fixed']);

/** Sources that move, of every type; a vector is as long as its reader asks. What is odd is infinite or no number now and then. */
const movers: Readonly<Record<string, string>> = {
  mover: [
    'block mover',
    '  "Moves."',
    'out y: [n] U',
    'set size: [n] U = 1',
    'set pace: int = 7',
    'set odd: bool = false',
    'low = wrap(tick, 10)',
    'keep = odd and low == 300 ? 0 : 1',
    'over = odd and (low == 100 or low == 300) ? 0 : 1',
    'y = [size[i] * real(wrap(tick * (pace + i), 9)) / 200 * keep / over for i to n]',
    '',
  ].join('\n'),
  mover_int: 'block mover_int\n  "Moves."\nout y: int\nset pace: int = 3\ny = wrap(tick * pace, 9)\n',
  mover_bool: 'block mover_bool\n  "Moves."\nout y: bool\nset pace: int = 5\ny = wrap(tick * pace, 8) > 20\n',
};

const values = new SheetValues(blankSheet(), true);

/** The largest number that the examples put on an input, and whether they try one that is not finite. */
function range(block: BlockText, input: string): { readonly size: number; readonly odd: boolean } {
  const tried = block.examples
    .flatMap((example) => example.steps.flatMap((step) => step.inputs))
    .filter(({ name }) => name === input)
    .flatMap(({ value }) => {
      const read = values.evaluate(value, input);
      return 'id' in read ? [] : read.numbers;
    });
  const size = Math.max(0, ...tried.filter(Number.isFinite).map(Math.abs));
  return { size: size === 0 ? 1 : size, odd: !tried.every(Number.isFinite) };
}

/** Settings of a block's first example, so that it does what it is for; but for a zero, which would switch something off. */
function exampleSettings(block: BlockText): Record<string, SettingValue> {
  const set: Record<string, SettingValue> = {};
  for (const { name, value } of block.examples[0]?.settings ?? []) {
    if (value.kind === 'word') {
      set[name] = value.word;
      continue;
    }
    if (value.kind === 'matrix' && value.rows.flat().every((item) => item.kind === 'word')) {
      set[name] = value.rows.flat().flatMap((item) => (item.kind === 'word' ? [item.word] : []));
      continue;
    }
    const read = values.evaluate(value, name);
    if ('id' in read || (read.numbers.length === 1 && read.numbers[0] === 0)) continue;
    const rows = Array.from({ length: read.rows }, (_, i) => [
      ...read.numbers.slice(i * read.columns, (i + 1) * read.columns),
    ]);
    set[name] =
      read.kind === 'bool'
        ? read.numbers[0] === 1
        : read.columns > 1
          ? rows
          : value.kind === 'matrix'
            ? [...read.numbers]
            : (read.numbers[0] ?? 0);
  }
  return set;
}

function sheetAround(name: string, block: BlockText, plant: ReadonlySet<string>): Sheet {
  const kinds = Object.fromEntries((block.examples[0]?.inputs ?? []).map((input) => [input.name, input.kind]));
  const blocks: Record<string, BlockOnSheet> = { it: { is: name, set: exampleSettings(block), inputs: kinds } };
  const wires: Record<string, string> = {};
  const feed = (input: string, type: TypeExpression, i: number): void => {
    const is = type.base === 'real' ? 'mover' : `mover_${type.base}`;
    const { size, odd } = range(block, input);
    const set = type.base !== 'real' ? {} : { odd, ...(type.shape.length === 0 ? { size: [size] } : {}) };
    blocks[`from_${input}`] = { is, set: { pace: 3 + 2 * i, ...set }, ...(plant.has(input) ? { side: 'plant' } : {}) };
    wires[`it.${input}`] = `from_${input}.y`;
  };
  for (const [i, input] of block.inputs.entries()) feed(input.name, input.type, i);
  for (const [i, [input, kind]] of Object.entries(kinds).entries()) {
    const open = block.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(kind));
    if (open !== undefined) feed(input, open.type, i + 3);
  }
  return { ...blankSheet(name), blocks, wires, shelf: { ...movers } };
}

/** Compiles a block's sheet; sources of what the bench samples go to the plant side. */
function compileAround(name: string, block: BlockText): Compiled {
  const plant = new Set<string>();
  for (let i = 0; i < 2; i++) {
    const files = (): string => 't,a,b\n0,1,2\n1,3,4\n';
    const { value, findings } = compile(sheetAround(name, block, plant), { library, name, files });
    if (value !== undefined) return value;
    const across = findings.filter((finding) => finding.id === 'wire_across_shore');
    if (across.length === 0 || i === 1)
      throw new Error(findings.map((f) => `${f.at.path} ${f.id} ${JSON.stringify(f.facts)}`).join('\n'));
    for (const finding of across) plant.add(finding.at.path.slice('it.'.length));
  }
  throw new Error(`${name} does not compile`);
}

/** Every recorded number of a bench's ticks on one engine, and whether anything of the block itself moves. */
async function record(compiled: Compiled, engine: Engine): Promise<{ rows: Float64Array; moves: boolean }> {
  const bench = await openBench(compiled, { engine, record: [], everything: true }, []);
  const rows = bench.advance(TICKS);
  const width = bench.columns.length;
  const moves = bench.columns.some(
    ({ name }, i) => name.startsWith('it.') && rows.some((x, k) => k % width === i && x !== rows[i]),
  );
  return { rows, moves };
}

describe('blocks of the shelf', () => {
  const names = [...library.keys()];
  for (let first = 0; first < names.length; first += BATCH)
    test(names.slice(first, first + BATCH).join(', '), async () => {
      const traces: Trace[] = [];
      for (const name of names.slice(first, first + BATCH)) {
        const block = parsedBlock(entry(Object.fromEntries(library), name)?.text ?? '', name).value;
        if (block === undefined) throw new Error(`${name} does not parse`);
        const compiled = compileAround(name, block);
        const [slow, fast] = [await record(compiled, 'interpreter'), await record(compiled, 'wasm')];
        expect([name, firstDifference(slow.rows, fast.rows)]).toEqual([name, -1]);
        expect([name, fast.moves]).toEqual([name, !STILL.has(name)]);
        const { program } = compiled.bench({ keep: 'all', record: [], hooks: [] });
        const inputs = program.slots.filter((slot) => slot.kind === 'input');
        const rows = Array.from({ length: TICKS }, (_, k) =>
          inputs.map(({ type }, i) => (type === 'bool' ? (k >> i) & 1 : ((k * (i + 3)) % 64) - 20)),
        );
        const { trace, problems } = await replay({ ...program, name: `it_${name}` }, rows);
        expect([name, problems]).toEqual([name, []]);
        traces.push(trace);
      }
      if (!hasCommand('gcc')) return;
      inFolder((folder) => {
        const programs = traces.map(({ program }) => program);
        writeFiles(folder, emitAll(programs, TICKS));
        const drivers = [['-O0'], ['-O2']].map((flags) => compileDriver(programs, folder, flags));
        expect(compareTraces(drivers, traces)).toEqual([]);
      });
    }, 300_000);
});
