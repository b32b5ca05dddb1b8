/** What is left to branches: whatever the question's answer, every slot comes to the same bits, step after step. */

import { describe, expect, test } from 'vitest';
import { Builder } from '../../compiler/ir/build.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import { printFunction } from '../../compiler/ir/print.ts';
import type { Program, Slot, Value } from '../../compiler/ir/program.ts';
import { simplify } from '../../compiler/ir/simplify.ts';
import { createWasmMachineSync } from '../../compiler/wasm/machine.ts';

const names = ['number', 'other', 'flag', 'latch'] as const;
const slots: Slot[] = names.map((name, id) => ({
  id,
  name,
  kind: 'memory',
  type: id < 2 ? 'f64' : 'bool',
  length: 1,
  start: [id === 3 ? 1 : 0],
  block: '',
}));
const [NUMBER, OTHER, FLAG, LATCH] = [0, 1, 2, 3];

/** The simplified function's text, after both were run alike over all answers to two questions. */
function alike(make: (b: Builder, question: Value, second: Value, x: Value) => void): string {
  const b = new Builder('step', ['bool', 'bool', 'f64']);
  make(b, 0, 1, 2);
  const before: Program = { name: 'p', real: 'f64', slots, functions: [b.finish()] };
  const after = simplify(before, new Set(slots.keys()));
  const machines = [createInterpreter(before), createInterpreter(after), createWasmMachineSync(after)];
  for (const round of [0b0110, 0b1001, 0b0011, 0b1100, 0b1111, 0b0000])
    for (const second of [0, 1, 1, 0])
      for (let i = 0; i < 4; i++) {
        for (const machine of machines) machine.call('step', (round >> i) & 1, second, i + 0.5);
        const [want, ...got] = machines.map((machine) => [...slots.keys()].map((slot) => machine.read(slot)));
        for (const read of got) expect(read).toEqual(want);
      }
  const [func] = after.functions;
  return func === undefined ? '' : printFunction(func);
}

describe('a store of what is there already, unless something holds', () => {
  test('of a number, either way round', () => {
    const text = alike((b, question, _, x) => {
      b.store(NUMBER, b.op('select_f64', question, x, b.load(NUMBER, 'f64')));
      b.store(OTHER, b.op('select_f64', question, b.load(OTHER, 'f64'), b.op('neg_f64', x)));
    });
    expect(text).not.toContain('select');
    expect(text.match(/\bif\b/g)).toHaveLength(1);
  });

  test('of a flag that is set, or cleared, and stays so', () => {
    const text = alike((b, question, second) => {
      b.store(FLAG, b.op('or_bool', b.load(FLAG, 'bool'), question));
      b.store(LATCH, b.op('and_bool', second, b.load(LATCH, 'bool')));
    });
    expect(text).not.toMatch(/or_bool|and_bool/);
  });

  test('but not of what was there before another store', () => {
    alike((b, question, _, x) => {
      const old = b.load(NUMBER, 'f64');
      b.store(NUMBER, b.op('neg_f64', x));
      b.store(NUMBER, b.op('select_f64', question, x, old));
    });
  });

  test('of the answer itself, beside a branch on it', () => {
    alike((b, question, _, x) => {
      b.if(question, () => b.store(NUMBER, x));
      b.store(FLAG, question);
    });
  });
});

describe('what is made for one side', () => {
  test('is made there, but from what stood before a store', () => {
    alike((b, question, second, x) => {
      const late = b.load(NUMBER, 'f64');
      const double = b.op('add_f64', late, late);
      b.store(NUMBER, x);
      b.if(question, () => b.store(OTHER, b.op('mul_f64', double, double)));
      b.if(second, () => b.store(FLAG, question));
    });
  });
});

describe('neighbours with the same question', () => {
  test('become one where nothing between them minds', () => {
    const text = alike((b, question, _, x) => {
      b.if(question, () => b.store(NUMBER, x));
      b.store(FLAG, b.op('lt_f64', x, b.const('f64', 1)));
      b.if(question, () => b.store(OTHER, x));
    });
    expect(text.match(/\bif\b/g)).toHaveLength(1);
  });

  test('stay two where one reads what stands between', () => {
    const text = alike((b, question, _, x) => {
      b.if(question, () => b.store(NUMBER, x));
      b.store(OTHER, b.op('add_f64', b.load(NUMBER, 'f64'), b.const('f64', 1)));
      b.if(question, () => b.store(NUMBER, b.load(OTHER, 'f64')));
    });
    expect(text.match(/\bif\b/g)).toHaveLength(2);
  });

  test('of which one asks for two things become one inside another', () => {
    alike((b, question, second, x) => {
      b.if(b.op('and_bool', question, second), () => b.store(NUMBER, x));
      b.if(question, () => b.store(OTHER, b.load(NUMBER, 'f64')));
    });
  });
});
