/** One machine with every elementary function in both real types. */

import { elementary, elementaryFunctions, elementaryNames } from '../../compiler/ir/functions/elementary.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Program, Real } from '../../compiler/ir/program.ts';

export const reals = ['f32', 'f64'] as const;

/** Names, without their type, that a reference holds values for. */
export const referenced = ['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'atan2', 'exp', 'log', 'pow', 'hypot'] as const;

/** The full name of a function. */
export function fullName(name: string, real: Real): string {
  const found = elementary(name, real);
  if (found === undefined) throw new Error(`no function ${name}`);
  return found.func;
}

export const everything: Program = {
  name: 'everything',
  real: 'f64',
  ...elementaryFunctions(
    reals.flatMap((real) => elementaryNames.map((name) => fullName(name, real))),
    0,
  ),
};

export const interpreter = createInterpreter(everything);

/** The answer of one function of the interpreter. */
export function answer(name: string, real: Real, ...x: number[]): number {
  return interpreter.call(fullName(name, real), ...x) ?? Number.NaN;
}

/** The id of a slot of `everything`. */
export function slotNamed(name: string): number {
  const found = everything.slots.find((slot) => slot.name === name);
  if (found === undefined) throw new Error(`no slot ${name}`);
  return found.id;
}
