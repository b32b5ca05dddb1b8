/** Random programs say the same bits on every engine: interpreter, WebAssembly, simplified, and C by two compilers. */

import { describe, expect, test } from 'vitest';
import { prepare } from '../../compiler/c/prepare.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Machine } from '../../compiler/ir/machine.ts';
import { operations } from '../../compiler/ir/operations.ts';
import type { Program, Slot } from '../../compiler/ir/program.ts';
import { simplify, size } from '../../compiler/ir/simplify.ts';
import { verify } from '../../compiler/ir/verify.ts';
import { createWasmMachine, createWasmMachineSync, encodeProgram } from '../../compiler/wasm/machine.ts';
import { coverage, Dealer, randomInputs, randomNumbers, randomProgram } from './programs.ts';
import {
  compared,
  compileC,
  emitAll,
  hasCommand,
  inFolder,
  pattern,
  runDriver,
  strict,
  writeFiles,
} from './programs_c.ts';

const ticks = 16;

/** Wires that a caller of `simplify` wants kept: every second one. */
function keptWires(program: Program): Set<number> {
  return new Set(program.slots.filter((slot) => slot.kind === 'wire' && slot.id % 2 === 0).map((slot) => slot.id));
}

/** Whether a slot means the same after `simplify`. */
function survives(slot: Slot, kept: ReadonlySet<number>): boolean {
  return slot.kind !== 'scratch' && (slot.kind !== 'wire' || kept.has(slot.id));
}

/** Runs machines side by side on the same inputs and names the first scalar in which one differs from the first. */
function firstDifference(program: Program, machines: readonly Machine[], slots: readonly Slot[][]): string | undefined {
  const random = randomNumbers(program.slots.length);
  const inputs = program.slots.filter((slot) => slot.kind === 'input');
  for (let tick = 0; tick < ticks; tick++) {
    const numbers = randomInputs(program, random);
    for (const machine of machines) {
      for (const [i, slot] of inputs.entries())
        for (const [k, number] of (numbers[i] ?? []).entries()) machine.write(slot.id, number, k);
      machine.call('tick');
    }
    for (const [i, machine] of machines.entries())
      for (const slot of slots[i] ?? []) {
        const want = machines[0]?.readAll(slot.id) ?? new Float64Array();
        const got = machine.readAll(slot.id);
        const k = want.findIndex((number, at) => !Object.is(number, got[at]));
        if (k >= 0) return `${program.name} tick ${tick} machine ${i} ${slot.name}[${k}]: ${got[k]}, not ${want[k]}`;
      }
  }
  return undefined;
}

function programs(count: number, smallest: number, largest: number, dealer: Dealer): Program[] {
  return Array.from({ length: count }, (_, i) => {
    const length = Math.round(smallest + ((largest - smallest) * ((i * 7) % count)) / count);
    return randomProgram(`program_${i + 1}`, 1000 + i, length, dealer);
  });
}

describe('engines', () => {
  const dealer = new Dealer();
  const all = programs(160, 20, 300, dealer);

  test('every operation and every kind of instruction is there', () => {
    const counts = new Map<string, number>();
    for (const program of all) coverage(program, counts);
    const kinds = [
      'const',
      'load',
      'load indexed',
      'store',
      'store indexed',
      'line_load',
      'line_push',
      'if',
      'repeat',
      'call',
      'note',
    ];
    const missing = [...operations.keys(), ...kinds].filter((what) => (counts.get(what) ?? 0) < 20);
    const least = Math.min(...[...operations.keys()].map((name) => counts.get(name) ?? 0));
    console.log(
      `${operations.size} operations, each at least ${least} times; ${kinds.map((kind) => `${kind} ${counts.get(kind)}`).join(', ')}`,
    );
    expect(missing).toEqual([]);
  });

  test('interpreter, WebAssembly and the simplified program agree in every slot at every tick', () => {
    const differences: string[] = [];
    let before = 0;
    let after = 0;
    for (const program of all) {
      const kept = keptWires(program);
      const short = simplify(program, kept);
      expect(verify(program), program.name).toEqual([]);
      expect(verify(short), `${program.name} simplified`).toEqual([]);
      before += size(program);
      after += size(short);
      const everything = [...program.slots];
      const surviving = everything.filter((slot) => survives(slot, kept));
      const machines = [
        createInterpreter(program),
        createWasmMachineSync(program),
        createInterpreter(short),
        createWasmMachineSync(short),
      ];
      const found = firstDifference(program, machines, [everything, everything, surviving, surviving]);
      if (found !== undefined) differences.push(found);
    }
    expect(differences).toEqual([]);
    expect(after).toBeLessThan(before * 0.9);
  });

  test('starting again gives the same run, also from a machine made without waiting', async () => {
    for (const program of all.slice(0, 20)) {
      const used = await createWasmMachine(program);
      for (let i = 0; i < 5; i++) used.call('tick');
      used.start();
      const everything = [...program.slots];
      expect(firstDifference(program, [createInterpreter(program), used], [everything, everything])).toBeUndefined();
    }
  });

  test('the same program gives the same bytes, and functions take and give values of their types', () => {
    for (const program of all.slice(0, 20)) {
      expect(encodeProgram(program)).toEqual(encodeProgram(program));
      const machines = [createInterpreter(program), createWasmMachineSync(program)];
      for (const func of program.functions) {
        const args = func.values.slice(0, func.parameters).map((_, i) => [2.7, -3, 1e10, NaN][i % 4] as number);
        const answers = machines.map((machine) => machine.call(func.name, ...args));
        expect(answers[1], `${program.name} ${func.name}`).toBe(answers[0]);
      }
      expect(() => machines[1]?.call('nothing')).toThrow();
      expect(() => machines[1]?.read(0, 99)).toThrow();
    }
  });
});

describe('C', () => {
  const dealer = new Dealer();
  const all = programs(12, 60, 400, dealer).map((program, i) =>
    i % 2 === 0 ? program : simplify(program, keptWires(program)),
  );

  /** Words for the driver's standard input and the words expected from it. */
  function expectedBits(): { input: Uint8Array; output: Uint8Array; places: string[] } {
    const input: number[] = [];
    const output: number[] = [];
    const places: string[] = [];
    const word = new DataView(new ArrayBuffer(8));
    const put = (into: number[], type: Slot['type'], number: number): void => {
      pattern(type, number, word, 0);
      for (let i = 0; i < 8; i++) into.push(word.getUint8(i));
    };
    for (const program of all) {
      const random = randomNumbers(7);
      const machine = createInterpreter(program);
      const inputs = program.slots.filter((slot) => slot.kind === 'input');
      for (let tick = 0; tick < ticks; tick++) {
        const numbers = randomInputs(program, random);
        for (const [i, slot] of inputs.entries())
          for (const [k, number] of (numbers[i] ?? []).entries()) {
            machine.write(slot.id, number, k);
            put(input, slot.type, number);
          }
        machine.call('tick');
        for (const slot of compared(program))
          for (const [k, number] of machine.readAll(slot.id).entries()) {
            put(output, slot.type, number);
            places.push(`${program.name} tick ${tick} ${slot.name}[${k}]`);
          }
      }
    }
    return { input: Uint8Array.from(input), output: Uint8Array.from(output), places };
  }

  const builds: readonly (readonly [string, readonly string[]])[] = [
    ['gcc', ['-O0']],
    ['gcc', ['-O2', '-ffp-contract=off']],
    ['clang', ['-O2', '-march=haswell']],
    ['gcc', ['-O1', '-g', '-fsanitize=address,undefined', '-fno-sanitize-recover=all']],
  ];

  test('is clean under strict warnings and gives the bits of the interpreter', { timeout: 120_000 }, () => {
    const { input, output, places } = expectedBits();
    const files = emitAll(all, ticks);
    const sources = files.map((file) => file.name).filter((name) => name.endsWith('.c'));
    inFolder((folder) => {
      writeFiles(folder, files);
      for (const [compiler, flags] of builds) {
        if (!hasCommand(compiler)) continue;
        const got = runDriver(compileC(folder, compiler, [...strict, ...flags], sources), input);
        expect(got.length, `${compiler} ${flags.join(' ')}`).toBe(output.length);
        const at = output.findIndex((byte, i) => byte !== got[i]);
        expect(at < 0 ? 'all the same' : `${compiler} ${flags.join(' ')}: ${places[at >> 3]}`).toBe('all the same');
      }
    });
    expect(places.length).toBeGreaterThan(8_000);
  });

  test('every operation is in the C as well, after what the emitter simplifies', () => {
    const counts = new Map<string, number>();
    for (const program of all) coverage(prepare(program, ['tick']), counts);
    expect([...operations.keys()].filter((name) => (counts.get(name) ?? 0) < 5)).toEqual([]);
  });
});
