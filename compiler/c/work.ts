/** How much a function does at most: pure operations in one run, with calls and repetitions. */

import type { Instruction, Program } from '../ir/program.ts';

/** Operations of the longest way through each function, by name. */
export function operationsAtMost(program: Program): ReadonlyMap<string, number> {
  const known = new Map<string, number>();
  const count = (list: readonly Instruction[]): number => {
    let sum = 0;
    for (const instruction of list) {
      if (instruction.do === 'compute') sum++;
      else if (instruction.do === 'call') sum += known.get(instruction.func) ?? 0;
      else if (instruction.do === 'if') sum += Math.max(count(instruction.then), count(instruction.else));
      else if (instruction.do === 'repeat') sum += instruction.count * count(instruction.body);
    }
    return sum;
  };
  for (const func of program.functions) known.set(func.name, count(func.body));
  return known;
}
