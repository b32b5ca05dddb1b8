/** What running something touches: which slots it loads from and which it stores into, through calls as well. */

import type { Func, Instruction, Program, Value } from './program.ts';

export interface Effects {
  readonly loads: ReadonlySet<number>;
  readonly stores: ReadonlySet<number>;
}

/** Effects of each function by name. */
export type FunctionEffects = ReadonlyMap<string, Effects>;

/** Effects of every function of a program; callees come first, so one pass is enough. */
export function functionEffects(program: Program): FunctionEffects {
  const known = new Map<string, Effects>();
  for (const func of program.functions) known.set(func.name, listEffects(func.body, program, known));
  return known;
}

/** Effects of a list, with the lists nested in it. */
export function listEffects(list: readonly Instruction[], program: Program, known: FunctionEffects): Effects {
  const loads = new Set<number>();
  const stores = new Set<number>();
  const visit = (instructions: readonly Instruction[]): void => {
    for (const instruction of instructions)
      if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
      else addEffects(instruction, program, known, loads, stores);
  };
  visit(list);
  return { loads, stores };
}

const none: Effects = { loads: new Set(), stores: new Set() };

/** Effects of one instruction that holds no list. */
export function stepEffects(instruction: Instruction, program: Program, known: FunctionEffects): Effects {
  if (instruction.do === 'const' || instruction.do === 'compute' || instruction.do === 'note') return none;
  if (instruction.do === 'call') return known.get(instruction.func) ?? none;
  const loads = new Set<number>();
  const stores = new Set<number>();
  addEffects(instruction, program, known, loads, stores);
  return { loads, stores };
}

function addEffects(
  instruction: Instruction,
  program: Program,
  known: FunctionEffects,
  loads: Set<number>,
  stores: Set<number>,
): void {
  switch (instruction.do) {
    case 'load':
      loads.add(instruction.slot);
      break;
    case 'store':
      stores.add(instruction.slot);
      break;
    case 'line_load':
    case 'line_push': {
      const { slot } = instruction;
      for (const touched of [slot, program.slots[slot]?.head ?? slot]) {
        loads.add(touched);
        if (instruction.do === 'line_push') stores.add(touched);
      }
      break;
    }
    case 'call': {
      const own = known.get(instruction.func) ?? none;
      for (const slot of own.loads) loads.add(slot);
      for (const slot of own.stores) stores.add(slot);
    }
  }
}

/** The value an instruction makes, if it makes one and does nothing else. */
export function madePurely(instruction: Instruction, known: FunctionEffects): Value | undefined {
  switch (instruction.do) {
    case 'const':
    case 'compute':
    case 'load':
    case 'line_load':
      return instruction.to;
    case 'call':
      return known.get(instruction.func)?.stores.size === 0 ? instruction.to : undefined;
    default:
      return undefined;
  }
}

/** Whether an `if`, a `repeat` or a note leaves everything as it was. */
export function isIdle(instruction: Instruction, known: FunctionEffects): boolean {
  switch (instruction.do) {
    case 'note':
      return true;
    case 'if':
      return [...instruction.then, ...instruction.else].every((inner) => changesNothing(inner, known));
    case 'repeat':
      return instruction.count === 0 || instruction.body.every((inner) => changesNothing(inner, known));
    default:
      return false;
  }
}

function changesNothing(instruction: Instruction, known: FunctionEffects): boolean {
  if (instruction.do === 'store' || instruction.do === 'line_push') return false;
  if (instruction.do === 'call') return known.get(instruction.func)?.stores.size === 0;
  return instruction.do === 'if' || instruction.do === 'repeat' ? isIdle(instruction, known) : true;
}

/** Values an instruction reads itself, in order; not those its nested lists read. */
export function operands(instruction: Instruction): readonly Value[] {
  switch (instruction.do) {
    case 'compute':
    case 'call':
      return instruction.args;
    case 'load':
      return instruction.index === undefined ? [] : [instruction.index];
    case 'store':
      return instruction.index === undefined ? [instruction.value] : [instruction.index, instruction.value];
    case 'line_load':
      return [instruction.ago];
    case 'line_push':
      return [instruction.value];
    case 'if':
      return [instruction.condition];
    default:
      return [];
  }
}

/** Names of the functions that running these can reach, themselves included. */
export function reachable(program: Program, from: readonly string[]): ReadonlySet<string> {
  const found = new Set(from);
  const visit = (list: readonly Instruction[]): void => {
    for (const instruction of list) {
      if (instruction.do === 'call') found.add(instruction.func);
      else if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
    }
  };
  for (const func of [...program.functions].reverse()) if (found.has(func.name)) visit(func.body);
  return found;
}

/** The function of this name; one that is not there is our own mistake. */
export function functionNamed(program: Program, name: string): Func {
  const found = program.functions.find((func) => func.name === name);
  if (found === undefined) throw new Error(`${program.name}: no function ${name}`);
  return found;
}
