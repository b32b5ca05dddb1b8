/** WebAssembly against gcc, and the emitted C against C written by hand, on one recorded run of each law. */

import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { emitC } from '../../compiler/c/emit.ts';
import { Builder } from '../../compiler/ir/build.ts';
import type { Program } from '../../compiler/ir/program.ts';
import { createWasmMachine } from '../../compiler/wasm/machine.ts';
import { hasCommand, writeFiles } from '../agree/programs_c.ts';
import { emitFor, requestOf, withFiles } from '../targets/emitted.ts';
import { onBoard, onHost, type Said } from './counts.ts';
import { type Law, laws, type Recorded, recorded, TICKS } from './laws.ts';

const REPEATS = 200;

/** The program with a function `ticks` that plays the whole recording inside. */
function playing({ program, rows, inputs }: Recorded): Program {
  const slots = [...program.slots];
  const b = new Builder('ticks');
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

/** How long it plays before it is measured, in milliseconds: the engine compiles beside it what is played often. */
const WARM = 300;

/** Nanoseconds a tick once warm, the median of many runs. */
async function inWebAssembly(run: Recorded): Promise<number> {
  const machine = await createWasmMachine(playing(run));
  const play = machine.func('ticks');
  const spans: number[] = [];
  for (const began = performance.now(); performance.now() - began < WARM; ) play();
  for (let i = 0; i < REPEATS; i++) {
    machine.start();
    const began = performance.now();
    play();
    spans.push(((performance.now() - began) * 1e6) / TICKS);
  }
  return spans.sort((a, b) => a - b)[REPEATS / 2] ?? 0;
}

/** What both ways of saying it need in one folder; by hand, the emitted arithmetic stands in for the library's. */
function saidBoth(folder: string, law: Law, program: Program): { emitted: Said; hand: Said } {
  writeFiles(folder, emitC(program, { name: law.name }));
  for (const end of ['.c', '.h']) copyFileSync(join(import.meta.dirname, law.hand + end), join(folder, law.hand + end));
  const text = readFileSync(join(folder, `${law.name}.c`), 'utf8');
  const portable = text.slice(text.indexOf('/* The signed number'), text.indexOf(`void ${law.name}_tick(`));
  writeFileSync(join(folder, 'portable.h'), portable);
  return {
    emitted: { source: `${law.name}.c`, header: `${law.name}.h`, prefix: law.name, flags: [] },
    hand: { source: `${law.hand}.c`, header: `${law.hand}.h`, prefix: law.prefix, flags: ['-DPORTABLE'] },
  };
}

describe.each(laws)('$name', (law) => {
  test('against gcc and against C written by hand', async () => {
    const run = await recorded(law);
    const wasm = await inWebAssembly(run);
    const request = await requestOf(run.sheet, law.name, undefined);
    await withFiles(emitFor('cortex_m', request), (folder) => {
      const { emitted, hand } = saidBoth(folder, law, run.program);
      const [ours, theirs] = [onHost(folder, emitted, run, REPEATS), onHost(folder, hand, run, REPEATS)];
      expect(theirs.sum).toBe(ours.sum);
      const said = [
        `${law.name}, a tick in WebAssembly ${wasm.toFixed(0)} ns, gcc -O2 ${ours.nanoseconds.toFixed(0)} ns: ${(wasm / ours.nanoseconds).toFixed(2)}`,
        `instructions a tick, emitted ${ours.instructions.toFixed(0)}, by hand with the same bits ${theirs.instructions.toFixed(0)}: ${(ours.instructions / theirs.instructions).toFixed(2)}`,
      ];
      if (law.name === 'row_scout') {
        const libm = onHost(folder, { ...hand, flags: [] }, run, 1);
        said.push(
          `by hand with the library's atan2f, whose bits differ from machine to machine, ${libm.instructions.toFixed(0)}: ${(ours.instructions / libm.instructions).toFixed(2)}`,
        );
      }
      if (hasCommand('arm-none-eabi-gcc') && hasCommand('qemu-system-arm')) {
        const [board, boardHand] = [onBoard(folder, emitted, run), onBoard(folder, hand, run)];
        expect(board.sum).toBe(ours.sum);
        expect(boardHand.sum).toBe(ours.sum);
        const ratio = board.instructions / boardHand.instructions;
        said.push(
          `on a Cortex-M4F, emitted ${board.instructions.toFixed(0)}, by hand ${boardHand.instructions.toFixed(0)}: ${ratio.toFixed(2)}`,
        );
        console.log(said.join('\n'));
        expect(ratio).toBeLessThan(law.most.board);
      } else console.log(said.join('\n'));
      expect(ours.instructions / theirs.instructions).toBeLessThan(law.most.host);
    });
  });
});
