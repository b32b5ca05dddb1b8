/** WebAssembly and emitted C give the interpreter's bits for every elementary function at every reference argument. */

import { spawnSync } from 'node:child_process';
import { expect, test } from 'vitest';
import { emitC } from '../../compiler/c/emit.ts';
import { elementaryFunctions } from '../../compiler/ir/functions/elementary.ts';
import type { Real } from '../../compiler/ir/program.ts';
import { createWasmMachineSync } from '../../compiler/wasm/machine.ts';
import { compileC, hasCommand, inFolder, strict, writeFiles } from '../agree/programs_c.ts';
import { answer, everything, fullName, reals, referenced } from './functions.ts';
import { reference } from './reference.ts';

const noiseRows = Array.from({ length: 2000 }, (_, tick) => [3, 5, tick * 7919, tick]);

/** All rows a function is tried at, and the interpreter's answers. */
function rowsOf(name: string, real: Real): { readonly x: readonly number[][]; readonly answers: readonly number[] } {
  const found = name === 'normal' ? undefined : reference(name, real);
  const x =
    found === undefined
      ? noiseRows
      : Array.from({ length: found.rows }, (_, row) => found.arguments.map((column) => column[row] ?? 0));
  return { x, answers: x.map((row) => answer(name, real, ...row)) };
}

const tried = [...referenced, 'normal'];
const machine = createWasmMachineSync(everything);

for (const real of reals)
  test.each(tried)(`%s_${real} in WebAssembly`, (name) => {
    const { x, answers } = rowsOf(name, real);
    const func = machine.func(fullName(name, real));
    expect(x.filter((row, k) => !Object.is(func(...row), answers[k]))).toEqual([]);
  });

/** C that reads rows of doubles and writes answers of doubles, one function after the other. */
function driver(base: string, real: Real): string {
  const loops = tried.flatMap((name) => {
    const { x } = rowsOf(name, real);
    const count = x[0]?.length ?? 0;
    const type = name === 'normal' ? 'int32_t' : real === 'f32' ? 'float' : 'double';
    const given = Array.from({ length: count }, (_, k) => `(${type})row[${k}]`).join(', ');
    return [
      `  for (i = 0; i < ${x.length}; i++) {`,
      `    if (fread(row, sizeof(double), ${count}, stdin) != ${count}) return 1;`,
      `    y = (double)${base}_${fullName(name, real)}(&m, &in, &out, ${given});`,
      '    if (fwrite(&y, sizeof y, 1, stdout) != 1) return 2;',
      '  }',
    ];
  });
  const start = [`#include <stdio.h>`, `#include "${base}.h"`, 'int main(void) {', '  int i; double row[4]; double y;'];
  const storage = [`  ${base}_t m; ${base}_in_t in = {0}; ${base}_out_t out = {0};`, `  ${base}_start(&m);`];
  return [...start, ...storage, ...loops, '  return 0;', '}', ''].join('\n');
}

for (const real of reals)
  test.each(['gcc', 'clang'])(
    `in C by %s, in ${real}`,
    (compiler) => {
      if (!hasCommand(compiler)) return;
      const base = `elementary_${real}`;
      const exported = tried.map((name) => fullName(name, real));
      const program = { name: base, real, ...elementaryFunctions(exported, 0) };
      const all = tried.map((name) => rowsOf(name, real));
      const input = Buffer.from(Float64Array.from(all.flatMap(({ x }) => x.flat())).buffer);
      inFolder((folder) => {
        const files = emitC(program, { name: base, exported });
        writeFiles(folder, [...files, { name: 'main.c', text: driver(base, real), lines: [] }]);
        const flags = [...strict, '-O2', '-ffp-contract=off'];
        const run = compileC(folder, compiler, flags, [`${base}.c`, 'main.c']);
        const { stdout, status } = spawnSync(run, { input, maxBuffer: 2 ** 26 });
        expect(status).toBe(0);
        const got = new Float64Array(new Uint8Array(stdout).buffer);
        const wanted = all.flatMap(({ answers }) => answers);
        expect(got.length).toBe(wanted.length);
        expect(wanted.filter((y, k) => !Object.is(y, got[k]))).toEqual([]);
      });
    },
    60_000,
  );
