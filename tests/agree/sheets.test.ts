/**
 * Random sheets on every engine: direct evaluation of the texts, interpreter, WebAssembly and C by gcc at -O0 and -O2.
 * One failure reproduces with `SEED=n SHEETS=1 npx vitest run tests/agree/sheets.test.ts` and is shrunk first.
 */

import { afterAll, describe, expect, test } from 'vitest';
import type { Compiled } from '../../compiler/compile.ts';
import type { Instruction } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { compileMended, replay, type Trace, traceSheet } from './compare.ts';
import { compareTraces, compileDriver } from './compare_c.ts';
import { compared, emitAll, hasCommand, inFolder, writeFiles } from './programs_c.ts';
import { randomSheet } from './random_sheet.ts';

const SHEETS = Number(process.env.SHEETS ?? 500);
const SEED = Number(process.env.SEED ?? 1);
/** Whether what fails is made small first, which takes its time. */
const SHRINK = process.env.SHRINK !== '0';
const TICKS = 60;
const DIRECT_TICKS = 24;
const BATCH = 25;

const operationsUsed = new Map<string, number>();
const modesSeen = new Map<number, number>();
const counted = { sheets: 0, lively: 0 };

function countOperations(list: readonly Instruction[]): void {
  for (const instruction of list) {
    const name =
      instruction.do === 'compute' ? instruction.op : instruction.do === 'call' ? instruction.func : instruction.do;
    operationsUsed.set(name, (operationsUsed.get(name) ?? 0) + 1);
    if (instruction.do === 'if') {
      countOperations(instruction.then);
      countOperations(instruction.else);
    }
    if (instruction.do === 'repeat') countOperations(instruction.body);
  }
}

function countModes(compiled: Compiled, trace: Trace): void {
  const gates = new Set([...compiled.resolved.instances.values()].filter((i) => i.flat.text.guards).map((i) => i.path));
  let at = 0;
  for (const slot of compared(trace.program)) {
    if (slot.name.endsWith('.mode') && gates.has(slot.block))
      for (const row of trace.after) modesSeen.set(row[at] ?? -1, (modesSeen.get(row[at] ?? -1) ?? 0) + 1);
    at += slot.length;
  }
}

/** What is wrong with a sheet, in words; its trace when nothing is. */
async function examine(sheet: Sheet, seed: number): Promise<{ problems: string[]; trace: Trace | undefined }> {
  const { compiled, findings } = compileMended(sheet);
  if (compiled === undefined)
    return {
      problems: findings.filter((f) => f.level === 'error').map((f) => `${f.at.path}: ${f.id}`),
      trace: undefined,
    };
  const wide = compileMended(sheet, 'f64').compiled;
  const direct = wide === undefined ? undefined : await traceSheet(wide, DIRECT_TICKS, true);
  const open = await traceSheet(compiled, TICKS, false);
  const program = { ...compiled.controller, name: `sheet_${seed}` };
  const replayed = await replay(program, open.inputs);
  counted.sheets++;
  if (open.moved && open.final.every(Number.isFinite)) counted.lively++;
  for (const func of compiled.controller.functions) countOperations(func.body);
  countModes(compiled, replayed.trace);
  return {
    problems: [...(direct?.problems ?? ['no f64']), ...open.problems, ...replayed.problems],
    trace: replayed.trace,
  };
}

/** Leaves out blocks one by one while what is wrong stays wrong. */
async function shrink(sheet: Sheet, seed: number): Promise<Sheet> {
  let smallest = sheet;
  for (let again = true; again; ) {
    again = false;
    for (const name of Object.keys(smallest.blocks)) {
      const blocks = { ...smallest.blocks };
      delete blocks[name];
      const wires = Object.fromEntries(
        Object.entries(smallest.wires).filter(
          ([to, from]) => !to.startsWith(`${name}.`) && !from.startsWith(`${name}.`),
        ),
      );
      const tried = { ...smallest, blocks, wires };
      if (compileMended(tried).compiled === undefined) continue;
      if ((await examine(tried, seed)).problems.length === 0) continue;
      smallest = tried;
      again = true;
    }
  }
  return smallest;
}

describe(`random sheets from seed ${SEED}`, () => {
  for (let first = SEED; first < SEED + SHEETS; first += BATCH) {
    const last = Math.min(first + BATCH, SEED + SHEETS) - 1;
    test(`sheets ${first} to ${last}`, async () => {
      const traces: Trace[] = [];
      for (let seed = first; seed <= last; seed++) {
        const sheet = randomSheet(seed);
        const { problems, trace } = await examine(sheet, seed);
        if (problems.length > 0) {
          const small = SHRINK ? await shrink(sheet, seed) : sheet;
          const text = JSON.stringify({ blocks: small.blocks, wires: small.wires });
          expect.fail(
            `SEED=${seed} SHEETS=1 npx vitest run tests/agree/sheets.test.ts\n${problems.slice(0, 5).join('\n')}\n${text}`,
          );
        }
        if (trace !== undefined) traces.push(trace);
      }
      if (!hasCommand('gcc')) return;
      inFolder((folder) => {
        const programs = traces.map(({ program }) => program);
        writeFiles(folder, emitAll(programs, TICKS));
        const drivers = [['-O0'], ['-O2']].map((flags) => compileDriver(programs, folder, flags));
        expect(compareTraces(drivers, traces)).toEqual([]);
      });
    }, 600_000);
  }

  test('most end finite and still changing', () => {
    expect(counted.lively / counted.sheets).toBeGreaterThanOrEqual(0.9);
  });

  test('every mode of a gate is reached', () => {
    if (SHEETS >= 200) expect([...modesSeen.keys()].sort()).toEqual([0, 1, 2, 3, 4, 5]);
  });

  afterAll(() => {
    const used = [...operationsUsed].sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, count]) => `${name} ${count}`);
    console.log(
      `seed ${SEED}, ${counted.sheets} sheets, ${counted.lively} finite and changing\n${used.join(', ')}\ngate modes ${[...modesSeen].map(([mode, count]) => `${mode}: ${count}`).join(', ')}`,
    );
  });
});
