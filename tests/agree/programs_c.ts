/** Compiles emitted C with the machine's own compilers and runs it over many ticks, for comparing bits. */

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { cFields, emitC } from '../../compiler/c/emit.ts';
import { type Field, isArray } from '../../compiler/c/fields.ts';
import type { CFile } from '../../compiler/c/lines.ts';
import { comparableSlots } from '../../compiler/c/prepare.ts';
import type { Program, Slot, Type } from '../../compiler/ir/program.ts';

export const strict = [
  '-std=c99',
  '-Wall',
  '-Wextra',
  '-Wpedantic',
  '-Wconversion',
  '-Wshadow',
  '-Wdouble-promotion',
  '-Werror',
];

/** Whether a command is there. A missing one is said aloud on a user's machine and fails where CI is set. */
export function hasCommand(command: string): boolean {
  const found = spawnSync('sh', ['-c', `command -v ${command}`], { stdio: 'ignore' }).status === 0;
  if (found) return true;
  if (process.env.CI === 'true') throw new Error(`${command} is missing and CI is set: this test must run here`);
  console.warn(`SKIPPED: ${command} is not installed, so nothing was checked with it`);
  return false;
}

/** A folder that is gone after `use`. */
export function inFolder<T>(use: (folder: string) => T): T {
  const folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
  try {
    return use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export function writeFiles(folder: string, files: readonly CFile[]): void {
  for (const file of files) writeFileSync(join(folder, file.name), file.text);
}

/** Compiles files of a folder into a program and gives its path; the compiler's words are the error. */
export function compileC(
  folder: string,
  compiler: string,
  flags: readonly string[],
  sources: readonly string[],
): string {
  const to = join(folder, `${compiler}${flags.join('')}.run`.replace(/[^\w.]/g, '_'));
  const run = spawnSync(compiler, [...flags, ...sources, '-o', to, '-lm'], { cwd: folder, encoding: 'utf8' });
  if (run.status !== 0) throw new Error(`${compiler} ${flags.join(' ')}:\n${run.stderr.slice(0, 4000)}`);
  return to;
}

/** One scalar's pattern, one for every NaN; a word each, so that all types look alike. */
export function pattern(type: Type, value: number, into: DataView, at: number): void {
  into.setBigUint64(at, 0n, true);
  if (type === 'f64') {
    if (Number.isNaN(value)) into.setBigUint64(at, 0x7ff8000000000000n, true);
    else into.setFloat64(at, value, true);
  } else if (type === 'f32') {
    if (Number.isNaN(value)) into.setUint32(at, 0x7fc00000, true);
    else into.setFloat32(at, value, true);
  } else into.setInt32(at, value, true);
}

/** The slots whose bits are compared: what the C keeps or gives back. */
export function compared(program: Program): Slot[] {
  return comparableSlots(program, ['tick']);
}

/** `main.c` that runs every program in turn: a word in for each input scalar, a word out for each compared one, a tick. */
export function driver(programs: readonly Program[], ticks: number): CFile {
  const lines = [
    '#include <stdint.h>',
    '#include <stdio.h>',
    '#include <stdlib.h>',
    '#include <string.h>',
    ...programs.map((program) => `#include "${program.name}.h"`),
    'static uint64_t take(void) { uint64_t x = 0; if (fread(&x, 8, 1, stdin) != 1) { exit(3); } return x; }',
    'static void give(uint64_t x) { if (fwrite(&x, 8, 1, stdout) != 1) { exit(4); } }',
    'static float f32_of(uint64_t x) { uint32_t b = (uint32_t)x; float y; memcpy(&y, &b, 4); return y; }',
    'static double f64_of(uint64_t x) { double y; memcpy(&y, &x, 8); return y; }',
    'static int32_t i32_of(uint64_t x) { uint32_t b = (uint32_t)x; int32_t y; memcpy(&y, &b, 4); return y; }',
    'static void give_f32(float x) { uint32_t b = UINT32_C(0x7fc00000); if (x == x) { memcpy(&b, &x, 4); } give(b); }',
    'static void give_f64(double x) { uint64_t b = UINT64_C(0x7ff8000000000000); if (x == x) { memcpy(&b, &x, 8); } give(b); }',
    'static void give_i32(int32_t x) { uint32_t b; memcpy(&b, &x, 4); give(b); }',
  ];
  const takes: Record<Type, string> = {
    bool: '(uint8_t)take()',
    i32: 'i32_of(take())',
    f32: 'f32_of(take())',
    f64: 'f64_of(take())',
  };
  const gives: Record<Type, string> = { bool: 'give', i32: 'give_i32', f32: 'give_f32', f64: 'give_f64' };
  for (const program of programs) {
    const fields = cFields(program);
    const elements = (holder: string, field: Field): string[] =>
      Array.from(
        { length: field.slot.length },
        (_, i) => `${holder}.${field.name}${isArray(field.slot) ? `[${i}]` : ''}`,
      );
    lines.push(`static void run_${program.name}(void)`, '{', `    static ${program.name}_t m;`);
    lines.push(`    static ${program.name}_in_t in;`, `    static ${program.name}_out_t out;`);
    lines.push(`    ${program.name}_start(&m);`, `    for (int k = 0; k < ${ticks}; k++) {`);
    for (const field of fields.in)
      for (const element of elements('in', field)) lines.push(`        ${element} = ${takes[field.slot.type]};`);
    lines.push(`        memset(&out, 0x55, sizeof out);`, `        ${program.name}_tick(&m, &in, &out);`);
    for (const slot of compared(program)) {
      const place = fields.places.get(slot.id);
      if (place === undefined) throw new Error(`${slot.name} has no field`);
      for (const element of elements(place.holder, { slot, name: place.name }))
        lines.push(`        ${gives[slot.type]}(${element});`);
    }
    lines.push('    }', '}');
  }
  lines.push('int main(void)', '{');
  for (const program of programs) lines.push(`    if (${program.name}_arithmetic_ok() == 0) { return 5; }`);
  lines.push(...programs.map((program) => `    run_${program.name}();`), '    return 0;', '}');
  return { name: 'main.c', text: `${lines.join('\n')}\n`, lines: [] };
}

/** Runs the compiled driver. */
export function runDriver(path: string, input: Uint8Array): Buffer {
  return execFileSync(path, { input, maxBuffer: 1 << 28 });
}

/** The C of every program with the driver, ready to compile. */
export function emitAll(programs: readonly Program[], ticks: number): CFile[] {
  return [...programs.flatMap((program) => emitC(program, { name: program.name })), driver(programs, ticks)];
}
