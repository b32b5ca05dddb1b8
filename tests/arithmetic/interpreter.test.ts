/** The meaning of the IR: what the interpreter does where a plain reading could go wrong. */

import { describe, expect, test } from 'vitest';
import { Builder } from '../../compiler/ir/build.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Machine } from '../../compiler/ir/machine.ts';
import type { Func, Slot, Type } from '../../compiler/ir/program.ts';

function slot(id: number, type: Type, start: readonly number[], more: Partial<Slot> = {}): Slot {
  return { id, name: `slot ${id}`, kind: 'wire', type, length: start.length, start, block: '', ...more };
}

function machine(slots: readonly Slot[], ...functions: readonly Func[]): Machine {
  return createInterpreter({ name: 'test', real: 'f32', slots, functions });
}

/** A machine with one function, `f`, that does one operation. */
function calculator(name: string, parameters: readonly Type[]): (...x: number[]) => number | undefined {
  const b = new Builder('f', parameters);
  const one = machine([], b.finish(b.op(name, ...parameters.keys())));
  return (...x) => one.call('f', ...x);
}

describe('indices', () => {
  const load = new Builder('get', ['i32']);
  const get = load.finish(load.load(0, 'f64', 0));
  const store = new Builder('set', ['i32', 'f64']);
  store.store(0, 1, 0);
  const m = machine([slot(0, 'f64', [10, 20, 30])], get, store.finish());

  test.each([
    [-2147483648, 10],
    [-1, 10],
    [0, 10],
    [1, 20],
    [2, 30],
    [3, 30],
    [2147483647, 30],
  ])('load at %i gives %f', (index, value) => {
    expect(m.call('get', index)).toBe(value);
  });

  test('store is clamped too, and start puts everything back', () => {
    m.call('set', 99, 1.5);
    m.call('set', -99, 2.5);
    expect([...m.readAll(0)]).toEqual([2.5, 20, 1.5]);
    m.start();
    expect([...m.readAll(0)]).toEqual([10, 20, 30]);
  });
});

describe('delay lines', () => {
  const push = new Builder('push', ['f32']);
  push.linePush(0, 0);
  const look = new Builder('look', ['i32']);
  const looked = look.lineLoad(0, 'f32', 0);
  const slots = [
    slot(0, 'f32', [7, 8, 9], { kind: 'line', head: 1 }),
    slot(1, 'i32', [0], { kind: 'memory' }),
    slot(2, 'f32', [5], { kind: 'line', head: 3 }),
    slot(3, 'i32', [0], { kind: 'memory' }),
  ];

  test('what was pushed n ago comes back, clamped to what is held', () => {
    const m = machine(slots, push.finish(), look.finish(looked));
    expect([1, 2, 3, 4, 0].map((ago) => m.call('look', ago))).toEqual([9, 8, 7, 7, 9]);
    for (const x of [1, 2, 3, 4, 5]) m.call('push', x);
    expect([1, 2, 3].map((ago) => m.call('look', ago))).toEqual([5, 4, 3]);
    expect([-5, 0, 100].map((ago) => m.call('look', ago))).toEqual([5, 5, 3]);
    expect(m.read(1)).toBe(2);
    m.start();
    expect([1, 2, 3].map((ago) => m.call('look', ago))).toEqual([9, 8, 7]);
  });

  test('a line of one holds the last', () => {
    const one = new Builder('step', ['f32']);
    const before = one.lineLoad(2, 'f32', one.const('i32', 1));
    one.linePush(2, 0);
    const m = machine(slots, one.finish(before));
    expect([1, 2, 3].map((x) => m.call('step', x))).toEqual([5, 1, 2]);
  });
});

describe('numbers', () => {
  test('i32 wraps', () => {
    const add = calculator('add_i32', ['i32', 'i32']);
    expect(add(2147483647, 1)).toBe(-2147483648);
    expect(calculator('sub_i32', ['i32', 'i32'])(-2147483648, 1)).toBe(2147483647);
    expect(calculator('mul_i32', ['i32', 'i32'])(0x10001, 0x10001)).toBe(0x20001);
    expect(calculator('mul_i32', ['i32', 'i32'])(-2147483648, -1)).toBe(-2147483648);
  });

  test('i32 division is total', () => {
    const [div, rem] = ['div_i32', 'rem_i32'].map((name) => calculator(name, ['i32', 'i32']));
    expect([div?.(7, -2), rem?.(7, -2), rem?.(-7, 2)]).toEqual([-3, 1, -1]);
    expect([div?.(7, 0), rem?.(7, 0)]).toEqual([0, 0]);
    expect([div?.(-2147483648, -1), rem?.(-2147483648, -1)]).toEqual([-2147483648, 0]);
    expect(Object.is(rem?.(-4, 2), 0)).toBe(true);
  });

  test.each(['f32', 'f64'] as const)('%s to i32 truncates and saturates', (real) => {
    const convert = calculator(`i32_from_${real}`, [real]);
    const inf = Number.POSITIVE_INFINITY;
    const some = [-1.9, 1.9, 3e9, -3e9, inf, -inf, Number.NaN, -0.5];
    expect(some.map((x) => convert(x))).toEqual([-1, 1, 2147483647, -2147483648, 2147483647, -2147483648, 0, 0]);
  });

  test('an i32 has no −0', () => {
    const b = new Builder('f', ['f64']);
    const m = machine([], b.finish(b.op('f64_from_i32', b.op('i32_from_f64', 0))));
    expect(m.call('f', -0.5)).toBe(0);
  });

  test('f32 rounds each operation by itself', () => {
    const b = new Builder('f', ['f32', 'f32', 'f32']);
    const m = machine([], b.finish(b.op('add_f32', b.op('mul_f32', 0, 1), 2)));
    const x = 1 + 2 ** -12;
    expect(m.call('f', x, x, -1)).toBe(2 ** -11);
    expect(m.call('f', 0.1, 1, 0)).toBe(Math.fround(0.1));
  });

  test('f32 overflows and underflows as a single does', () => {
    const mul = calculator('mul_f32', ['f32', 'f32']);
    expect(mul(2 ** 100, 2 ** 100)).toBe(Number.POSITIVE_INFINITY);
    expect(mul(2 ** -100, 2 ** -49)).toBe(2 ** -149);
    expect(mul(2 ** -100, -(2 ** -51))).toBe(-0);
  });

  test('comparisons with not-a-number are false', () => {
    for (const name of ['eq', 'lt', 'le'])
      expect(calculator(`${name}_f64`, ['f64', 'f64'])(Number.NaN, Number.NaN)).toBe(0);
  });

  test('every not-a-number has one pattern', () => {
    expect(calculator('bits_f32', ['f32'])(Number.NaN)).toBe(0x7fc00000);
    expect(calculator('high_f64', ['f64'])(-Number.NaN)).toBe(0x7ff80000);
  });

  test('arguments and writes are brought to their type', () => {
    const b = new Builder('f', ['i32', 'f32', 'bool']);
    const m = machine([slot(0, 'f32', [0]), slot(1, 'i32', [0]), slot(2, 'bool', [0])], b.finish(1));
    expect(m.call('f', 1, 0.1, 7)).toBe(Math.fround(0.1));
    m.write(0, 0.1);
    m.write(1, 2 ** 32 + 5.5);
    m.write(2, 3);
    expect([m.read(0), m.read(1), m.read(2)]).toEqual([Math.fround(0.1), 5, 1]);
  });
});

describe('control', () => {
  test('one branch runs, and repeat counts from 0', () => {
    const b = new Builder('f', ['bool']);
    b.if(
      0,
      () => b.repeat(5, (k) => b.store(0, b.op('add_i32', b.load(0, 'i32'), k))),
      () => b.store(0, b.const('i32', -1)),
    );
    const m = machine([slot(0, 'i32', [100])], b.finish(b.load(0, 'i32')));
    expect([m.call('f', 1), m.call('f', 1), m.call('f', 0)]).toEqual([110, 120, -1]);
  });

  test('repeat none runs nothing; notes do nothing', () => {
    const b = new Builder('f');
    b.note('block', 'text');
    b.repeat(0, () => b.store(0, b.const('i32', 1)));
    const m = machine([slot(0, 'i32', [3])], b.finish());
    expect(m.call('f')).toBeUndefined();
    expect(m.read(0)).toBe(3);
  });

  test('a function called twice keeps its results apart', () => {
    const square = new Builder('square', ['f64']);
    const both = new Builder('f', ['f64', 'f64']);
    const sum = both.op('add_f64', both.call('square', 'f64', 0), both.call('square', 'f64', 1));
    const m = machine([], square.finish(square.op('mul_f64', 0, 0)), both.finish(sum));
    expect(m.call('f', 3, 4)).toBe(25);
  });
});

describe('our own mistakes are loud', () => {
  test('calling what is not there, or with too few values', () => {
    const b = new Builder('f', ['f64']);
    const m = machine([slot(0, 'f64', [1])], b.finish(0));
    expect(() => m.call('g')).toThrow('no function g');
    expect(() => m.call('f')).toThrow('takes 1 values');
    expect(() => m.read(1)).toThrow('no slot 1');
    expect(() => m.read(0, 1)).toThrow('no element 1');
    expect(() => m.write(0, 1, -1)).toThrow('no element -1');
  });

  test('calling a function listed later', () => {
    const b = new Builder('f');
    b.run('later');
    expect(() => machine([], b.finish(), new Builder('later').finish())).toThrow('not listed before it');
  });

  test('a slot with the wrong number of start values', () => {
    expect(() => machine([slot(0, 'f64', [1], { length: 2 })])).toThrow('start values');
  });
});
