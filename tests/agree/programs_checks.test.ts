/** The C guards itself: its self-check sees one wrong bit, its probes and guards see arithmetic that is not ours. */

import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { emitC } from '../../compiler/c/emit.ts';
import { type Column, recordReference } from '../../compiler/c/reference.ts';
import { emitSelfcheck } from '../../compiler/c/selfcheck.ts';
import { Builder, realOps } from '../../compiler/ir/build.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Program, Slot } from '../../compiler/ir/program.ts';
import { createWasmMachineSync } from '../../compiler/wasm/machine.ts';
import { Dealer, oddNumber, randomNumbers, randomProgram } from './programs.ts';
import { compileC, hasCommand, inFolder, strict, writeFiles } from './programs_c.ts';

const gcc = hasCommand('gcc');
const clang = hasCommand('clang');

function slot(id: number, name: string, more: Partial<Slot>): Slot {
  return { id, name, kind: 'wire', type: 'f32', length: 1, start: [0], block: '', ...more };
}

/** A filter with a delay behind it: y = x + k (u − x), and the y of three ticks ago. */
function lag(gain: number): Program {
  const b = new Builder('tick');
  const { add, sub, mul } = realOps(b, 'f32');
  b.note('lag', 'follows its input slowly');
  const x = b.load(1, 'f32');
  const y = add(x, mul(b.load(2, 'f32'), sub(b.load(0, 'f32'), x)));
  b.store(1, y);
  b.store(3, b.lineLoad(5, 'f32', b.const('i32', 3)));
  b.linePush(5, y);
  const slots = [
    slot(0, 'level', { kind: 'input' }),
    slot(1, 'lag.x', { kind: 'memory', block: 'lag' }),
    slot(2, 'lag.gain', { kind: 'setting', start: [Math.fround(gain)], block: 'lag' }),
    slot(3, 'valve', { kind: 'output' }),
    slot(4, 'late.head', { kind: 'memory', type: 'i32', block: 'late' }),
    slot(5, 'late.line', { kind: 'line', length: 3, start: [0, 0, 0], head: 4, block: 'late' }),
  ];
  return { name: 'lag', real: 'f32', slots, functions: [b.finish()] };
}

function levels(ticks: number): Column[] {
  const random = randomNumbers(3);
  return [
    { slot: 0, index: 0, numbers: Float64Array.from({ length: ticks }, (_, i) => Math.fround(i < 10 ? 1 : random())) },
  ];
}

/** Builds the self-check against this program's C and runs it. */
function selfcheck(
  folder: string,
  checked: Program,
  reference: Parameters<typeof emitSelfcheck>[1],
  flags: readonly string[] = [],
) {
  const check = emitSelfcheck(checked, reference, { name: checked.name });
  writeFiles(folder, [...emitC(checked, { name: checked.name }), check]);
  const path = compileC(folder, 'gcc', [...strict, '-O1', ...flags], [`${checked.name}.c`, 'selfcheck.c']);
  const run = spawnSync(path, { encoding: 'utf8' });
  return { status: run.status, output: run.stdout, errors: run.stderr, bytes: check.text.length };
}

describe.skipIf(!gcc)('self-check', () => {
  const ticks = 200;
  const values = 7;
  const program = lag(0.1);
  const reference = recordReference(createWasmMachineSync(program), program, levels(ticks), ticks);
  const summed = recordReference(createWasmMachineSync(program), program, levels(ticks), ticks, 0);

  test('passes for the program itself and counts ticks × values', () => {
    // Outputs, memories, held wires and the one setting.
    expect(reference.values).toBe(values);
    inFolder((folder) => {
      for (const one of [reference, summed]) {
        const run = selfcheck(folder, program, one);
        expect(run).toMatchObject({ status: 0, output: `${ticks * values} passed, 0 failed\n`, errors: '' });
      }
    });
  });

  test('fails when a setting is off by one bit, number by number and by checksum', () => {
    const gain = new Float32Array([0.1]);
    const bits = new Uint32Array(gain.buffer);
    bits[0] = (bits[0] ?? 0) + 1;
    inFolder((folder) => {
      const run = selfcheck(folder, lag(gain[0] ?? 0), reference);
      const [, passed = 0, failed = 0] = (/^(\d+) passed, (\d+) failed\n$/.exec(run.output) ?? []).map(Number);
      expect(run.status).toBe(1);
      expect(failed).toBeGreaterThan(ticks);
      expect(passed + failed).toBe(ticks * values);
      expect(run.errors).toContain('tick 0: lag_x[0] is');
      const bySum = selfcheck(folder, lag(gain[0] ?? 0), summed);
      const [, passedTicks = 0, failedTicks = 0] = (/^(\d+) passed, (\d+) failed\n$/.exec(bySum.output) ?? []).map(
        (count) => Number(count) / values,
      );
      expect(bySum.status).toBe(1);
      expect(failedTicks).toBeGreaterThan(ticks / 4);
      expect(passedTicks + failedTicks).toBe(ticks);
      expect(bySum.errors).toContain('tick 0 is the first to differ');
    });
  });

  test('fails when nothing was compared', () => {
    inFolder((folder) => {
      const empty = recordReference(createInterpreter(program), program, levels(1), 1);
      const none = { ...empty, ticks: 0, inputs: [], expected: { kind: 'numbers' as const, columns: [] } };
      expect(selfcheck(folder, program, none)).toMatchObject({ status: 1, output: '0 passed, 0 failed\n' });
    });
  });

  test('agrees with random programs of every type, and stays small over 10 000 ticks', { timeout: 60_000 }, () => {
    const dealer = new Dealer();
    inFolder((folder) => {
      for (const seed of [11, 12]) {
        const random = randomNumbers(seed);
        const one = randomProgram(`replay_${seed}`, seed, 120, dealer);
        const long = seed === 12 ? 10_000 : 60;
        const inputs = one.slots
          .filter((input) => input.kind === 'input')
          .flatMap((input) => input.start.map((_, index) => ({ slot: input.id, index })))
          .slice(0, 10)
          .map(({ slot: id, index }) => {
            const type = one.slots[id]?.type ?? 'f32';
            return { slot: id, index, numbers: Float64Array.from({ length: long }, () => oddNumber(type, random)) };
          });
        const known = recordReference(createWasmMachineSync(one), one, inputs, long);
        expect(known.expected.kind).toBe(seed === 12 ? 'sums' : 'numbers');
        const run = selfcheck(folder, one, known);
        expect(run).toMatchObject({ status: 0, output: `${long * known.values} passed, 0 failed\n` });
        expect(run.bytes).toBeLessThan(3_000_000);
      }
    });
  });

  test('inputs that hardly change take hardly any room', () => {
    const steady = recordReference(createWasmMachineSync(program), program, [], 5000, 0);
    // Four bytes of checksum a tick, each of at most three digits and a comma, and the code.
    expect(emitSelfcheck(program, steady, { name: 'lag' }).text.length).toBeLessThan(5000 * 16 + 6000);
  });
});

describe('guards and probes', () => {
  const files = emitC(lag(0.1), { name: 'lag' });
  const probe = `#include "lag.h"
int main(int count, char **words)
{
#if defined(__x86_64__)
    /* Bits of the SSE control register, in octal: 100 operands and 100000 results are flushed, 40000 up, 60000 cut. */
    unsigned bits = 0;
    for (int i = 0; count > 1 && words[1][i] != 0; i++) {
        bits = bits * 8 + (unsigned)(words[1][i] - '0');
    }
    __builtin_ia32_ldmxcsr(__builtin_ia32_stmxcsr() | bits);
#endif
    return lag_arithmetic_ok() != 0 ? 0 : 1;
}
`;
  /** What the probe answers, once for each word it is given. */
  const answers = (compiler: string, flags: readonly string[], words: readonly string[] = ['']): (number | null)[] =>
    inFolder((folder) => {
      writeFiles(folder, files);
      writeFileSync(join(folder, 'probe.c'), probe);
      const path = compileC(folder, compiler, flags, ['lag.c', 'probe.c']);
      return words.map((word) => spawnSync(path, [word]).status);
    });

  test.skipIf(!gcc)('a sound machine passes, also where the compiler would contract if it might', () => {
    expect(answers('gcc', ['-std=gnu11', '-O3', '-march=haswell'])).toEqual([0]);
  });

  test.skipIf(!gcc || process.arch !== 'x64')('wrong rounding and flushed subnormals are seen', () => {
    const words = ['0', '100', '100000', '40000', '60000', '20000'];
    expect(answers('gcc', ['-O2'], words)).toEqual([0, 1, 1, 1, 1, 1]);
  });

  test.skipIf(!clang || process.arch !== 'x64')('contraction that no pragma stops is seen', () => {
    expect(answers('clang', ['-O2', '-march=haswell'])).toEqual([0]);
    expect(answers('clang', ['-O2', '-march=haswell', '-ffp-contract=fast'])).toEqual([1]);
  });

  test.skipIf(!gcc)('fast mathematics and excess precision do not compile', () => {
    for (const flag of ['-ffast-math', '-ffinite-math-only']) expect(() => answers('gcc', [flag])).toThrow('#error');
    if (process.arch === 'x64') expect(() => answers('gcc', ['-mfpmath=387', '-std=c99'])).toThrow('FLT_EVAL_METHOD');
  });
});

describe.skipIf(!gcc)('own division', () => {
  const b = new Builder('tick');
  b.store(2, realOps(b, 'f32').div(b.load(0, 'f32'), b.load(1, 'f32')));
  const names = ['over', 'under'].map((name, id) => slot(id, name, { kind: 'input' }));
  const program: Program = {
    name: 'quotient',
    real: 'f32',
    slots: [...names, slot(2, 'quotient', { kind: 'output' })],
    functions: [b.finish()],
  };

  test('rounds as IEEE 754 does, above all where quotients are subnormal', () => {
    const ticks = 12_000;
    const random = randomNumbers(99);
    const any = (): number => new Float32Array(Uint32Array.of(Math.floor(random() * 2 ** 32)).buffer)[0] ?? 0;
    const over: number[] = [];
    const under: number[] = [];
    for (let i = 0; i < ticks; i++) {
      const quotient = (random() < 0.5 ? -1 : 1) * random() * 2 ** (-126 - Math.floor(random() * 26));
      const divisor = i % 3 === 0 ? any() : Math.fround((1 + random()) * 2 ** Math.floor(random() * 120));
      under.push(divisor);
      over.push(i % 5 === 0 ? any() : Math.fround(quotient * divisor));
    }
    const inputs = [over, under].map((numbers, id) => ({ slot: id, index: 0, numbers: Float64Array.from(numbers) }));
    const reference = recordReference(createInterpreter(program), program, inputs, ticks);
    const subnormal = reference.expected.kind === 'numbers' ? (reference.expected.columns[0]?.numbers ?? []) : [];
    expect([...subnormal].filter((q) => q !== 0 && Math.abs(q) < 2 ** -126).length).toBeGreaterThan(ticks / 4);
    inFolder((folder) => {
      writeFiles(folder, [
        ...emitC(program, { name: 'quotient', ownDivision: true }),
        emitSelfcheck(program, reference, { name: 'quotient' }),
      ]);
      const path = compileC(folder, 'gcc', [...strict, '-O2', '-fsanitize=undefined'], ['quotient.c', 'selfcheck.c']);
      expect(spawnSync(path, { encoding: 'utf8' })).toMatchObject({ status: 0, stdout: `${ticks} passed, 0 failed\n` });
    });
  });
});
