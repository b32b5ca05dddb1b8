/** Emitted C, compiled and run on a trace's raw inputs, against the interpreter's scalars. */

import type { Program } from '../../compiler/ir/program.ts';
import type { Trace } from './compare.ts';
import { compared, compileC, pattern, runDriver } from './programs_c.ts';

/** Compiles the emitted files of programs, with their driver, in a folder; gives the binary. */
export function compileDriver(programs: readonly Program[], folder: string, flags: readonly string[]): string {
  const sources = ['main.c', ...programs.map(({ name }) => `${name}.c`)];
  return compileC(folder, 'gcc', ['-std=c99', '-ffp-contract=off', ...flags], sources);
}

/** Feeds a driver the raw inputs of its programs' traces; gives what differs from the interpreter, the first of each. */
export function compareTraces(path: string, traces: readonly Trace[]): string[] {
  const words = traces.reduce((sum, trace) => sum + trace.inputs.reduce((n, row) => n + row.length, 0), 0);
  const input = new DataView(new ArrayBuffer(words * 8));
  let at = 0;
  for (const { program, inputs } of traces) {
    const types = program.slots.filter((slot) => slot.kind === 'input').map((slot) => slot.type);
    for (const row of inputs)
      for (const [i, value] of row.entries()) {
        pattern(types[i] ?? 'f64', value, input, at);
        at += 8;
      }
  }
  const output = runDriver(path, new Uint8Array(input.buffer));
  const got = new DataView(output.buffer, output.byteOffset, output.byteLength);
  const want = new DataView(new ArrayBuffer(8));
  const problems: string[] = [];
  let word = 0;
  for (const { program, after } of traces) {
    const scalars = compared(program).flatMap((slot) => Array.from({ length: slot.length }, () => slot));
    let told = false;
    for (const [tick, row] of after.entries())
      for (const [i, value] of row.entries()) {
        const slot = scalars[i];
        pattern(slot?.type ?? 'f64', value, want, 0);
        if (!told && want.getBigUint64(0, true) !== got.getBigUint64(word * 8, true)) {
          problems.push(`${program.name}: tick ${tick}, ${slot?.name}: interpreter ${value}`);
          told = true;
        }
        word++;
      }
  }
  return problems;
}
