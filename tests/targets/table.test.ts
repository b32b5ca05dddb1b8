/** One table: every sample on every engine, compiler and emulated board, in both widths, for ten thousand ticks: the same bits. */

import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { recordReference } from '../../compiler/c/reference.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Real } from '../../compiler/ir/program.ts';
import { hasCommand } from '../agree/programs_c.ts';
import { sample } from '../samples/sample.ts';
import { emitFor, hasToolsFor, make, ran, requestFor, targetNamed, withFiles } from './emitted.ts';

const TICKS = 10_000;

const folder = join(import.meta.dirname, '../../samples');
const sheets = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((path) =>
  path.endsWith('.sheet.json'),
);

const compilers: readonly (readonly [name: string, command: string, level: string])[] = [
  ['gcc -O0', 'gcc', '-O0'],
  ['gcc -O2', 'gcc', '-O2'],
  ['gcc -O3', 'gcc', '-O3'],
  ['clang -O2', 'clang', '-O2'],
];
const boards: readonly (readonly [name: string, target: string, core: string])[] = [
  ['Cortex-M0', 'cortex_m', 'm0'],
  ['Cortex-M4F', 'cortex_m', 'm4f'],
  ['rv32 soft', 'riscv', 'imac'],
  ['rv32 hard', 'riscv', 'imafc'],
  ['AVR', 'avr', 'atmega2560'],
];

const rows: Record<string, string>[] = [];
afterAll(() => {
  console.log(`ticks × values that agree with WebAssembly, ${TICKS} ticks each`);
  const heads = [...new Set(rows.flatMap((row) => Object.keys(row)))];
  const lines = [heads, ...rows.map((row) => heads.map((head) => row[head] ?? ''))];
  const widths = heads.map((_, i) => Math.max(...lines.map((line) => line[i]?.length ?? 0)));
  console.log(lines.map((line) => line.map((part, i) => part.padEnd(widths[i] ?? 0)).join('  ')).join('\n'));
});

/** What a self-check printed, as one cell; anything but a pass of all is told as it is. */
function cell(output: string, wanted: number): string {
  const said = output.split('\n').find((line) => /passed, \d+ failed/.test(line)) ?? 'no answer';
  return said === `${wanted} passed, 0 failed` ? String(wanted) : said;
}

describe.each(sheets.sort())('%s', (path) => {
  for (const number of ['f32', 'f64'] as const satisfies readonly Real[])
    test(number, async () => {
      const sheet = sample(path);
      const [run = ''] = Object.keys(sheet.runs).sort().reverse();
      const seconds = (await requestFor(path, undefined, { number })).tick.seconds;
      const request = await requestFor(path, run, { number, for: `${TICKS * seconds} s` });
      const { check, program } = request;
      if (check === undefined) throw new Error(`${run} cannot be run`);
      const { reference } = check;
      const wanted = reference.ticks * reference.values;
      const name = path.replace(/^.*\//, '').replace('.sheet.json', '');
      const row: Record<string, string> = { sheet: `${name} ${number}`, run, WebAssembly: String(wanted) };
      rows.push(row);
      expect(reference.ticks).toBe(TICKS);

      const plain = recordReference(createInterpreter(program), program, reference.inputs, TICKS, 0);
      row.interpreter =
        plain.expected.kind === 'sums' && same(plain.expected, reference.expected) ? String(wanted) : 'differs';

      await withFiles(emitFor('plain', request), async (place) => {
        for (const [title, command, level] of compilers) {
          if (!hasCommand(command)) continue;
          const words = ['-std=c99', '-ffp-contract=off', level, `${name}.c`, 'selfcheck.c', '-lm', '-o', 'check'];
          const built = await ran(place, command, ...words);
          row[title] = built.status === 0 ? cell((await ran(place, './check')).output, wanted) : built.errors;
        }
      });
      for (const [title, target, core] of boards) {
        if (!targetNamed(target).numbers.includes(number) || !hasToolsFor(target)) continue;
        await withFiles(emitFor(target, request), async (place) => {
          row[title] = cell((await make(place, `check-${core}`)).output, wanted);
        });
      }
      const { sheet: _, run: __, ...cells } = row;
      expect(Object.entries(cells).filter(([, said]) => said !== String(wanted))).toEqual([]);
    }, 300_000);
});

function same(a: { readonly sums: Uint32Array }, b: { readonly kind: string; readonly sums?: Uint32Array }): boolean {
  return b.sums !== undefined && a.sums.length === b.sums.length && a.sums.every((sum, i) => sum === b.sums?.[i]);
}
