/** Emitted C, compiled and run on a trace's raw inputs, against the interpreter's scalars. */

import type { Program, Slot } from '../../compiler/ir/program.ts';
import type { Trace } from './compare.ts';
import { compared, compileC, pattern, runDriver } from './programs_c.ts';

/** Compiles the emitted files of programs, with their driver, in a folder; gives the binary. */
export function compileDriver(programs: readonly Program[], folder: string, flags: readonly string[]): string {
  const sources = ['main.c', ...programs.map(({ name }) => `${name}.c`)];
  return compileC(folder, 'gcc', ['-std=c99', '-ffp-contract=off', ...flags], sources);
}

/**
 * Feeds drivers the raw inputs of their programs' traces; gives what differs from the interpreter, the first of each
 * program and driver.
 */
export function compareTraces(paths: readonly string[], traces: readonly Trace[]): string[] {
  const scalarsOf = (slots: readonly Slot[]): Slot[] =>
    slots.flatMap((slot) => Array.from({ length: slot.length }, () => slot));
  const fields = traces.map(({ program }) => scalarsOf(program.slots.filter((slot) => slot.kind === 'input')));
  const kept = traces.map(({ program }) => scalarsOf(compared(program)));
  const input = patterns(fields, (i) => traces[i]?.inputs ?? []);
  const want = patterns(kept, (i) => traces[i]?.after ?? []);
  const problems: string[] = [];
  for (const path of paths) {
    const got = runDriver(path, input);
    if (Buffer.compare(got, want) === 0) continue;
    if (got.length !== want.length) problems.push(`${path}: ${got.length} bytes instead of ${want.length}`);
    let word = 0;
    for (const [i, { program, after }] of traces.entries()) {
      const width = kept[i]?.length ?? 0;
      const end = word + width * after.length;
      const from = word;
      while (word < end && want.subarray(word * 8, word * 8 + 8).equals(got.subarray(word * 8, word * 8 + 8))) word++;
      const [tick, scalar] = [Math.floor((word - from) / width), (word - from) % width];
      if (word < end)
        problems.push(
          `${path}: tick ${tick}, ${program.name} ${kept[i]?.[scalar]?.name}: not ${after[tick]?.[scalar]}`,
        );
      word = end;
    }
  }
  return problems;
}

/** Every scalar of every row of every trace as a word of bits. */
function patterns(
  scalars: readonly (readonly Slot[])[],
  rowsOf: (trace: number) => readonly ArrayLike<number>[],
): Buffer {
  const words = scalars.reduce((sum, slots, i) => sum + slots.length * rowsOf(i).length, 0);
  const bits = Buffer.alloc(words * 8);
  const view = new DataView(bits.buffer, bits.byteOffset, bits.byteLength);
  let at = 0;
  for (const [i, slots] of scalars.entries())
    for (const row of rowsOf(i))
      for (const [j, { type }] of slots.entries()) {
        pattern(type, row[j] ?? 0, view, at);
        at += 8;
      }
  return bits;
}
