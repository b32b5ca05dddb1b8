/** Checks that a program keeps the rules of `program.ts`; each broken rule is one sentence. */

import { operations } from './operations.ts';
import type { Func, Instruction, Program, Slot, Type, Value } from './program.ts';

/** Every rule the program breaks; empty for a good one. Never throws. */
export function verify(program: Program): string[] {
  const faults: string[] = [];
  verifySlots(program.slots, faults);
  const earlier = new Map<string, Func>();
  for (const func of program.functions) {
    if (earlier.has(func.name)) faults.push(`two functions named ${func.name}`);
    verifyFunction(func, program, earlier, faults);
    earlier.set(func.name, func);
  }
  return faults;
}

/** Throws with every fault; for the places where a broken program is our own mistake. */
export function mustVerify(program: Program): Program {
  const faults = verify(program);
  if (faults.length > 0) throw new Error(`${program.name} is not a good program:\n  ${faults.join('\n  ')}`);
  return program;
}

/** Whether a number is a value of a type. */
export function fits(type: Type, value: number): boolean {
  if (type === 'bool') return Object.is(value, 0) || value === 1;
  if (type === 'i32') return Object.is(value, value | 0);
  return type === 'f64' || Number.isNaN(value) || Object.is(value, Math.fround(value));
}

function verifySlots(slots: readonly Slot[], faults: string[]): void {
  const names = new Set<string>();
  const heads = new Map<number, string>();
  for (const [place, slot] of slots.entries()) {
    const say = (what: string) => faults.push(`slot ${slot.name}: ${what}`);
    if (slot.id !== place) say(`its id is ${slot.id} but it stands at ${place}`);
    if (names.has(slot.name)) say('another slot has this name');
    names.add(slot.name);
    if (!Number.isInteger(slot.length) || slot.length < 1) say(`its length is ${slot.length}`);
    if (slot.start.length !== slot.length) say(`${slot.start.length} start values for ${slot.length} scalars`);
    const odd = slot.start.find((value) => !fits(slot.type, value));
    if (odd !== undefined) say(`start value ${odd} is not a ${slot.type}`);
    if ((slot.kind === 'line') !== (slot.head !== undefined)) say('a delay line has a head, and nothing else has');
    if (slot.head === undefined) continue;
    const head = slots[slot.head];
    const start = head?.start[0] ?? -1;
    if (head === undefined) say(`its head ${slot.head} is no slot`);
    else if (head.type !== 'i32' || head.length !== 1 || head.kind !== 'memory') say('its head is not one i32 memory');
    else if (start < 0 || start >= slot.length) say(`its head starts at ${start}`);
    const other = heads.get(slot.head);
    if (other !== undefined) say(`shares its head with ${other}`);
    heads.set(slot.head, slot.name);
  }
}

function verifyFunction(func: Func, program: Program, earlier: ReadonlyMap<string, Func>, faults: string[]): void {
  const say = (what: string) => faults.push(`function ${func.name}: ${what}`);
  const heads = new Set(program.slots.flatMap((slot) => (slot.head === undefined ? [] : [slot.head])));
  const made = new Set<Value>();

  const make = (value: Value, type: Type | undefined, scope: Set<Value>): void => {
    const declared = func.values[value];
    if (declared === undefined) {
      say(`makes value ${value}, which is not declared`);
      return;
    }
    if (made.has(value)) say(`makes value ${value} twice`);
    if (type !== undefined && declared !== type) say(`value ${value} is declared ${declared} but is ${type}`);
    made.add(value);
    scope.add(value);
  };
  const read = (value: Value, type: Type | undefined, scope: ReadonlySet<Value>, where: string): void => {
    const declared = func.values[value];
    if (!scope.has(value)) say(`${where} reads value ${value}, which is not made before it in its scope`);
    else if (type !== undefined && declared !== type)
      say(`${where} reads value ${value} as ${type}, it is ${declared}`);
  };
  const slotOf = (id: number, where: string): Slot | undefined => {
    const slot = program.slots[id];
    if (slot === undefined) say(`${where}: no slot ${id}`);
    return slot;
  };
  const lineOf = (id: number, where: string): Slot | undefined => {
    const slot = slotOf(id, where);
    if (slot !== undefined && slot.head === undefined) say(`${where}: ${slot.name} is not a delay line`);
    return slot;
  };

  const step = (instruction: Instruction, scope: Set<Value>): void => {
    switch (instruction.do) {
      case 'const': {
        const type = func.values[instruction.to];
        if (type !== undefined && !fits(type, instruction.value)) say(`const ${instruction.value} is not a ${type}`);
        make(instruction.to, undefined, scope);
        break;
      }
      case 'compute': {
        const record = operations.get(instruction.op);
        if (record === undefined) {
          say(`no operation named ${instruction.op}`);
          break;
        }
        if (record.args.length !== instruction.args.length) say(`${instruction.op} takes ${record.args.length} values`);
        for (const [i, arg] of instruction.args.entries()) read(arg, record.args[i], scope, instruction.op);
        make(instruction.to, record.result, scope);
        break;
      }
      case 'load': {
        if (instruction.index !== undefined) read(instruction.index, 'i32', scope, 'load');
        make(instruction.to, slotOf(instruction.slot, 'load')?.type, scope);
        break;
      }
      case 'store': {
        if (instruction.index !== undefined) read(instruction.index, 'i32', scope, 'store');
        const slot = slotOf(instruction.slot, 'store');
        if (slot?.kind === 'input' && func.name === 'tick') say(`stores into the input ${slot.name}`);
        if (heads.has(instruction.slot)) say(`stores into the head ${slot?.name}, which only a push moves`);
        read(instruction.value, slot?.type, scope, `store to ${slot?.name}`);
        break;
      }
      case 'line_load':
        read(instruction.ago, 'i32', scope, 'line_load');
        make(instruction.to, lineOf(instruction.slot, 'line_load')?.type, scope);
        break;
      case 'line_push': {
        const slot = lineOf(instruction.slot, 'line_push');
        read(instruction.value, slot?.type, scope, `push to ${slot?.name}`);
        break;
      }
      case 'if':
        read(instruction.condition, 'bool', scope, 'if');
        list(instruction.then, scope);
        list(instruction.else, scope);
        break;
      case 'repeat': {
        if (!Number.isInteger(instruction.count) || instruction.count < 0 || instruction.count > 2147483647)
          say(`repeats ${instruction.count} times`);
        const inner = new Set(scope);
        make(instruction.index, 'i32', inner);
        list(instruction.body, inner);
        break;
      }
      case 'call': {
        const callee = earlier.get(instruction.func);
        if (callee === undefined) {
          say(`calls ${instruction.func}, which is not listed before it`);
          break;
        }
        if (callee.parameters !== instruction.args.length) say(`${callee.name} takes ${callee.parameters} values`);
        for (const [i, arg] of instruction.args.entries()) read(arg, callee.values[i], scope, `call of ${callee.name}`);
        if (instruction.to === undefined) break;
        if (callee.result === undefined) say(`uses the result of ${callee.name}, which has none`);
        make(instruction.to, callee.result === undefined ? undefined : callee.values[callee.result], scope);
        break;
      }
      case 'note':
        break;
    }
  };
  /** What a list makes is forgotten at its end. */
  const list = (instructions: readonly Instruction[], outer: ReadonlySet<Value>): void => {
    const scope = new Set(outer);
    for (const instruction of instructions) step(instruction, scope);
  };

  const outermost = new Set<Value>();
  if (func.parameters > func.values.length) say(`${func.parameters} parameters but ${func.values.length} values`);
  for (let i = 0; i < func.parameters; i++) make(i, undefined, outermost);
  for (const instruction of func.body) step(instruction, outermost);
  if (func.result !== undefined) read(func.result, undefined, outermost, 'result');
}
