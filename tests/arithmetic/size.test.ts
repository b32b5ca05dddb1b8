/** What the elementary functions cost, as they are emitted, and that each keeps to its own types. */

import { expect, test } from 'vitest';
import { elementaryFunctions, elementaryNames } from '../../compiler/ir/functions/elementary.ts';
import type { Func, Instruction } from '../../compiler/ir/program.ts';
import { everything, fullName, reals } from './functions.ts';

function operations(body: readonly Instruction[]): number {
  let count = 0;
  for (const instruction of body) {
    if (instruction.do === 'const' || instruction.do === 'note') continue;
    count++;
    if (instruction.do === 'if') count += operations(instruction.then) + operations(instruction.else);
    if (instruction.do === 'repeat') count += operations(instruction.body);
  }
  return count;
}

const total = (functions: readonly Func[]) => functions.reduce((sum, func) => sum + operations(func.body), 0);

/** Operations of a function with all it calls, and its scratch slots. A change here is a change of every emitted C. */
const costs = {
  sin: { f32: 209, f64: 342, slots: 3 },
  cos: { f32: 210, f64: 343, slots: 3 },
  tan: { f32: 238, f64: 373, slots: 3 },
  asin: { f32: 44, f64: 61, slots: 0 },
  acos: { f32: 42, f64: 59, slots: 0 },
  atan: { f32: 96, f64: 112, slots: 0 },
  atan2: { f32: 95, f64: 111, slots: 0 },
  exp: { f32: 38, f64: 44, slots: 0 },
  log: { f32: 38, f64: 47, slots: 0 },
  pow: { f32: 163, f64: 184, slots: 0 },
  hypot: { f32: 50, f64: 52, slots: 0 },
  round_half_away: { f32: 9, f64: 9, slots: 0 },
  normal: { f32: 217, f64: 237, slots: 5 },
} as const;

test('the cost of each is as written down', () => {
  const found = Object.fromEntries(
    elementaryNames.map((name) => {
      const [f32, f64] = reals.map((real) => elementaryFunctions([fullName(name, real)], 0));
      return [name, { f32: total(f32?.functions ?? []), f64: total(f64?.functions ?? []), slots: f32?.slots.length }];
    }),
  );
  expect(found).toEqual(costs);
});

test.each(reals)('what is for %s uses no other real type', (real) => {
  const other = real === 'f32' ? 'f64' : 'f32';
  const { functions, slots } = elementaryFunctions(
    elementaryNames.map((name) => fullName(name, real)),
    0,
  );
  expect(functions.flatMap((func) => func.values.filter((type) => type === other))).toEqual([]);
  expect(slots.filter((slot) => slot.type === other)).toEqual([]);
});

test('each function stands after what it calls, once, and slots follow the number given', () => {
  const seen = new Set<string>();
  for (const func of everything.functions) {
    for (const instruction of func.body)
      if (instruction.do === 'call') expect(seen, `${func.name} calls ${instruction.func}`).toContain(instruction.func);
    expect(seen).not.toContain(func.name);
    seen.add(func.name);
  }
  const { slots } = elementaryFunctions(['sin_f32', 'normal_f32', 'not_one_of_ours'], 40);
  expect(slots.map((slot) => slot.id)).toEqual([40, 41, 42, 43, 44]);
  expect(new Set(slots.map((slot) => slot.name)).size).toBe(5);
});
