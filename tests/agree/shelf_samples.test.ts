/**
 * Every run of the samples, carried on to 10,000 ticks: interpreter = WebAssembly for the whole bench, and the exported
 * program fed with the raw inputs of that run = what the bench's own tick did = gcc -O0 and -O2.
 */

import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import type { Compiled } from '../../compiler/compile.ts';
import type { Program } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { channelSlotName } from '../../compiler/stages/slots.ts';
import type { Column, Engine } from '../../runtime/bench/bench.ts';
import { prepareRun } from '../../runtime/bench/run.ts';
import { sample } from '../samples/sample.ts';
import { firstDifference, replay, type Trace } from './compare.ts';
import { compareTraces, compileDriver } from './compare_c.ts';
import { compared, emitAll, hasCommand, writeFiles } from './programs_c.ts';

const TICKS = 10_000;

interface Recording {
  readonly compiled: Compiled;
  readonly columns: readonly Column[];
  readonly rows: Float64Array;
}

async function record(sheet: Sheet, run: string, engine: Engine): Promise<Recording> {
  const prepared = await prepareRun(sheet, { library, run, engine, everything: true }, []);
  if (prepared === undefined) throw new Error(`${run} cannot be run`);
  return { compiled: prepared.compiled, columns: prepared.bench.columns, rows: prepared.bench.advance(TICKS) };
}

/** The column of every C field, by the field's name. */
function fieldColumns({ compiled, columns }: Recording): ReadonlyMap<string, number> {
  const found = new Map<string, number>();
  for (const instance of compiled.resolved.instances.values())
    for (const channel of instance.flat.text.channels) {
      const column = columns.findIndex(({ name }) => name === `${instance.path}.${channel.name}`);
      if (column < 0) throw new Error(`${instance.path}.${channel.name} is not recorded`);
      found.set(channelSlotName(instance, channel.name), column);
    }
  return found;
}

/** Raw inputs of every tick, in the order of the program's input slots. */
function rawInputs(recording: Recording): number[][] {
  const fields = fieldColumns(recording);
  const width = recording.columns.length;
  const columns = recording.compiled.controller.slots
    .filter((slot) => slot.kind === 'input')
    .map((slot) => fields.get(slot.name) ?? -1);
  return Array.from({ length: TICKS }, (_, tick) =>
    columns.map((column) => recording.rows[tick * width + column] ?? Number.NaN),
  );
}

/** Scalars of the exported program that the bench recorded too, and differ; gives how many were compared. */
function againstBench(recording: Recording, trace: Trace): { compared: number; problems: string[] } {
  const { columns, rows } = recording;
  const fields = fieldColumns(recording);
  const scalars = compared(trace.program).flatMap((slot) =>
    Array.from({ length: slot.length }, (_, i) => (slot.length === 1 ? slot.name : `${slot.name}[${i + 1}]`)),
  );
  const problems: string[] = [];
  let count = 0;
  for (const [i, name] of scalars.entries()) {
    const column = fields.get(name) ?? columns.findIndex((one) => one.name === name);
    if (column < 0) continue;
    count++;
    const own = Float64Array.from(trace.after, (row) => row[i] ?? Number.NaN);
    const bench = Float64Array.from(trace.after, (_, tick) => rows[tick * columns.length + column] ?? Number.NaN);
    const at = firstDifference(own, bench);
    if (at >= 0) problems.push(`${name} at tick ${at}: exported ${own[at]}, bench ${bench[at]}`);
  }
  return { compared: count, problems };
}

const folders: string[] = [];
const compiledDrivers = new Map<string, readonly string[]>();

/** The C of a program at -O0 and -O2; runs that change no setting of the program share it. */
function driversOf(program: Program): readonly string[] {
  const key = JSON.stringify(program);
  const known = compiledDrivers.get(key);
  if (known !== undefined) return known;
  const folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
  folders.push(folder);
  writeFiles(folder, emitAll([program], TICKS));
  const drivers = [['-O0'], ['-O2']].map((flags) => compileDriver([program], folder, flags));
  compiledDrivers.set(key, drivers);
  return drivers;
}

afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

const samples = join(import.meta.dirname, '../../samples');
const sheets = readdirSync(samples, { recursive: true, encoding: 'utf8' }).filter((path) =>
  path.endsWith('.sheet.json'),
);
const withC = hasCommand('gcc');

for (const path of sheets.sort())
  describe(path, () => {
    const sheet = sample(path);
    for (const run of Object.keys(sheet.runs))
      test(run, async () => {
        const slow = await record(sheet, run, 'interpreter');
        const fast = await record(sheet, run, 'wasm');
        expect(firstDifference(slow.rows, fast.rows)).toBe(-1);
        const { trace, problems } = await replay({ ...fast.compiled.controller, name: 'sample' }, rawInputs(fast));
        expect(problems).toEqual([]);
        const own = againstBench(fast, trace);
        expect(own.problems).toEqual([]);
        expect(own.compared).toBeGreaterThan(0);
        if (withC) expect(compareTraces(driversOf(trace.program), [trace])).toEqual([]);
      }, 120_000);
  });
