/** What an i32 value can be at most and at least, where the program itself shows it: spares needless index clamps. */

import type { Func, Instruction, Value } from './program.ts';

/** Both ends included. */
export interface Range {
  readonly low: number;
  readonly high: number;
}

/** Known ranges of the i32 values of a function, by value. */
export function valueRanges(func: Func): ReadonlyMap<Value, Range> {
  const ranges = new Map<Value, Range>();
  const keep = (value: Value, ...ends: number[]): void => {
    const low = Math.min(...ends);
    const high = Math.max(...ends);
    if (low >= -2147483648 && high <= 2147483647) ranges.set(value, { low, high });
  };
  const visit = (list: readonly Instruction[]): void => {
    for (const instruction of list) {
      if (instruction.do === 'const' && func.values[instruction.to] === 'i32') keep(instruction.to, instruction.value);
      else if (instruction.do === 'compute') {
        const a = ranges.get(instruction.args[0] ?? -1);
        const b = ranges.get(instruction.args[1] ?? -1);
        if (instruction.op === 'i32_from_bool') keep(instruction.to, 0, 1);
        if (a === undefined || b === undefined) continue;
        if (instruction.op === 'add_i32') keep(instruction.to, a.low + b.low, a.high + b.high);
        else if (instruction.op === 'sub_i32') keep(instruction.to, a.low - b.high, a.high - b.low);
        else if (instruction.op === 'mul_i32')
          keep(instruction.to, a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high);
      } else if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') {
        keep(instruction.index, 0, Math.max(0, instruction.count - 1));
        visit(instruction.body);
      }
    }
  };
  visit(func.body);
  return ranges;
}
