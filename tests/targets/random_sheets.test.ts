/** Fifty random sheets: clean under sanitizers, analyzers and MISRA but for the listed deviations, and the same bits on a Cortex-M4F. */

import { spawnSync } from 'node:child_process';
import { beforeAll, describe, expect, test } from 'vitest';
import { deviations } from '../../compiler/c/deviations.ts';
import { emitC } from '../../compiler/c/emit.ts';
import { recordReference } from '../../compiler/c/reference.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import { compileMended, replay, type Trace, traceSheet } from '../agree/compare.ts';
import { compareTraces, compileDriver } from '../agree/compare_c.ts';
import { misraFindings } from '../agree/misra.ts';
import { emitAll, hasCommand, inFolder, writeFiles } from '../agree/programs_c.ts';
import { randomSheet } from '../agree/random_sheet.ts';
import { emitFor, hasToolsFor, make, withFiles } from './emitted.ts';

const SHEETS = 50;
/** How many of them sanitizers and analyzers look at; all in the long tier. */
const READ = Number(process.env.READ ?? 10);
const FIRST = 9_001;
const TICKS = 100;

const traces: Trace[] = [];

beforeAll(async () => {
  for (let seed = FIRST; seed < FIRST + SHEETS; seed++) {
    const { compiled } = compileMended(randomSheet(seed));
    if (compiled === undefined) throw new Error(`sheet ${seed} does not compile`);
    const { inputs } = await traceSheet(compiled, TICKS, false);
    const { trace, problems } = await replay({ ...compiled.controller, name: `sheet_${seed}` }, inputs);
    expect(problems).toEqual([]);
    traces.push(trace);
  }
}, 120_000);

test('gcc with the address and undefined-behaviour sanitizers', () => {
  if (!hasCommand('gcc')) return;
  const some = traces.slice(0, READ);
  inFolder((folder) => {
    const programs = some.map(({ program }) => program);
    writeFiles(folder, emitAll(programs, TICKS));
    const flags = ['-fsanitize=address,undefined', '-fno-sanitize-recover=all', '-O1', '-g'];
    expect(compareTraces([compileDriver(programs, folder, flags)], some)).toEqual([]);
  });
}, 900_000);

describe('what reads the C finds nothing', () => {
  const sources = () => traces.slice(0, READ).map(({ program }) => emitC(program, { name: program.name }));
  const names = () => traces.slice(0, READ).map(({ program }) => `${program.name}.c`);

  /** Runs an analyzer on every file; gives what it says. */
  function said(command: string, words: readonly string[], files: readonly string[]): string[] {
    return inFolder((folder) => {
      writeFiles(folder, sources().flat());
      const run = spawnSync(command, [...words, ...files], { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 26 });
      return `${run.stdout}${run.stderr}`.split('\n').filter((line) => line.trim() !== '');
    });
  }

  test("clang's static analyzer", () => {
    if (!hasCommand('clang')) return;
    const words = ['--analyze', '--analyzer-output', 'text', '-std=c99', '-ffp-contract=off'];
    expect(said('clang', words, names()).slice(0, 5)).toEqual([]);
  }, 900_000);

  test('cppcheck with its MISRA C:2012 addon, but for the listed deviations', () => {
    if (!hasCommand('cppcheck')) return;
    const found = inFolder((folder) => {
      writeFiles(folder, sources().flat());
      return names().flatMap((name) => misraFindings(folder, name).map((line) => `${line} ${name}`));
    });
    const listed = new Set(deviations.map((deviation) => deviation.rule));
    const rules = found.filter((line) => line.startsWith('misra-'));
    expect(rules.filter((line) => !listed.has(line.split(' ')[0] ?? ''))).toEqual([]);
    expect(rules.length, 'it does look').toBeGreaterThan(0);
  }, 900_000);
});

test('the same bits on a Cortex-M4F', async () => {
  if (!hasToolsFor('cortex_m')) return;
  const wrong: string[] = [];
  let compared = 0;
  for (const { program, inputs } of traces) {
    const slots = program.slots.filter((slot) => slot.kind === 'input');
    const columns = slots.map(({ id }, i) => ({
      slot: id,
      index: 0,
      numbers: Float64Array.from(inputs, (row) => row[i] ?? 0),
    }));
    const reference = recordReference(createInterpreter(program), program, columns, TICKS, 0);
    const files = emitFor('cortex_m', {
      name: program.name,
      title: program.name,
      program,
      tick: { text: '5 ms', seconds: 0.005 },
      outputs: 'at_once',
      check: { run: 'it', reference },
    });
    const wanted = `${TICKS * reference.values} passed, 0 failed`;
    await withFiles(files, async (folder) => {
      const { output, errors } = await make(folder, 'check-m4f');
      if (!output.split('\n').includes(wanted)) wrong.push(`${program.name}: ${output} ${errors}`.slice(0, 300));
      else compared += TICKS * reference.values;
    });
  }
  expect(wrong).toEqual([]);
  console.log(`${compared} values of ${SHEETS} sheets agree on a Cortex-M4F`);
}, 400_000);
