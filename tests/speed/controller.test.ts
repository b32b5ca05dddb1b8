/** The row scout's controller: WebAssembly against gcc, and the emitted C against C written by hand, on one recorded run. */

import { execFileSync, spawnSync } from 'node:child_process';
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { emitC } from '../../compiler/c/emit.ts';
import { compile } from '../../compiler/compile.ts';
import { Builder } from '../../compiler/ir/build.ts';
import type { Program } from '../../compiler/ir/program.ts';
import { createWasmMachine } from '../../compiler/wasm/machine.ts';
import { prepareRun } from '../../runtime/bench/run.ts';
import { compileC, inFolder, writeFiles } from '../agree/programs_c.ts';
import { sample } from '../samples/sample.ts';

const TICKS = 2_000;
const REPEATS = 200;

interface Recorded {
  readonly program: Program;
  /** Raw inputs, a row a tick, in the order of the program's input slots. */
  readonly rows: readonly (readonly number[])[];
}

async function recorded(): Promise<Recorded> {
  const sheet = sample('row_scout/row_scout.sheet.json');
  const program = compile(sheet, { library, name: 'row_scout' }).value?.controller;
  const run = await prepareRun(sheet, { library, name: 'row_scout', run: 'push_left', engine: 'wasm' }, []);
  if (program === undefined || run === undefined) throw new Error('the row scout does not compile');
  const inputs = program.slots.filter((slot) => slot.kind === 'input');
  const rows = Array.from({ length: TICKS }, () => {
    run.bench.advance(1);
    return inputs.map((slot) => run.bench.read(slot.name) ?? 0);
  });
  return { program, rows };
}

/** The program with a function `ticks` that plays the whole recording inside. */
function playing({ program, rows }: Recorded): Program {
  const slots = [...program.slots];
  const b = new Builder('ticks');
  const inputs = program.slots.filter((slot) => slot.kind === 'input');
  const traces = inputs.map((input, i) => {
    const start = rows.map((row) => row[i] ?? 0);
    slots.push({ ...input, id: slots.length, name: `trace_${i}`, kind: 'scratch', length: rows.length, start });
    return slots.length - 1;
  });
  b.repeat(rows.length, (tick) => {
    for (const [i, input] of inputs.entries()) b.store(input.id, b.load(traces[i] ?? 0, input.type, tick));
    b.run('tick');
  });
  return { ...program, slots, functions: [...program.functions, b.finish()] };
}

/** A main that plays the recording, `repeats` times; prints nanoseconds a tick (the median) and the commands of the last. */
function mainC(header: string, prefix: string, { rows }: Recorded): string {
  const fields = ['across', 'along', 'ask', 'gyro', 'left', 'right', 'stop'];
  const cells = rows.map((row) => `{${row.map((x) => (Number.isInteger(x) ? x : Math.fround(x))).join(', ')}}`);
  return `#define _POSIX_C_SOURCE 200809L
#include "${header}"
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
static const double rows[${rows.length}][${fields.length}] = {${cells.join(',\n')}};
static ${prefix}_in_t in[${rows.length}];
static ${prefix}_out_t out[${rows.length}];
static ${prefix}_t m;
static int ascending(const void *a, const void *b) { const double x = *(const double *)a, y = *(const double *)b; return (x > y) - (x < y); }
int main(int argc, char **argv)
{
    const int repeats = argc > 1 ? atoi(argv[1]) : 1;
    static double spans[10000];
    for (int k = 0; k < ${rows.length}; k++) {
        ${fields.map((field, i) => `in[k].${field} = (${field === 'ask' || field === 'stop' ? 'uint8_t' : field === 'left' || field === 'right' ? 'int32_t' : 'float'})rows[k][${i}];`).join('\n        ')}
    }
    for (int r = 0; r < repeats; r++) {
        struct timespec a, b;
        ${prefix}_start(&m);
        clock_gettime(CLOCK_MONOTONIC, &a);
        for (int k = 0; k < ${rows.length}; k++) ${prefix}_tick(&m, &in[k], &out[k]);
        clock_gettime(CLOCK_MONOTONIC, &b);
        spans[r] = ((double)(b.tv_sec - a.tv_sec) * 1e9 + (double)(b.tv_nsec - a.tv_nsec)) / ${rows.length};
    }
    qsort(spans, (size_t)repeats, sizeof spans[0], ascending);
    printf("%g\\n", spans[repeats / 2]);
    for (int k = 0; k < ${rows.length}; k++) printf("%.9g %d\\n", (double)out[k].drive, (int)out[k].lamp);
    return 0;
}
`;
}

/** Instructions of one function and all it calls. */
function instructions(path: string, func: string): number {
  const words = ['--tool=callgrind', '--callgrind-out-file=/dev/null', `--toggle-collect=${func}`, path];
  const { stderr } = spawnSync('valgrind', words, { encoding: 'utf8' });
  const found = /Collected : (\d+)/.exec(stderr);
  if (found === null) throw new Error(stderr.slice(-1000));
  return Number(found[1]);
}

test('the row scout against gcc and against C written by hand', async () => {
  const run = await recorded();
  const machine = await createWasmMachine(playing(run));
  const play = machine.func('ticks');
  const spans: number[] = [];
  for (let i = 0; i < REPEATS; i++) {
    machine.start();
    const began = performance.now();
    play();
    spans.push(((performance.now() - began) * 1e6) / TICKS);
  }
  const wasm = spans.sort((a, b) => a - b)[REPEATS / 2] ?? 0;
  inFolder((folder) => {
    writeFiles(folder, emitC(run.program, { name: 'row_scout' }));
    for (const name of ['row_scout_by_hand.c', 'row_scout_by_hand.h'])
      copyFileSync(join(import.meta.dirname, name), join(folder, name));
    writeFileSync(join(folder, 'emitted_main.c'), mainC('row_scout.h', 'row_scout', run));
    writeFileSync(join(folder, 'by_hand_main.c'), mainC('row_scout_by_hand.h', 'by_hand', run));
    const flags = ['-std=c99', '-O2', '-ffp-contract=off', '-g'];
    const text = readFileSync(join(folder, 'row_scout.c'), 'utf8');
    const portable = text.slice(text.indexOf('/* The signed number'), text.indexOf('void row_scout_tick('));
    writeFileSync(join(folder, 'portable.h'), portable);
    const emitted = compileC(folder, 'gcc', [...flags, '-DEMITTED'], ['row_scout.c', 'emitted_main.c']);
    const hand = (...more: string[]) =>
      compileC(folder, 'gcc', [...flags, ...more], ['row_scout_by_hand.c', 'by_hand_main.c']);
    const [sameBits, library] = [hand('-DPORTABLE'), hand()];
    const said = (path: string) =>
      execFileSync(path, [String(REPEATS)], { encoding: 'utf8' })
        .trim()
        .split('\n');
    const [time = '0', ...commands] = said(emitted);
    expect(said(sameBits).slice(1)).toEqual(commands);
    expect(commands.filter((line) => Number(line.split(' ')[0]) !== 0).length).toBeGreaterThan(TICKS / 3);
    const count = (path: string, func: string) => instructions(path, func) / TICKS;
    const counts = [count(emitted, 'row_scout_tick'), count(sameBits, 'by_hand_tick'), count(library, 'by_hand_tick')];
    const [ours = 0, theirs = 1, libm = 1] = counts;
    console.log(
      [
        `a tick in WebAssembly ${wasm.toFixed(0)} ns, gcc -O2 ${Number(time).toFixed(0)} ns: ${(wasm / Number(time)).toFixed(2)}`,
        `instructions a tick, emitted ${ours.toFixed(0)}, by hand with the same bits ${theirs.toFixed(0)}: ${(ours / theirs).toFixed(2)}`,
        `by hand with the library's atan2f, whose bits differ from machine to machine, ${libm.toFixed(0)}: ${(ours / libm).toFixed(2)}`,
      ].join('\n'),
    );
  });
});
