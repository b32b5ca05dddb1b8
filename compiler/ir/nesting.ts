/**
 * Which values need no name: those nothing reads, and those read once whose making may move to where they are read.
 * Both back ends write the latter as part of a larger expression.
 */

import { type FunctionEffects, isIdle, listEffects, madePurely, operands, stepEffects } from './effects.ts';
import { Loaded } from './loaded.ts';
import type { Func, Instruction, Program, Value } from './program.ts';

/** Values that something with an effect depends on; the others need not be made at all. */
export interface Live {
  has(value: Value): boolean;
}

export interface Nesting {
  readonly live: Live;
  /** Values to be made where they are read; constants too, however often they are read. */
  readonly nested: ReadonlySet<Value>;
}

/** Operations nested in one another at most; bounds the recursion of whoever writes them. */
const deepest = 24;

export function nestValues(func: Func, program: Program, known: FunctionEffects): Nesting {
  const { live, uses } = liveness(func, known);
  const nested = new Set<Value>();
  const depth = new Map<Value, number>();
  const depthOf = (value: Value): number => depth.get(value) ?? 0;
  const constants = new Set<Value>();

  /** `waiting` holds the values nested so far but not read yet, with the slots their making loads. */
  const list = (instructions: readonly Instruction[], waiting: Loaded<Value, true>): void => {
    const settle = (stores: ReadonlySet<number>): void => {
      for (const value of waiting.forget(stores)) nested.delete(value);
    };
    for (const instruction of instructions) {
      const to = madePurely(instruction, known);
      if ((to !== undefined && !live.has(to)) || isIdle(instruction, known)) continue;
      const args = operands(instruction);
      const loads = new Set(stepEffects(instruction, program, known).loads);
      let deep = 0;
      for (const arg of args) {
        deep = Math.max(deep, depthOf(arg));
        for (const slot of waiting.loads(arg)) loads.add(slot);
        waiting.delete(arg);
      }
      if (instruction.do === 'const') {
        nested.add(instruction.to);
        constants.add(instruction.to);
      } else if (to !== undefined) {
        if (uses[to] === 1 && deep < deepest) {
          nested.add(to);
          depth.set(to, deep + 1);
          waiting.set(to, true, [...loads]);
        }
      } else if (instruction.do === 'if') {
        settle(listEffects([instruction], program, known).stores);
        waiting.nested(() => list(instruction.then, waiting));
        waiting.nested(() => list(instruction.else, waiting));
      } else if (instruction.do === 'repeat') {
        settle(listEffects([instruction], program, known).stores);
        for (const value of readWithin(instruction.body))
          if (waiting.delete(value) && !constants.has(value)) nested.delete(value);
        list(instruction.body, new Loaded());
      } else settle(stepEffects(instruction, program, known).stores);
    }
  };
  list(func.body, new Loaded());
  return { live, nested };
}

/** Every value read in a list or in the lists inside it. */
function readWithin(list: readonly Instruction[]): Set<Value> {
  const read = new Set<Value>();
  const visit = (instructions: readonly Instruction[]): void => {
    for (const instruction of instructions) {
      for (const value of operands(instruction)) read.add(value);
      if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
    }
  };
  visit(list);
  return read;
}

/** The values that matter and how many times each is read by what matters. */
export function liveness(func: Func, known: FunctionEffects): { live: Live; uses: Uint32Array } {
  const uses = new Uint32Array(func.values.length);
  const live: Live = { has: (value) => uses[value] !== 0 };
  const use = (value: Value): void => {
    uses[value] = (uses[value] ?? 0) + 1;
  };
  const visit = (list: readonly Instruction[]): void => {
    for (let i = list.length - 1; i >= 0; i--) {
      const instruction = list[i];
      if (instruction === undefined) continue;
      const to = madePurely(instruction, known);
      if ((to !== undefined && !live.has(to)) || isIdle(instruction, known)) continue;
      if (instruction.do === 'if') {
        visit(instruction.else);
        visit(instruction.then);
      } else if (instruction.do === 'repeat') visit(instruction.body);
      for (const value of operands(instruction)) use(value);
    }
  };
  if (func.result !== undefined) use(func.result);
  visit(func.body);
  return { live, uses };
}
