/** Builds the body of one function: each method appends an instruction and gives back the value it makes. */

import { operation } from './operations.ts';
import type { Func, Instruction, Real, Type, Value } from './program.ts';

/** Collects instructions; `open` and `close` nest them for `if` and `repeat`. */
export class Builder {
  private readonly types: Type[] = [];
  private readonly names: Record<Value, string> = {};
  private lists: Instruction[][] = [[]];
  private readonly name: string;
  private readonly parameters: number;

  constructor(name: string, parameters: readonly Type[] = []) {
    this.name = name;
    this.parameters = parameters.length;
    this.types.push(...parameters);
  }

  /** Type of a value made so far. */
  typeOf(value: Value): Type {
    const type = this.types[value];
    if (type === undefined) throw new Error(`${this.name}: no value ${value}`);
    return type;
  }

  private fresh(type: Type): Value {
    this.types.push(type);
    return this.types.length - 1;
  }

  private push(instruction: Instruction): void {
    this.lists.at(-1)?.push(instruction);
  }

  const(type: Type, value: number): Value {
    const to = this.fresh(type);
    this.push({ do: 'const', to, value: type === 'f32' ? Math.fround(value) : type === 'i32' ? value | 0 : value });
    return to;
  }

  /** One pure operation by its full name, such as `add_f32`. */
  op(name: string, ...args: Value[]): Value {
    const record = operation(name);
    if (record.args.length !== args.length) throw new Error(`${name} takes ${record.args.length} values`);
    for (let i = 0; i < args.length; i++) {
      const got = this.typeOf(args[i] as Value);
      if (got !== record.args[i]) throw new Error(`${this.name}: ${name} takes ${record.args[i]}, got ${got}`);
    }
    const to = this.fresh(record.result);
    this.push({ do: 'compute', to, op: name, args });
    return to;
  }

  load(slot: number, type: Type, index?: Value): Value {
    const to = this.fresh(type);
    this.push({ do: 'load', to, slot, index });
    return to;
  }

  store(slot: number, value: Value, index?: Value): void {
    this.push({ do: 'store', slot, index, value });
  }

  lineLoad(slot: number, type: Type, ago: Value): Value {
    const to = this.fresh(type);
    this.push({ do: 'line_load', to, slot, ago });
    return to;
  }

  linePush(slot: number, value: Value): void {
    this.push({ do: 'line_push', slot, value });
  }

  call(func: string, result: Type, ...args: Value[]): Value {
    const to = this.fresh(result);
    this.push({ do: 'call', to, func, args });
    return to;
  }

  run(func: string, ...args: Value[]): void {
    this.push({ do: 'call', func, args });
  }

  /** Says what a reader would call a value: `tilt.estimate`. The first name given to a value stays. */
  named(value: Value, name: string): void {
    this.names[value] ??= name;
  }

  note(block: string, text: string): void {
    this.push({ do: 'note', block, text });
  }

  /** Runs one side or the other; neither gives a value. */
  if(condition: Value, then: () => void, otherwise?: () => void): void {
    const yes = this.nested(then);
    const no = otherwise === undefined ? [] : this.nested(otherwise);
    this.push(branch(condition, yes, no));
  }

  /** Runs the body `count` times with the index 0 … count − 1. */
  repeat(count: number, body: (index: Value) => void): void {
    const index = this.fresh('i32');
    const list = this.nested(() => body(index));
    this.push({ do: 'repeat', count, index, body: list });
  }

  private nested(make: () => void): Instruction[] {
    const list: Instruction[] = [];
    this.lists.push(list);
    make();
    this.lists.pop();
    return list;
  }

  /** The function so far, with its result if it has one. */
  finish(result?: Value): Func {
    return {
      name: this.name,
      parameters: this.parameters,
      values: [...this.types],
      body: this.lists[0] ?? [],
      result,
      ...(Object.keys(this.names).length > 0 ? { names: { ...this.names } } : {}),
    };
  }
}

/** The instruction that runs one list or the other. */
export function branch(condition: Value, yes: readonly Instruction[], no: readonly Instruction[]): Instruction {
  // biome-ignore lint/suspicious/noThenProperty: an instruction is never awaited.
  return { do: 'if', condition, then: yes, else: no };
}

/** Short names for the operations of one real type, for code that is written once for both. */
export function realOps(b: Builder, real: Real) {
  const binary = (name: string) => (x: Value, y: Value) => b.op(`${name}_${real}`, x, y);
  const unary = (name: string) => (x: Value) => b.op(`${name}_${real}`, x);
  return {
    real,
    number: (value: number) => b.const(real, value),
    add: binary('add'),
    sub: binary('sub'),
    mul: binary('mul'),
    div: binary('div'),
    eq: binary('eq'),
    lt: binary('lt'),
    le: binary('le'),
    neg: unary('neg'),
    abs: unary('abs'),
    sqrt: unary('sqrt'),
    floor: unary('floor'),
    trunc: unary('trunc'),
    select: (condition: Value, x: Value, y: Value) => b.op(`select_${real}`, condition, x, y),
    fromInt: (x: Value) => b.op(`${real}_from_i32`, x),
    toInt: (x: Value) => b.op(`i32_from_${real}`, x),
  };
}
