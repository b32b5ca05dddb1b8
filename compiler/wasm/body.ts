/** The instructions of one function: values read once stay on the operand stack, the others are locals. */

import { type FunctionEffects, isIdle, madePurely } from '../ir/effects.ts';
import { type Nesting, nestValues } from '../ir/nesting.ts';
import { operation } from '../ir/operations.ts';
import type { Func, Instruction, Program, Slot, Type, Value } from '../ir/program.ts';
import { type Range, valueRanges } from '../ir/ranges.ts';
import { code, constant, type FunctionCode, signed, unsigned } from './encode.ts';
import { type Layout, scalarBytes } from './layout.ts';

/** What every function of one program shares. */
export interface Surroundings {
  readonly program: Program;
  readonly layout: Layout;
  readonly known: FunctionEffects;
  /** Functions by name with their place in the module. */
  readonly places: ReadonlyMap<string, { readonly place: number; readonly func: Func }>;
}

/** `load` and `store` of each type: opcode, then the alignment as a power of two. */
const access: Readonly<Record<Type, { load: readonly number[]; store: readonly number[] }>> = {
  bool: { load: [0x28, 2], store: [0x36, 2] },
  i32: { load: [0x28, 2], store: [0x36, 2] },
  f32: { load: [0x2a, 2], store: [0x38, 2] },
  f64: { load: [0x2b, 3], store: [0x39, 3] },
};

export function encodeFunction(func: Func, around: Surroundings): FunctionCode {
  return new BodyEncoder(func, around).encode();
}

class BodyEncoder {
  private readonly bytes: number[] = [];
  private readonly locals: Type[] = [];
  private readonly free = new Map<Type, number[]>();
  private readonly localOf = new Map<Value, number>();
  /** Values with a local of their own, in the order they were made. */
  private readonly kept: Value[] = [];
  /** Instructions of the values that are made where they are read. */
  private readonly waiting = new Map<Value, Instruction>();
  private readonly nesting: Nesting;
  private readonly ranges: ReadonlyMap<Value, Range>;
  private readonly func: Func;
  private readonly around: Surroundings;

  constructor(func: Func, around: Surroundings) {
    this.func = func;
    this.around = around;
    this.nesting = nestValues(func, around.program, around.known);
    this.ranges = valueRanges(func);
  }

  encode(): FunctionCode {
    const { func } = this;
    for (let i = 0; i < func.parameters; i++) this.localOf.set(i, i);
    for (const instruction of func.body) this.step(instruction);
    if (func.result !== undefined) this.value(func.result);
    return {
      name: func.name,
      parameters: func.values.slice(0, func.parameters),
      result: func.result === undefined ? undefined : this.typeOf(func.result),
      locals: this.locals,
      body: this.bytes,
    };
  }

  private write(...bytes: number[]): void {
    for (const byte of bytes) this.bytes.push(byte);
  }

  private typeOf(value: Value): Type {
    const type = this.func.values[value];
    if (type === undefined) throw new Error(`${this.func.name}: no value ${value}`);
    return type;
  }

  private slot(id: number): Slot {
    const slot = this.around.program.slots[id];
    if (slot === undefined) throw new Error(`${this.func.name}: no slot ${id}`);
    return slot;
  }

  private head(line: Slot): Slot {
    if (line.head === undefined) throw new Error(`${line.name} is not a delay line`);
    return this.slot(line.head);
  }

  private takeLocal(type: Type): number {
    const spare = this.free.get(type)?.pop();
    if (spare !== undefined) return spare;
    this.locals.push(type);
    return this.func.parameters + this.locals.length - 1;
  }

  private giveLocal(type: Type, local: number): void {
    const spare = this.free.get(type);
    if (spare === undefined) this.free.set(type, [local]);
    else spare.push(local);
  }

  /** A list; the locals of the values it makes are free again after it. */
  private list(instructions: readonly Instruction[]): void {
    const mark = this.kept.length;
    for (const instruction of instructions) this.step(instruction);
    for (const value of this.kept.splice(mark)) {
      this.giveLocal(this.typeOf(value), this.localOf.get(value) ?? 0);
      this.localOf.delete(value);
    }
  }

  private step(instruction: Instruction): void {
    const { known } = this.around;
    const made = madePurely(instruction, known);
    if (isIdle(instruction, known) || (made !== undefined && !this.nesting.live.has(made))) return;
    if (made !== undefined) {
      if (this.nesting.nested.has(made)) this.waiting.set(made, instruction);
      else {
        this.make(instruction);
        this.keep(made);
      }
      return;
    }
    switch (instruction.do) {
      case 'store': {
        const slot = this.slot(instruction.slot);
        this.address(slot, instruction.index);
        this.value(instruction.value);
        this.access(slot, 'store');
        break;
      }
      case 'line_push':
        this.push(this.slot(instruction.slot), instruction.value);
        break;
      case 'call':
        this.make(instruction);
        if (instruction.to !== undefined && this.nesting.live.has(instruction.to)) this.keep(instruction.to);
        else if (this.around.places.get(instruction.func)?.func.result !== undefined) this.write(code.drop);
        break;
      case 'if':
        this.either(instruction);
        break;
      case 'repeat':
        this.repeat(instruction);
        break;
    }
  }

  private either(instruction: Instruction & { do: 'if' }): void {
    const { condition } = instruction;
    const parts = this.alternatives(condition, 'and_bool');
    if (parts.length > 1 && instruction.else.length === 0) {
      this.write(code.block, code.noValue);
      for (const part of parts) {
        this.value(part);
        this.write(code.i32IsZero, code.branchIf, 0);
      }
      this.list(instruction.then);
      this.write(code.end);
      return;
    }
    this.value(condition);
    this.write(code.if, code.noValue);
    this.list(instruction.then);
    if (instruction.else.length > 0) {
      this.write(code.else);
      this.list(instruction.else);
    }
    this.write(code.end);
  }

  /** The parts of a condition that is made where it is read, each to be judged only if those before do not decide. */
  private alternatives(condition: Value, op: string): Value[] {
    const maker = this.localOf.has(condition) ? undefined : this.waiting.get(condition);
    if (maker?.do !== 'compute' || maker.op !== op) return [condition];
    return maker.args.flatMap((arg) => this.alternatives(arg, op));
  }

  private repeat(instruction: Instruction & { do: 'repeat' }): void {
    const index = this.takeLocal('i32');
    this.localOf.set(instruction.index, index);
    this.write(...constant('i32', 0), code.setLocal, ...unsigned(index), code.loop, code.noValue);
    this.list(instruction.body);
    this.write(
      code.getLocal,
      ...unsigned(index),
      ...constant('i32', 1),
      code.i32Add,
      code.teeLocal,
      ...unsigned(index),
    );
    this.write(...constant('i32', instruction.count), code.i32LessUnsigned, code.branchIf, 0, code.end);
    this.localOf.delete(instruction.index);
    this.giveLocal('i32', index);
  }

  /** Keeps what is on the stack as this value. */
  private keep(value: Value): void {
    const local = this.takeLocal(this.typeOf(value));
    this.localOf.set(value, local);
    this.kept.push(value);
    this.write(code.setLocal, ...unsigned(local));
  }

  /** Pushes a value. */
  private value(value: Value): void {
    const local = this.localOf.get(value);
    if (local !== undefined) {
      this.write(code.getLocal, ...unsigned(local));
      return;
    }
    const instruction = this.waiting.get(value);
    if (instruction === undefined) throw new Error(`${this.func.name}: value ${value} is read before it is made`);
    this.make(instruction);
  }

  /** Pushes what an instruction makes. */
  private make(instruction: Instruction): void {
    switch (instruction.do) {
      case 'const':
        this.write(...constant(this.typeOf(instruction.to), instruction.value));
        break;
      case 'compute':
        this.compute(instruction.op, instruction.args);
        break;
      case 'load': {
        const slot = this.slot(instruction.slot);
        this.address(slot, instruction.index);
        this.access(slot, 'load');
        break;
      }
      case 'line_load':
        this.lineLoad(this.slot(instruction.slot), instruction.ago);
        break;
      case 'call': {
        const callee = this.around.places.get(instruction.func);
        if (callee === undefined) throw new Error(`${this.func.name}: no function ${instruction.func}`);
        for (const arg of instruction.args) this.value(arg);
        this.write(code.call, ...unsigned(callee.place));
        break;
      }
      default:
        throw new Error(`${this.func.name}: ${instruction.do} makes nothing`);
    }
  }

  private compute(op: string, args: readonly Value[]): void {
    const { wasm } = operation(op);
    if ('bytes' in wasm) {
      for (const arg of args) this.value(arg);
      this.write(...wasm.bytes);
      return;
    }
    const [a = -1, b = -1, c = -1] = args;
    switch (wasm.helper) {
      case 'bits_f32':
        this.bits(a, code.f32Equal, [code.i32OfF32Bits], 0x7fc00000);
        break;
      case 'high_f64':
        this.bits(
          a,
          code.f64Equal,
          [code.i64OfF64Bits, code.i64Const, 32, code.i64ShiftRightUnsigned, code.i32OfI64],
          0x7ff80000,
        );
        break;
      case 'low_f64':
        this.bits(a, code.f64Equal, [code.i64OfF64Bits, code.i32OfI64], 0);
        break;
      case 'f64_of_words':
        this.value(a);
        this.write(code.i64OfI32Unsigned, code.i64Const, 32, code.i64ShiftLeft);
        this.value(b);
        this.write(code.i64OfI32Unsigned, code.i64Or, code.f64OfI64Bits);
        break;
      case 'div_i32':
        this.divide(a, b, [code.i32Multiply], code.i32Divide);
        break;
      case 'rem_i32':
        this.divide(a, b, [code.drop, code.drop, ...constant('i32', 0)], code.i32Remainder);
        break;
      case 'select_bool':
      case 'select_i32':
      case 'select_f32':
      case 'select_f64':
        this.value(b);
        this.value(c);
        this.value(a);
        this.write(code.select);
        break;
      default:
        throw new Error(`WebAssembly has no way yet to say ${op}`);
    }
  }

  /** Pushes a word of a real number's pattern; every NaN gives the one word. */
  private bits(real: Value, equal: number, read: readonly number[], notANumber: number): void {
    this.withLocals([real], ([x = []]) => {
      this.write(...x, ...read, ...constant('i32', notANumber), ...x, ...x, equal, code.select);
    });
  }

  /** Pushes a quotient or remainder. For a divisor of −1 or 0 it is `odd` of both: their product is −a and 0. */
  private divide(a: Value, b: Value, odd: readonly number[], usual: number): void {
    this.withLocals([a, b], ([x = [], y = []]) => {
      this.write(...y, ...constant('i32', 1), code.i32Add, ...constant('i32', 1), code.i32LessOrEqualUnsigned);
      this.write(code.if, 0x7f, ...x, ...y, ...odd, code.else, ...x, ...y, usual, code.end);
    });
  }

  /** Gives `use` the bytes that push each value, for values that are needed more than once. */
  private withLocals(values: readonly Value[], use: (pushes: readonly number[][]) => void): void {
    const borrowed: { type: Type; local: number }[] = [];
    const pushes = values.map((value) => {
      const there = this.localOf.get(value);
      if (there !== undefined) return [code.getLocal, ...unsigned(there)];
      const type = this.typeOf(value);
      this.value(value);
      const local = this.takeLocal(type);
      borrowed.push({ type, local });
      this.write(code.setLocal, ...unsigned(local));
      return [code.getLocal, ...unsigned(local)];
    });
    use(pushes);
    for (const { type, local } of borrowed) this.giveLocal(type, local);
  }

  private access(slot: Slot, what: 'load' | 'store'): void {
    this.write(...access[slot.type][what], ...unsigned(this.around.layout.addresses[slot.id] ?? 0));
  }

  /** Pushes the byte distance of an element from the start of its slot. */
  private address(slot: Slot, index: Value | undefined): void {
    const last = slot.length - 1;
    const range = index === undefined ? undefined : this.ranges.get(index);
    if (index === undefined || last === 0 || (range !== undefined && range.high <= 0))
      this.write(...constant('i32', 0));
    else if (range !== undefined && range.low === range.high)
      this.write(...constant('i32', Math.min(range.low, last) * scalarBytes[slot.type]));
    else {
      this.clamped(index, 0, last);
      this.scale(slot);
    }
  }

  /** Turns an index on the stack into bytes. */
  private scale(slot: Slot): void {
    this.write(...constant('i32', scalarBytes[slot.type] === 8 ? 3 : 2), code.i32ShiftLeft);
  }

  /** Pushes an i32 brought into low … high, both included. */
  private clamped(index: Value, low: number, high: number): void {
    const range = this.ranges.get(index) ?? { low: -2147483648, high: 2147483647 };
    if (range.low >= low && range.high <= high) {
      this.value(index);
      return;
    }
    this.withLocals([index], ([i = []]) => {
      const top = [code.i32Const, ...signed(high)];
      const bottom = [code.i32Const, ...signed(low)];
      this.write(...i);
      if (range.high > high) this.write(...top, ...i, ...top, code.i32Less, code.select);
      if (range.low < low) this.write(...bottom, ...i, ...bottom, code.i32Greater, code.select);
    });
  }

  /** Pushes what went into a line `ago` pushes ago. */
  private lineLoad(line: Slot, ago: Value): void {
    if ((this.ranges.get(ago)?.low ?? 0) >= line.length) {
      this.write(...constant('i32', 0));
      this.access(this.head(line), 'load');
      this.scale(line);
      this.access(line, 'load');
      return;
    }
    const place = this.takeLocal('i32');
    const at = [code.getLocal, ...unsigned(place)];
    this.write(...constant('i32', 0));
    this.access(this.head(line), 'load');
    this.clamped(ago, 1, line.length);
    this.write(code.i32Subtract, code.teeLocal, ...unsigned(place));
    this.write(...at, ...constant('i32', line.length), code.i32Add);
    this.write(...at, ...constant('i32', 0), code.i32GreaterOrEqual, code.select);
    this.giveLocal('i32', place);
    this.scale(line);
    this.access(line, 'load');
  }

  private push(line: Slot, value: Value): void {
    const place = this.takeLocal('i32');
    const at = [code.getLocal, ...unsigned(place)];
    this.write(...constant('i32', 0));
    this.access(this.head(line), 'load');
    this.write(code.teeLocal, ...unsigned(place));
    this.scale(line);
    this.value(value);
    this.access(line, 'store');
    this.write(...constant('i32', 0), ...at, ...constant('i32', 1), code.i32Add, code.teeLocal, ...unsigned(place));
    this.write(...constant('i32', 0), ...at, ...constant('i32', line.length), code.i32NotEqual, code.select);
    this.access(this.head(line), 'store');
    this.giveLocal('i32', place);
  }
}
