/** Layered programs as real threads: whoever overtakes whom, the same bits. */

import { execFileSync, spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { emitC } from '../../compiler/c/emit.ts';
import { compile } from '../../compiler/compile.ts';
import type { Program } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { prepareRun } from '../../runtime/bench/run.ts';
import { compileC, hasCommand, inFolder, pattern, strict, writeFiles } from '../agree/programs_c.ts';
import { sample } from '../samples/sample.ts';
import { layeredSheet } from './random_rates.ts';
import { threadsC } from './threads_c.ts';

const TICKS = 60;
const PATTERNS = 1_000;

function controllerOf(sheet: Sheet): Program {
  const { value, findings } = compile(sheet, { library, name: 'tasks' });
  if (value === undefined) throw new Error(JSON.stringify(findings));
  return value.controller;
}

/** Raw inputs of every tick as words. */
function words(program: Program, rows: readonly (readonly number[])[]): Buffer {
  const types = program.slots.filter((slot) => slot.kind === 'input').map((slot) => slot.type);
  const bits = Buffer.alloc(rows.length * types.length * 8);
  const view = new DataView(bits.buffer, bits.byteOffset, bits.byteLength);
  for (const [tick, row] of rows.entries())
    for (const [i, type] of types.entries()) pattern(type, row[i] ?? 0, view, (tick * types.length + i) * 8);
  return bits;
}

function runThreads(
  program: Program,
  input: Buffer,
  ticks: number,
  patterns: number,
  flags: readonly string[],
): string {
  const { layers } = program;
  if (layers === undefined) throw new Error('not layered');
  return inFolder((folder) => {
    writeFiles(folder, emitC(program, { name: 'tasks' }));
    writeFiles(folder, [threadsC(program, layers, 'tasks', ticks, patterns)]);
    const checked = spawnSync('gcc', [...strict, '-ffp-contract=off', '-O2', '-c', 'tasks.c'], {
      cwd: folder,
      encoding: 'utf8',
    });
    expect(checked.stderr).toBe('');
    const path = compileC(
      folder,
      'gcc',
      ['-std=c99', '-ffp-contract=off', '-pthread', ...flags],
      ['tasks.c', 'threads.c'],
    );
    return execFileSync(path, {
      input,
      encoding: 'utf8',
      timeout: 120_000,
      env: { ...process.env, TSAN_OPTIONS: 'halt_on_error=1' },
    });
  });
}

describe.runIf(hasCommand('gcc'))('as threads', () => {
  test('the row scout, through a run in which it is asked to stand up', async () => {
    const sheet: Sheet = { ...sample('row_scout/row_scout.sheet.json'), schedule: 'layered' };
    const prepared = await prepareRun(sheet, { library, run: 'stand_up', engine: 'wasm' }, []);
    if (prepared === undefined) throw new Error('cannot be run');
    const program = controllerOf(sheet);
    const inputs = program.slots.filter((slot) => slot.kind === 'input');
    prepared.bench.advance(700);
    const rows = Array.from({ length: TICKS }, () => {
      prepared.bench.advance(1);
      return inputs.map((slot) => prepared.bench.read(slot.name, 0) ?? 0);
    });
    expect(runThreads(program, words(program, rows), TICKS, PATTERNS, ['-O2'])).toMatch(/^1000 passed, 0 failed/);
  }, 300_000);

  test('random sheets of several rates, and under the thread sanitizer', () => {
    let across = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const program = controllerOf(layeredSheet(seed));
      const said = runThreads(
        program,
        Buffer.alloc(0),
        TICKS,
        100,
        seed % 3 === 0 ? ['-O1', '-g', '-fsanitize=thread'] : ['-O2'],
      );
      expect([seed, said.replace(/, \d+ runs.*\n/, '')]).toEqual([seed, '100 passed, 0 failed']);
      across += Number(/(\d+) runs/.exec(said)?.[1]);
    }
    expect(across).toBeGreaterThan(1_000);
  }, 300_000);
});
