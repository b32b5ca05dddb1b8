/** What `simplify` may do and what it must leave: every rule keeps every bit. */

import { describe, expect, test } from 'vitest';
import { Builder, realOps } from '../../compiler/ir/build.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import { printFunction } from '../../compiler/ir/print.ts';
import type { Program, Slot, Type, Value } from '../../compiler/ir/program.ts';
import { simplify } from '../../compiler/ir/simplify.ts';

const slots: Slot[] = (['input', 'wire', 'wire', 'memory', 'output', 'scratch'] as const).map((kind, id) => ({
  id,
  name: `${kind}${id}`,
  kind,
  type: 'f64',
  length: 1,
  start: [0],
  block: '',
}));

function programOf(b: Builder, result?: Value, more: Partial<Program> = {}): Program {
  return { name: 'p', real: 'f64', slots, functions: [b.finish(result)], ...more };
}

/** The simplified body of a function of two values, without its first line. */
function simplified(types: readonly Type[], make: (b: Builder, ...values: Value[]) => Value): string[] {
  const b = new Builder('f', types);
  const result = make(b, ...types.keys());
  const [func] = simplify(programOf(b, result), new Set()).functions;
  return func === undefined
    ? []
    : printFunction(func)
        .split('\n')
        .map((line) => line.trim());
}

const odd = [NaN, Infinity, -Infinity, 0, -0, 1, -1, 0.1, -0.1, 5e-324, -5e-324, 2.2e-308, 1.7e308, 3, 2 ** 60];

describe('real rules', () => {
  const real = (make: (ops: ReturnType<typeof realOps>, x: Value, y: Value) => Value) => {
    const b = new Builder('f', ['f64', 'f64']);
    const before = programOf(b, make(realOps(b, 'f64'), 0, 1));
    const after = simplify(before, new Set());
    const machines = [createInterpreter(before), createInterpreter(after)];
    for (const x of odd)
      for (const y of odd) {
        const [want, got] = machines.map((machine) => machine.call('f', x, y));
        expect(Object.is(want, got), `${x}, ${y}: ${want} became ${got}`).toBe(true);
      }
    const [func] = after.functions;
    return func === undefined
      ? []
      : printFunction(func)
          .split('\n')
          .slice(1)
          .map((line) => line.trim());
  };

  test('x·1, 1·x, x/1, x − 0 and x + (−0) vanish', () => {
    expect(real((o, x) => o.mul(x, o.number(1)))).toEqual([]);
    expect(real((o, x) => o.mul(o.number(1), x))).toEqual([]);
    expect(real((o, x) => o.div(x, o.number(1)))).toEqual([]);
    expect(real((o, x) => o.sub(x, o.number(0)))).toEqual([]);
    expect(real((o, x) => o.add(x, o.number(-0)))).toEqual([]);
  });

  test('x + 0, x·0, x − (−0), 0 − x, x − x and x/x stay', () => {
    for (const make of [
      (o: ReturnType<typeof realOps>, x: Value) => o.add(x, o.number(0)),
      (o: ReturnType<typeof realOps>, x: Value) => o.mul(x, o.number(0)),
      (o: ReturnType<typeof realOps>, x: Value) => o.sub(x, o.number(-0)),
      (o: ReturnType<typeof realOps>, x: Value) => o.sub(o.number(0), x),
    ])
      expect(real(make)).toHaveLength(2);
    expect(real((o, x) => o.sub(x, x))).toHaveLength(1);
    expect(real((o, x) => o.div(x, x))).toHaveLength(1);
  });

  test('signs are folded into sums, and dividing by a power of two is multiplying', () => {
    expect(real((o, x, y) => o.add(x, o.neg(y)))).toEqual(['%3: f64 = sub_f64 %0 %1']);
    expect(real((o, x, y) => o.add(o.neg(x), y))).toEqual(['%3: f64 = sub_f64 %1 %0']);
    expect(real((o, x, y) => o.sub(x, o.neg(y)))).toEqual(['%3: f64 = add_f64 %0 %1']);
    expect(real((o, x) => o.neg(o.neg(x)))).toEqual([]);
    expect(real((o, x) => o.mul(x, o.number(-1)))).toEqual(['%3: f64 = neg_f64 %0']);
    expect(real((o, x) => o.abs(o.neg(x)))).toEqual(['%3: f64 = abs_f64 %0']);
    expect(real((o, x) => o.div(x, o.number(-8)))).toEqual(['%3: f64 = -0.125', '%4: f64 = mul_f64 %0 %3']);
    expect(real((o, x) => o.div(x, o.number(2 ** 1023)))[1]).toContain('div_f64');
    expect(real((o, x) => o.div(x, o.number(3)))[1]).toContain('div_f64');
  });

  test('nothing is reordered or regrouped', () => {
    expect(real((o, x, y) => o.sub(o.add(x, y), y))).toHaveLength(2);
    expect(real((o, x) => o.mul(o.mul(x, o.number(2)), o.number(0.5)))).toHaveLength(4);
  });

  test('constants fold one operation at a time in their own width', () => {
    const folded = simplified(['f32'], (b) => {
      const { add, number } = realOps(b, 'f32');
      return add(add(number(16777216), number(1)), number(1));
    });
    expect(folded.slice(1)).toEqual([expect.stringMatching(/= 16777216$/)]);
  });
});

describe('choices and sharing', () => {
  test('a select with equal arms or a known condition is its arm', () => {
    expect(simplified(['bool', 'f64'], (b, c, x) => b.op('select_f64', c, x, x))).toHaveLength(1);
    expect(simplified(['f64', 'f64'], (b, x, y) => b.op('select_f64', b.const('bool', 0), x, y))[0]).toContain(
      'gives %1',
    );
    expect(simplified(['bool', 'f64', 'f64'], (b, c, x, y) => b.op('select_f64', b.op('not_bool', c), x, y))[1]).toBe(
      '%4: f64 = select_f64 %0 %2 %1',
    );
  });

  test('the same operation is made once, also from inside a branch, but a branch gives nothing outwards', () => {
    const b = new Builder('f', ['f64', 'bool']);
    const { mul, add } = realOps(b, 'f64');
    b.store(3, mul(0, 0));
    b.if(1, () => b.store(4, mul(0, 0)));
    b.if(1, () => b.store(3, add(0, 0)));
    b.store(2, add(0, 0));
    const [func] = simplify(programOf(b), new Set([2])).functions;
    const text = func === undefined ? '' : printFunction(func);
    expect(text.match(/mul_f64/g)).toHaveLength(1);
    expect(text.match(/add_f64/g)).toHaveLength(2);
  });

  test('a load is shared until something may have been stored', () => {
    const b = new Builder('f', ['f64', 'bool']);
    const { add } = realOps(b, 'f64');
    const first = b.load(3, 'f64');
    const again = b.load(3, 'f64');
    b.if(1, () => b.store(3, 0));
    const changed = b.load(3, 'f64');
    const result = add(add(first, again), changed);
    const [func] = simplify(programOf(b, result), new Set()).functions;
    expect(func === undefined ? '' : printFunction(func).match(/= #3/g)).toHaveLength(2);
  });

  test('a stored value is read back without a load, and nothing loaded before a loop is trusted in it', () => {
    const b = new Builder('f', ['f64']);
    const { add } = realOps(b, 'f64');
    b.store(3, add(0, 0));
    b.store(4, b.load(3, 'f64'));
    b.repeat(3, () => b.store(3, add(b.load(3, 'f64'), 0)));
    const [func] = simplify(programOf(b), new Set()).functions;
    const text = func === undefined ? '' : printFunction(func);
    expect(text.match(/= #3/g)).toHaveLength(1);
    expect(text).toContain('#4 <- %1');
  });
});

describe('leaving out', () => {
  test('wires and scratch that nothing loads go with what was only for them; kept, memory and outputs stay', () => {
    const b = new Builder('f');
    const { sqrt, mul } = realOps(b, 'f64');
    const x = b.load(0, 'f64');
    b.store(1, sqrt(x));
    b.store(5, mul(x, x));
    b.store(2, x);
    b.store(3, x);
    b.store(4, x);
    const [func] = simplify(programOf(b), new Set([2])).functions;
    expect(func === undefined ? '' : printFunction(func)).toBe(
      'function f()\n  %0: f64 = #0\n  #2 <- %0\n  #3 <- %0\n  #4 <- %0',
    );
  });

  test('a wire that another function loads stays', () => {
    const reader = new Builder('reader');
    reader.store(4, reader.load(1, 'f64'));
    const b = new Builder('f');
    b.store(1, b.load(0, 'f64'));
    const functions = [reader.finish(), b.finish()];
    expect(simplify(programOf(b, undefined, { functions }), new Set()).functions[1]?.body).toHaveLength(2);
  });

  test('a value keeps the name of the wire it was stored in', () => {
    const b = new Builder('f');
    const { sqrt } = realOps(b, 'f64');
    const root = sqrt(b.load(0, 'f64'));
    b.store(1, root);
    b.store(4, root);
    const [func] = simplify(programOf(b), new Set()).functions;
    expect(func?.names).toEqual({ 1: 'wire1' });
  });

  test('decided branches are taken, idle ones and single rounds are dissolved', () => {
    const b = new Builder('f', ['bool', 'f64']);
    b.if(
      b.const('bool', 1),
      () => b.store(3, 1),
      () => b.store(4, 1),
    );
    b.if(0, () => b.op('sqrt_f64', 1));
    b.repeat(1, (i) => b.store(4, b.op('f64_from_i32', i)));
    b.repeat(0, () => b.store(4, 1));
    const [func] = simplify(programOf(b), new Set()).functions;
    expect(func === undefined ? '' : printFunction(func)).toBe(
      'function f(%0: bool, %1: f64)\n  #3 <- %1\n  %2: f64 = 0\n  #4 <- %2',
    );
  });

  test('a pure call that nothing reads goes, one that stores stays', () => {
    const pure = new Builder('pure', ['f64']);
    const storing = new Builder('storing', ['f64']);
    storing.store(3, 0);
    const b = new Builder('f');
    const x = b.load(0, 'f64');
    b.call('pure', 'f64', x);
    b.call('storing', 'f64', x);
    const functions = [pure.finish(0), storing.finish(0), b.finish()];
    const text = simplify(programOf(b, undefined, { functions }), new Set())
      .functions.map((func) => printFunction(func))
      .join('\n');
    expect(text).toContain('= storing(');
    expect(text).not.toContain('= pure(');
  });
});
