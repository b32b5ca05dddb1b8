/** The meaning of a program, slow and plain: each function becomes a list of closures over one frame of values. */

import type { Machine } from './machine.ts';
import { operation } from './operations.ts';
import type { Func, Instruction, Program, Slot, Type, Value } from './program.ts';

type Step = () => void;
type Storage = Float64Array | Float32Array | Int32Array | Uint8Array;

/** A function made ready. One frame is enough: functions call only earlier ones, so none is ever entered twice. */
interface Ready {
  readonly frame: Float64Array;
  readonly parameters: readonly Type[];
  readonly result: Value | undefined;
  readonly run: Step;
}

/** Makes a machine with storage of its own; a program that breaks the rules of `program.ts` throws here. */
export function createInterpreter(program: Program): Machine {
  const storage = program.slots.map((slot) => storageOf(slot));
  const ready = new Map<string, Ready>();
  for (const func of program.functions) ready.set(func.name, prepare(func, program, storage, ready));

  const storageAt = (slot: number, index = 0): Storage => {
    const found = storage[slot];
    if (found === undefined) throw new Error(`${program.name}: no slot ${slot}`);
    if (!(Number.isInteger(index) && index >= 0 && index < found.length))
      throw new Error(`${program.name}: slot ${program.slots[slot]?.name} has no element ${index}`);
    return found;
  };
  const machine: Machine = {
    start() {
      for (const slot of program.slots) storage[slot.id]?.set(slot.start);
    },
    call(name, ...args) {
      const func = ready.get(name);
      if (func === undefined) throw new Error(`${program.name}: no function ${name}`);
      if (args.length !== func.parameters.length)
        throw new Error(`${name} takes ${func.parameters.length} values, got ${args.length}`);
      for (let i = 0; i < args.length; i++) func.frame[i] = toType(func.parameters[i] as Type, args[i] as number);
      func.run();
      return func.result === undefined ? undefined : func.frame[func.result];
    },
    read(slot, index = 0) {
      return storageAt(slot, index)[index] as number;
    },
    write(slot, value, index = 0) {
      storageAt(slot, index)[index] = toType(program.slots[slot]?.type ?? 'f64', value);
    },
    readAll(slot) {
      return Float64Array.from(storageAt(slot));
    },
  };
  machine.start();
  return machine;
}

/** A number as a value of a type. */
export function toType(type: Type, value: number): number {
  if (type === 'f32') return Math.fround(value);
  if (type === 'i32') return value | 0;
  if (type === 'bool') return value === 0 ? 0 : 1;
  return value;
}

function storageOf(slot: Slot): Storage {
  if (slot.start.length !== slot.length) throw new Error(`${slot.name}: ${slot.start.length} start values`);
  if (slot.length < 1) throw new Error(`${slot.name}: an empty slot`);
  if (slot.type === 'f32') return new Float32Array(slot.length);
  if (slot.type === 'i32') return new Int32Array(slot.length);
  if (slot.type === 'bool') return new Uint8Array(slot.length);
  return new Float64Array(slot.length);
}

function prepare(
  func: Func,
  program: Program,
  storage: readonly Storage[],
  earlier: ReadonlyMap<string, Ready>,
): Ready {
  const frame = new Float64Array(Math.max(1, func.values.length));
  const get = (value: Value): number => frame[value] as number;

  const slotOf = (id: number): Storage => {
    const found = storage[id];
    if (found === undefined) throw new Error(`${func.name}: no slot ${id}`);
    return found;
  };
  const headOf = (id: number): Storage => {
    const head = program.slots[id]?.head;
    if (head === undefined) throw new Error(`${func.name}: slot ${id} is not a delay line`);
    return slotOf(head);
  };
  const list = (instructions: readonly Instruction[]): Step => {
    const steps: Step[] = [];
    // Only one instruction makes a value, so a constant's place in the frame is written once and for all.
    for (const instruction of instructions)
      if (instruction.do === 'const') frame[instruction.to] = instruction.value;
      else if (instruction.do !== 'note') steps.push(step(instruction));
    return () => {
      for (const one of steps) one();
    };
  };

  const step = (instruction: Exclude<Instruction, { do: 'const' | 'note' }>): Step => {
    switch (instruction.do) {
      case 'compute':
        return compute(instruction.op, instruction.to, instruction.args);
      case 'load': {
        const { to, index } = instruction;
        const from = slotOf(instruction.slot);
        const last = from.length - 1;
        if (index === undefined)
          return () => {
            frame[to] = from[0] as number;
          };
        return () => {
          frame[to] = from[clamp(get(index), 0, last)] as number;
        };
      }
      case 'store': {
        const { value, index } = instruction;
        const into = slotOf(instruction.slot);
        const last = into.length - 1;
        return () => {
          into[index === undefined ? 0 : clamp(get(index), 0, last)] = get(value);
        };
      }
      case 'line_load': {
        const { to, ago } = instruction;
        const line = slotOf(instruction.slot);
        const head = headOf(instruction.slot);
        return () => {
          const back = (head[0] as number) - clamp(get(ago), 1, line.length);
          frame[to] = line[back < 0 ? back + line.length : back] as number;
        };
      }
      case 'line_push': {
        const { value } = instruction;
        const line = slotOf(instruction.slot);
        const head = headOf(instruction.slot);
        return () => {
          const at = head[0] as number;
          line[at] = get(value);
          head[0] = at + 1 === line.length ? 0 : at + 1;
        };
      }
      case 'if': {
        const { condition } = instruction;
        const yes = list(instruction.then);
        const no = list(instruction.else);
        return () => {
          if (get(condition) === 1) yes();
          else no();
        };
      }
      case 'repeat': {
        const { count, index } = instruction;
        const body = list(instruction.body);
        return () => {
          for (let i = 0; i < count; i++) {
            frame[index] = i;
            body();
          }
        };
      }
      case 'call': {
        const { to, args } = instruction;
        const callee = earlier.get(instruction.func);
        if (callee === undefined) throw new Error(`${func.name}: ${instruction.func} is not listed before it`);
        if (args.length !== callee.parameters.length)
          throw new Error(`${func.name}: ${instruction.func} takes ${callee.parameters.length} values`);
        return () => {
          for (let i = 0; i < args.length; i++) callee.frame[i] = get(args[i] as Value);
          callee.run();
          if (to !== undefined && callee.result !== undefined) frame[to] = callee.frame[callee.result] as number;
        };
      }
    }
  };

  const compute = (op: string, to: Value, args: readonly Value[]): Step => {
    const { evaluate } = operation(op);
    const [a = 0, b = 0, c = 0] = args;
    if (args.length === 1)
      return () => {
        frame[to] = evaluate(get(a));
      };
    if (args.length === 2)
      return () => {
        frame[to] = evaluate(get(a), get(b));
      };
    return () => {
      frame[to] = evaluate(get(a), get(b), get(c));
    };
  };

  return {
    frame,
    parameters: func.values.slice(0, func.parameters),
    result: func.result,
    run: list(func.body),
  };
}

export function clamp(index: number, low: number, high: number): number {
  return Math.min(Math.max(index, low), high);
}
