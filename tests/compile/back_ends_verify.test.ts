/** The verifier accepts what the builder makes and refuses programs that were broken in one place. */

import { describe, expect, test } from 'vitest';
import { Builder } from '../../compiler/ir/build.ts';
import { operations } from '../../compiler/ir/operations.ts';
import { printProgram } from '../../compiler/ir/print.ts';
import type { Func, Instruction, Program, Slot, Type, Value } from '../../compiler/ir/program.ts';
import { verify } from '../../compiler/ir/verify.ts';
import { Dealer, randomNumbers, randomProgram } from '../agree/programs.ts';

/** The same shape, free to be changed. */
type Loose<T> = T extends Value | string | boolean | undefined ? T : { -readonly [K in keyof T]: Loose<T[K]> };

interface Place {
  readonly func: Loose<Func>;
  readonly list: Loose<Instruction>[];
  readonly at: number;
  readonly depth: number;
}

function places(program: Loose<Program>): Place[] {
  const found: Place[] = [];
  for (const func of program.functions) {
    const visit = (list: Loose<Instruction>[], depth: number): void => {
      for (const [at, instruction] of list.entries()) {
        found.push({ func, list, at, depth });
        if (instruction.do === 'if') {
          visit(instruction.then, depth + 1);
          visit(instruction.else, depth + 1);
        } else if (instruction.do === 'repeat') visit(instruction.body, depth + 1);
      }
    };
    visit(func.body, 0);
  }
  return found;
}

/** Breaks one instruction; false where this breakage does not apply to it. */
type Breakage = (instruction: Loose<Instruction>, place: Place, program: Loose<Program>) => boolean;

const otherType = (type: Type | undefined): Type => (type === 'f32' ? 'i32' : 'f32');

const breakages: Readonly<Record<string, Breakage>> = {
  'a value declared of another type': (instruction, { func }) => {
    if (!('to' in instruction) || instruction.to === undefined) return false;
    if (instruction.do === 'const') return false;
    func.values[instruction.to] = otherType(func.values[instruction.to]);
    return true;
  },
  'an operand of another type': (instruction, { func }) => {
    if (instruction.do !== 'compute') return false;
    const type = func.values[instruction.args[0] ?? -1];
    func.values.push(otherType(type));
    func.body.unshift({ do: 'const', to: func.values.length - 1, value: 0 });
    instruction.args[0] = func.values.length - 1;
    return true;
  },
  'a value read before it is made': (instruction, { func }) => {
    if (instruction.do !== 'compute' && instruction.do !== 'store') return false;
    func.values.push('f64', 'i32', 'bool', 'f32');
    const late = func.values.length - 1;
    func.body.push({ do: 'const', to: late, value: 0 });
    if (instruction.do === 'store') instruction.value = late;
    else instruction.args[0] = late;
    return true;
  },
  'a value read outside the branch that made it': (instruction, { func, depth }) => {
    if (depth === 0 || instruction.do !== 'compute') return false;
    func.body.push({ do: 'compute', to: func.values.push('bool') - 1, op: 'not_bool', args: [instruction.to] });
    return true;
  },
  'a value made twice': (instruction, { list, at }) => {
    if (!('to' in instruction) || instruction.to === undefined) return false;
    list.splice(at, 0, structuredClone(instruction));
    return true;
  },
  'a slot that is not there': (instruction, _, program) => {
    if (!('slot' in instruction)) return false;
    instruction.slot = program.slots.length + 3;
    return true;
  },
  'an index that is not an i32': (instruction, { func }) => {
    if (instruction.do !== 'load' && instruction.do !== 'store') return false;
    func.values.push('f64');
    func.body.unshift({ do: 'const', to: func.values.length - 1, value: 0 });
    instruction.index = func.values.length - 1;
    return true;
  },
  'a store into an input': (instruction, _, program) => {
    if (instruction.do !== 'store') return false;
    const slot = program.slots[instruction.slot];
    if (slot !== undefined) slot.kind = 'input';
    return true;
  },
  'a store of another type': (instruction, _, program) => {
    if (instruction.do !== 'store') return false;
    const type = program.slots[instruction.slot]?.type;
    const other = program.slots.find((slot) => slot.type !== type && slot.kind === 'wire');
    instruction.slot = other?.id ?? -1;
    return true;
  },
  'a store into a head': (instruction, _, program) => {
    if (instruction.do !== 'store' || program.slots[instruction.slot]?.type !== 'i32') return false;
    instruction.slot = program.slots.find((slot) => slot.head !== undefined)?.head ?? -1;
    return true;
  },
  'a push into what is no line': (instruction, _, program) => {
    if (instruction.do !== 'line_push' && instruction.do !== 'line_load') return false;
    const type = program.slots[instruction.slot]?.type;
    instruction.slot = program.slots.find((slot) => slot.type === type && slot.kind === 'wire')?.id ?? -1;
    return true;
  },
  'an operand too few': (instruction) => {
    if (instruction.do !== 'compute' && instruction.do !== 'call') return false;
    return instruction.args.pop() !== undefined;
  },
  'an operation that is not there': (instruction) => {
    if (instruction.do !== 'compute') return false;
    instruction.op = `${instruction.op}_twice`;
    return true;
  },
  'a call of itself': (instruction, { func }) => {
    if (instruction.do !== 'call') return false;
    instruction.func = func.name;
    return true;
  },
  'a condition that is not a bool': (instruction, { func }) => {
    if (instruction.do !== 'if') return false;
    func.values.push('i32');
    func.body.unshift({ do: 'const', to: func.values.length - 1, value: 1 });
    instruction.condition = func.values.length - 1;
    return true;
  },
  'a count that is not whole': (instruction) => {
    if (instruction.do !== 'repeat') return false;
    instruction.count = 2.5;
    return true;
  },
  'a number that its type cannot hold': (instruction, { func }) => {
    if (instruction.do !== 'const' || func.values[instruction.to] === 'f64') return false;
    instruction.value = 0.1;
    return true;
  },
};

describe('verify', () => {
  const dealer = new Dealer();
  const all = Array.from({ length: 12 }, (_, i) => randomProgram(`broken_${i}`, 500 + i, 200, dealer));

  for (const [what, breakage] of Object.entries(breakages))
    test(`refuses ${what}`, () => {
      const random = randomNumbers(what.length);
      let broken = 0;
      for (const program of all) {
        const copy = structuredClone(program) as Loose<Program>;
        const order = places(copy)
          .map((place) => ({ place, key: random() }))
          .sort((a, b) => a.key - b.key);
        for (const { place } of order) {
          const instruction = place.list[place.at];
          if (instruction === undefined || !breakage(instruction, place, copy)) continue;
          broken++;
          expect(verify(copy as Program), `${program.name}: ${JSON.stringify(instruction)}`).not.toEqual([]);
          break;
        }
      }
      expect(broken).toBeGreaterThan(5);
    });

  test('refuses slots that do not fit together', () => {
    const line: Slot = { id: 1, name: 'l', kind: 'line', type: 'f32', length: 2, start: [0, 0], block: '', head: 0 };
    const head: Slot = { id: 0, name: 'h', kind: 'memory', type: 'i32', length: 1, start: [0], block: '' };
    const faults = (...slots: Slot[]): string[] => verify({ name: 'p', real: 'f32', slots, functions: [] });
    const { head: _, ...headless } = line;
    expect(faults(head, line)).toEqual([]);
    expect(faults(head, headless)).toEqual(['slot l: a delay line has a head, and nothing else has']);
    expect(faults({ ...head, start: [2] }, line)).toEqual(['slot l: its head starts at 2']);
    expect(faults({ ...head, type: 'f32' }, line)).toEqual(['slot l: its head is not one i32 memory']);
    expect(faults(head, line, { ...line, id: 2, name: 'k' })).toEqual(['slot k: shares its head with l']);
    expect(faults(head, { ...line, start: [0] })).toEqual(['slot l: 1 start values for 2 scalars']);
    expect(faults(head, { ...line, start: [0, 0.1] })).toEqual(['slot l: start value 0.1 is not a f32']);
    expect(faults(head, { ...line, id: 4 })).toEqual(['slot l: its id is 4 but it stands at 1']);
    expect(faults(head, { ...line, name: 'h' })).toEqual(['slot h: another slot has this name']);
  });

  test('refuses a result made in a branch, and two functions of one name', () => {
    const b = new Builder('f', ['bool']);
    let inside = 0;
    b.if(0, () => {
      inside = b.const('f64', 1);
    });
    const func = b.finish(inside);
    expect(verify({ name: 'p', real: 'f64', slots: [], functions: [func] })).toEqual([
      `function f: result reads value ${inside}, which is not made before it in its scope`,
    ]);
    const good = new Builder('f').finish();
    expect(verify({ name: 'p', real: 'f64', slots: [], functions: [good, good] })).toEqual(['two functions named f']);
  });

  test('knows every operation', () => {
    for (const record of operations.values()) {
      const b = new Builder('f', record.args);
      const result = b.op(record.name, ...record.args.keys());
      expect(verify({ name: 'p', real: 'f64', slots: [], functions: [b.finish(result)] })).toEqual([]);
    }
  });
});

test('a program is printed the same way every time, with names and types', () => {
  const b = new Builder('tick', ['i32']);
  const x = b.load(0, 'f32', 0);
  b.note('lag', 'follows its input');
  b.if(
    b.op('lt_f32', x, b.const('f32', -0)),
    () => b.store(0, x),
    () => b.repeat(3, (i) => b.linePush(2, b.lineLoad(2, 'f32', i))),
  );
  b.run('other');
  const y = b.call('another', 'f64', x);
  const slots: Slot[] = [
    { id: 0, name: 'lag.x', kind: 'memory', type: 'f32', length: 2, start: [0, 1], block: 'lag' },
    { id: 1, name: 'late.head', kind: 'memory', type: 'i32', length: 1, start: [0], block: 'late' },
    { id: 2, name: 'late', kind: 'line', type: 'f32', length: 3, start: [0, 0, 0], block: 'late', head: 1 },
  ];
  expect(printProgram({ name: 'lag', real: 'f32', slots, functions: [b.finish(y)] })).toBe(`program lag f32
#0 memory lag.x: f32[2] = 0 1
#1 memory late.head: i32 = 0
#2 line late: f32[3] = 0 head #1

function tick(%0: i32) gives %6
  %1: f32 = lag.x[%0]
  # lag: follows its input
  %2: f32 = -0
  %3: bool = lt_f32 %1 %2
  if %3
    lag.x <- %1
  else
    repeat 3 as %4
      %5: f32 = late ago %4
      push late <- %5
  other()
  %6: f64 = another(%1)
`);
});
