/**
 * Every block of the shelf, with moving inputs, and every run of the samples: interpreter = WebAssembly = gcc -O0 and -O2,
 * 10,000 ticks, every output and every memory.
 */

import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { type Compiled, compile } from '../../compiler/compile.ts';
import type { BlockText, TypeExpression } from '../../compiler/language/syntax.ts';
import { type BlockOnSheet, blankSheet, entry, type SettingValue, type Sheet } from '../../compiler/sheet/sheet.ts';
import { SheetValues } from '../../compiler/stages/sheet_value.ts';
import { parsedBlock } from '../../compiler/stages/shelf.ts';
import { type Engine, openBench } from '../../runtime/bench/bench.ts';
import { prepareRun } from '../../runtime/bench/run.ts';
import { sample } from '../samples/sample.ts';
import { replay, type Trace } from './compare.ts';
import { compareTraces, compileDriver } from './compare_c.ts';
import { emitAll, hasCommand, inFolder, writeFiles } from './programs_c.ts';

const TICKS = 10_000;
const BATCH = 20;

/** Sources that move, of every type; a vector is as long as its reader asks. */
const movers: Readonly<Record<string, string>> = {
  mover:
    'block mover\n  "Moves."\nout y: [n] U\nset size: [n] U = 1\nset pace: int = 7\ny = [size[i] * real(wrap(tick * (pace + i), 9)) / 200 for i to n]\n',
  mover_int: 'block mover_int\n  "Moves."\nout y: int\nset pace: int = 3\ny = wrap(tick * pace, 9)\n',
  mover_bool: 'block mover_bool\n  "Moves."\nout y: bool\nset pace: int = 5\ny = wrap(tick * pace, 8) > 20\n',
};

/** Settings of a block's first example, so that it does what it is for. */
function exampleSettings(block: BlockText): Record<string, SettingValue> {
  const values = new SheetValues(blankSheet());
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
    if ('id' in read) continue;
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
    const size = type.base === 'real' && type.shape.length === 0 ? { size: [1] } : {};
    blocks[`from_${input}`] = { is, set: { pace: 3 + 2 * i, ...size }, ...(plant.has(input) ? { side: 'plant' } : {}) };
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

/** Every recorded number of a bench's ticks on one engine. */
async function record(compiled: Compiled, engine: Engine): Promise<Float64Array> {
  const bench = await openBench(compiled, { engine, record: [], everything: true }, []);
  return bench.advance(TICKS);
}

function firstDifference(a: Float64Array, b: Float64Array): number {
  if (a.length !== b.length) return 0;
  return a.findIndex((x, i) => !Object.is(x, b[i]) && !(Number.isNaN(x) && Number.isNaN(b[i])));
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
        expect([name, firstDifference(slow, fast)]).toEqual([name, -1]);
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
        for (const flags of [['-O0'], ['-O2']])
          expect([flags, compareTraces(compileDriver(programs, folder, flags), traces)]).toEqual([flags, []]);
      });
    }, 300_000);
});

describe('runs of the samples', () => {
  const samples = join(import.meta.dirname, '../../samples');
  const sheets = readdirSync(samples, { recursive: true, encoding: 'utf8' }).filter((path) =>
    path.endsWith('.sheet.json'),
  );
  for (const path of sheets.sort())
    test(path, async () => {
      const sheet = sample(path);
      const traces: Trace[] = [];
      for (const run of Object.keys(sheet.runs)) {
        const rows: Float64Array[] = [];
        let inputs: number[][] = [];
        for (const engine of ['interpreter', 'wasm'] as const) {
          const prepared = await prepareRun(sheet, { library, run, engine, everything: true }, []);
          if (prepared === undefined) throw new Error(`${run} cannot be run`);
          const { bench, compiled } = prepared;
          const recorded = bench.advance(TICKS);
          rows.push(recorded);
          const fields = compiled.controller.slots.filter((slot) => slot.kind === 'input');
          const width = bench.columns.length;
          const columns = fields.map((slot) =>
            bench.columns.findIndex(
              ({ name }) => name.replaceAll('.', '_').startsWith(slot.name) && name.endsWith('.raw'),
            ),
          );
          inputs = Array.from({ length: TICKS }, (_, k) =>
            columns.map((column) => recorded[k * width + column] ?? Number.NaN),
          );
          if (engine === 'wasm') {
            const { trace, problems } = await replay({ ...compiled.controller, name: 'sample' }, inputs);
            expect([run, problems]).toEqual([run, []]);
            traces.push(trace);
          }
        }
        expect([run, firstDifference(rows[0] ?? new Float64Array(), rows[1] ?? new Float64Array(1))]).toEqual([
          run,
          -1,
        ]);
      }
      if (!hasCommand('gcc')) return;
      // Runs that change no setting of the program share its C.
      const byProgram = new Map<string, Trace[]>();
      for (const trace of traces) {
        const key = JSON.stringify(trace.program);
        byProgram.set(key, [...(byProgram.get(key) ?? []), trace]);
      }
      for (const same of byProgram.values())
        inFolder((folder) => {
          const programs = same.slice(0, 1).map(({ program }) => program);
          writeFiles(folder, emitAll(programs, TICKS));
          for (const flags of [['-O0'], ['-O2']]) {
            const path = compileDriver(programs, folder, flags);
            for (const trace of same) expect([flags, compareTraces(path, [trace])]).toEqual([flags, []]);
          }
        });
    }, 600_000);
});
