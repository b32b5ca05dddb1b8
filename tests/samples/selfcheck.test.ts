/**
 * The self-check of every run of the samples passes as C, in both number types and with both compilers under the
 * contract's warnings; and it fails when any one number of the program is off by its last bit.
 */

import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { emitC } from '../../compiler/c/emit.ts';
import { emitSelfcheck } from '../../compiler/c/selfcheck.ts';
import { compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { Program, Real } from '../../compiler/ir/program.ts';
import { selfcheckReference } from '../../runtime/bench/selfcheck.ts';
import { compileC, hasCommand, strict, writeFiles } from '../agree/programs_c.ts';
import { sample } from './sample.ts';

const sheets = {
  row_scout: 'row_scout/row_scout.sheet.json',
  first_loop: 'first_loop/first_loop.sheet.json',
  first_loop_integrator: 'first_loop/first_loop_integrator.sheet.json',
  first_loop_limit: 'first_loop/first_loop_limit.sheet.json',
} as const;

/** Writes the C of a sheet with the self-check of one run into a folder. */
async function emit(name: keyof typeof sheets, run: string, number: Real, folder: string): Promise<Program> {
  const sheet = sample(sheets[name]);
  const options = { library, name, number };
  const { value } = compile(sheet, options);
  if (value === undefined) throw new Error(`${name} does not compile`);
  const findings: Finding[] = [];
  const reference = await selfcheckReference(sheet, value, { ...options, run }, findings);
  if (reference === undefined) throw new Error(JSON.stringify(findings));
  const files = [...emitC(value.controller, { name }), emitSelfcheck(value.controller, reference, { name })];
  writeFiles(folder, files);
  return value.controller;
}

/** What a compiled self-check says, and its exit status. */
function say(path: string): { status: number | null; line: string } {
  const { status, stdout } = spawnSync(path, { encoding: 'utf8' });
  return { status, line: stdout.trim().split('\n').at(-1) ?? '' };
}

const flags = [...strict, '-O1', '-ffp-contract=off'];

describe('self-checks of the samples', () => {
  for (const name of Object.keys(sheets) as (keyof typeof sheets)[])
    for (const [i, run] of Object.keys(sample(sheets[name]).runs).entries())
      for (const number of ['f32', 'f64'] as const)
        test(`${name}, ${run}, ${number}`, async () => {
          const compiler = i % 2 === 0 ? 'gcc' : 'clang';
          if (!hasCommand(compiler)) return;
          await withFolder(async (folder) => {
            await emit(name, run, number, folder);
            const { status, line } = say(compileC(folder, compiler, flags, [`${name}.c`, 'selfcheck.c']));
            expect(line).toMatch(/^[1-9]\d* passed, 0 failed$/);
            expect(status).toBe(0);
          });
        }, 60_000);
});

/** A folder that is gone after `use`. */
async function withFolder(use: (folder: string) => Promise<void>): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
  try {
    await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The next number of single precision, as C writes it. */
function nextSingle(text: string): string {
  const bits = new DataView(new ArrayBuffer(4));
  bits.setFloat32(0, Number(text));
  bits.setInt32(0, bits.getInt32(0) + 1);
  return `${bits.getFloat32(0)}f`;
}

describe('one bit', () => {
  test('of any coefficient or threshold of the row scout makes the self-check fail', async () => {
    if (!hasCommand('gcc')) return;
    await withFolder(async (folder) => {
      const program = await emit('row_scout', 'push_left', 'f32', folder);
      const names = new Set(
        program.slots.filter((slot) => slot.kind === 'setting').map((slot) => slot.name.replaceAll('.', '_')),
      );
      const path = join(folder, 'row_scout.c');
      const text = readFileSync(path, 'utf8');
      const start = text.slice(text.indexOf('void row_scout_start('));
      const settings = [...start.matchAll(/^ {4}m->(\w+) = (-?[\d.e+-]+)f;$/gm)];
      expect(settings.length).toBeGreaterThan(30);
      const survivors: string[] = [];
      for (const [line, name = '', number = ''] of settings) {
        if (!names.has(name)) continue;
        const changed = line.replace(`${number}f`, nextSingle(number));
        writeFileSync(path, text.replace(line, changed));
        const { status } = say(
          compileC(folder, 'gcc', ['-std=c99', '-O0', '-ffp-contract=off'], ['row_scout.c', 'selfcheck.c']),
        );
        if (status === 0) survivors.push(name);
      }
      expect(survivors.join(' ')).toBe('');
    });
  }, 120_000);
});
