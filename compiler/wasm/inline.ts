/** Writes a short function that is called from one place where it is called: WebAssembly engines keep a call a call. */

import { branch } from '../ir/build.ts';
import type { Func, Instruction, Program, Type, Value } from '../ir/program.ts';

/** Instructions of the longest function that is written where it is called. */
const LONGEST = 200;

/** The program with such calls written out; every function is still there to be called from outside. */
export function withShortCallsInside(program: Program): Program {
  const calls = new Map<string, number>();
  const count = (list: readonly Instruction[]): number => {
    let sum = 0;
    for (const one of list) {
      sum++;
      if (one.do === 'call') calls.set(one.func, (calls.get(one.func) ?? 0) + 1);
      else if (one.do === 'if') sum += count(one.then) + count(one.else);
      else if (one.do === 'repeat') sum += count(one.body);
    }
    return sum;
  };
  const sizes = new Map(program.functions.map((func) => [func.name, count(func.body)]));
  const short = (func: Func): boolean => calls.get(func.name) === 1 && (sizes.get(func.name) ?? 0) <= LONGEST;
  const inside = new Map<string, Func>();
  const functions = program.functions.map((func) => {
    const written = new Writer(func, inside).write();
    if (short(func)) inside.set(func.name, written);
    return written;
  });
  return inside.size === 0 ? program : { ...program, functions };
}

class Writer {
  private readonly values: Type[];
  /** What stands for a value of the caller that a callee made. */
  private readonly instead = new Map<Value, Value>();
  private readonly func: Func;
  private readonly inside: ReadonlyMap<string, Func>;

  constructor(func: Func, inside: ReadonlyMap<string, Func>) {
    this.func = func;
    this.inside = inside;
    this.values = [...func.values];
  }

  write(): Func {
    const body = this.list(this.func.body, (value) => this.instead.get(value) ?? value);
    const { result } = this.func;
    return {
      ...this.func,
      values: this.values,
      body,
      result: result === undefined ? undefined : (this.instead.get(result) ?? result),
    };
  }

  /** A list with its values by their new numbers. */
  private list(list: readonly Instruction[], now: (value: Value) => Value): Instruction[] {
    return list.flatMap((one) => this.step(one, now));
  }

  private step(one: Instruction, now: (value: Value) => Value): Instruction[] {
    switch (one.do) {
      case 'const':
        return [{ ...one, to: now(one.to) }];
      case 'compute':
        return [{ ...one, to: now(one.to), args: one.args.map(now) }];
      case 'load':
        return [{ ...one, to: now(one.to), index: one.index === undefined ? undefined : now(one.index) }];
      case 'store':
        return [{ ...one, value: now(one.value), index: one.index === undefined ? undefined : now(one.index) }];
      case 'line_load':
        return [{ ...one, to: now(one.to), ago: now(one.ago) }];
      case 'line_push':
        return [{ ...one, value: now(one.value) }];
      case 'if':
        return [branch(now(one.condition), this.list(one.then, now), this.list(one.else, now))];
      case 'repeat':
        return [{ ...one, index: now(one.index), body: this.list(one.body, now) }];
      case 'note':
        return [];
      case 'call':
        return this.call({ ...one, to: one.to === undefined ? undefined : now(one.to), args: one.args.map(now) });
    }
  }

  private call(call: Extract<Instruction, { do: 'call' }>): Instruction[] {
    const callee = this.inside.get(call.func);
    if (callee === undefined) return [call];
    const from = this.values.length;
    for (const type of callee.values) this.values.push(type);
    const now = (value: Value): Value => call.args[value] ?? from + value;
    if (call.to !== undefined && callee.result !== undefined) this.instead.set(call.to, now(callee.result));
    return this.list(callee.body, now);
  }
}
