/** Random programs for the agreement tests: seeded, using every operation and every kind of instruction. */

import { Builder } from '../../compiler/ir/build.ts';
import { operations } from '../../compiler/ir/operations.ts';
import type { Func, Instruction, Program, Real, Slot, SlotKind, Type, Value } from '../../compiler/ir/program.ts';

/** Uniform numbers in 0 … 1 (mulberry32, public domain). */
export function randomNumbers(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const types: readonly Type[] = ['bool', 'i32', 'f32', 'f64'];

const oddReals = [
  NaN,
  Infinity,
  -Infinity,
  0,
  -0,
  1,
  -1,
  0.5,
  2,
  2 ** -149,
  -(2 ** -149),
  2 ** -130,
  2 ** -126,
  2 ** -1074,
  2 ** -1022,
  3.4028234663852886e38,
  1e308,
  2147483647,
  2147483648,
  -2147483648,
  -2147483649,
  2147483520,
  16777217,
  4503599627370497,
];
const oddIntegers = [
  0, 1, -1, 2, 31, 32, 33, -2147483648, 2147483647, 65536, -65536, 0x7f800000, 0x7fc00000, 0x7ff00000,
];

/** A number of a type: often an awkward one. */
export function oddNumber(type: Type, random: () => number): number {
  const pick = <T>(from: readonly T[]): T => from[Math.floor(random() * from.length)] as T;
  if (type === 'bool') return random() < 0.5 ? 0 : 1;
  if (type === 'i32') {
    if (random() < 0.4) return pick(oddIntegers);
    return random() < 0.5 ? Math.floor(random() * 20) - 5 : Math.floor((random() - 0.5) * 4294967296) | 0;
  }
  const round = type === 'f32' ? Math.fround : (x: number) => x;
  if (random() < 0.25) return round(pick(oddReals));
  if (random() < 0.6) return round((random() - 0.5) * 8);
  return round((random() - 0.5) * 2 ** Math.floor((random() - 0.5) * (type === 'f32' ? 290 : 2100)));
}

/** Deals operations so that all come up again and again. */
export class Dealer {
  private readonly counts = new Map<string, number>([...operations.keys()].map((name) => [name, 0]));

  /** How often each operation was dealt. */
  get dealt(): ReadonlyMap<string, number> {
    return this.counts;
  }

  next(random: () => number): string {
    const least = Math.min(...this.counts.values());
    const rare = [...this.counts].filter(([, count]) => count <= least + 2).map(([name]) => name);
    const name = rare[Math.floor(random() * rare.length)] as string;
    this.counts.set(name, (this.counts.get(name) ?? 0) + 1);
    return name;
  }
}

/** Instructions of a program by what they do, and operations by name. */
export function coverage(program: Program, into: Map<string, number>): void {
  const add = (what: string): void => void into.set(what, (into.get(what) ?? 0) + 1);
  const visit = (list: readonly Instruction[]): void => {
    for (const instruction of list) {
      add(instruction.do === 'compute' ? instruction.op : instruction.do);
      if ((instruction.do === 'load' || instruction.do === 'store') && instruction.index !== undefined)
        add(`${instruction.do} indexed`);
      if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
    }
  };
  for (const func of program.functions) visit(func.body);
}

/** A program with a `tick`, a few functions, slots of every kind and type, and about `size` instructions. */
export function randomProgram(name: string, seed: number, size: number, dealer: Dealer): Program {
  return new Generator(name, seed, dealer).program(size);
}

class Generator {
  private readonly random: () => number;
  private readonly slots: Slot[] = [];
  private readonly functions: Func[] = [];
  private readonly signatures: { name: string; parameters: readonly Type[]; result: Type | undefined }[] = [];
  private readonly name: string;
  private readonly dealer: Dealer;
  /** Values in scope by type, innermost last. */
  private scopes: Map<Type, Value[]>[] = [];
  private budget = 0;
  private depth = 0;

  constructor(name: string, seed: number, dealer: Dealer) {
    this.name = name;
    this.random = randomNumbers(seed);
    this.dealer = dealer;
  }

  program(size: number): Program {
    const real: Real = this.random() < 0.5 ? 'f32' : 'f64';
    for (const type of types) {
      for (const kind of ['input', 'output', 'wire', 'memory', 'setting', 'scratch'] as const) {
        this.slot(kind, type, 1);
        if (this.random() < 0.5) this.slot(kind, type, 2 + Math.floor(this.random() * 4));
      }
      this.line(type);
    }
    const count = Math.floor(this.random() * 4);
    for (let i = 0; i < count; i++) this.func(`piece_${i}`, Math.ceil(size / 8), i % 2 === 0);
    this.func('tick', size, false);
    return { name: this.name, real, slots: this.slots, functions: this.functions };
  }

  private slot(kind: SlotKind, type: Type, length: number, more: Partial<Slot> = {}): number {
    const id = this.slots.length;
    const start = Array.from({ length }, () => oddNumber(type, this.random));
    const name = `${kind}.${type}_${id}`;
    this.slots.push({ id, name, kind, type, length, start, block: kind, note: `a ${type}`, ...more });
    return id;
  }

  private line(type: Type): void {
    const length = 1 + Math.floor(this.random() * 6);
    const start = [Math.floor(this.random() * length)];
    const head = this.slot('memory', 'i32', 1, { start, name: `line.head_${this.slots.length}` });
    this.slot('line', type, length, { head });
  }

  private func(name: string, size: number, pure: boolean): void {
    const parameters = name === 'tick' ? [] : types.filter(() => this.random() < 0.7);
    const result = name === 'tick' || this.random() < 0.2 ? undefined : this.any(types);
    const b = new Builder(name, parameters);
    this.scopes = [new Map()];
    for (const [i, type] of parameters.entries()) this.know(type, i);
    this.budget = size;
    if (name === 'tick') this.fillScratch(b);
    this.statements(b, pure);
    if (name === 'tick') this.storeAll(b);
    const value = result === undefined ? undefined : this.value(b, result);
    this.functions.push(b.finish(value));
    this.signatures.push({ name, parameters, result });
  }

  /** Working storage means nothing between calls: whoever reads it has written it. */
  private fillScratch(b: Builder): void {
    for (const { id, kind, type, length, start } of this.slots)
      if (kind === 'scratch')
        for (const [i, value] of start.entries())
          b.store(id, b.const(type, value), length === 1 ? undefined : b.const('i32', i));
  }

  /** Stores what was made in the outermost list, so that little of it goes unread. */
  private storeAll(b: Builder): void {
    const heads = new Set(this.slots.map((slot) => slot.head));
    for (const type of types) {
      const targets = this.slots.filter((slot) => slot.type === type && slot.kind !== 'input' && !heads.has(slot.id));
      for (const value of this.scopes[0]?.get(type) ?? []) {
        const slot = this.any(targets);
        if (slot.length > 1) b.store(slot.id, value, b.const('i32', Math.floor(this.random() * slot.length)));
        else if (slot.kind !== 'line') b.store(slot.id, value);
        else b.linePush(slot.id, value);
      }
    }
  }

  private any<T>(from: readonly T[]): T {
    return from[Math.floor(this.random() * from.length)] as T;
  }

  private know(type: Type, value: Value): void {
    const scope = this.scopes.at(-1);
    const list = scope?.get(type);
    if (list === undefined) scope?.set(type, [value]);
    else list.push(value);
  }

  /** A value of a type: mostly one that is there, the newer the likelier. */
  private value(b: Builder, type: Type): Value {
    const there = this.scopes.flatMap((scope) => scope.get(type) ?? []);
    if (there.length > 0 && this.random() < 0.75) {
      const back = Math.floor(this.random() ** 2 * there.length);
      return there[there.length - 1 - back] as Value;
    }
    const made = this.random() < 0.2 ? b.const(type, oddNumber(type, this.random)) : this.loaded(b, type);
    this.know(type, made);
    return made;
  }

  private loaded(b: Builder, type: Type): Value {
    const slot = this.any(this.slots.filter((one) => one.type === type));
    if (slot.kind === 'line' && this.random() < 0.7) return b.lineLoad(slot.id, type, this.index(b, slot.length + 1));
    return slot.length > 1 && this.random() < 0.8
      ? b.load(slot.id, type, this.index(b, slot.length))
      : b.load(slot.id, type);
  }

  /** An index that is often in the slot, sometimes far outside. */
  private index(b: Builder, length: number): Value {
    if (this.random() < 0.5) return this.value(b, 'i32');
    return b.const('i32', Math.floor(this.random() * (length + 2)) - 1);
  }

  private statements(b: Builder, pure: boolean): void {
    while (this.budget > 0) {
      this.budget--;
      this.statement(b, pure);
      if (this.depth > 0 && this.random() < 0.15) return;
    }
  }

  private inner(b: Builder, pure: boolean): () => void {
    return () => {
      this.scopes.push(new Map());
      this.depth++;
      this.statements(b, pure);
      this.depth--;
      this.scopes.pop();
    };
  }

  private statement(b: Builder, pure: boolean): void {
    const roll = this.random();
    if (roll < 0.6 || (pure && roll < 0.9)) this.compute(b);
    else if (roll < 0.66) this.know(...this.freshLoad(b));
    else if (roll < 0.82 && !pure) this.store(b);
    else if (roll < 0.86 && !pure) {
      const line = this.any(this.slots.filter((slot) => slot.kind === 'line'));
      b.linePush(line.id, this.value(b, line.type));
    } else if (roll < 0.9) this.call(b, pure);
    else if (roll < 0.93) b.note(this.any(['balance.tilt', 'outer', 'gate']), 'what /* follows */ says this ??/ block');
    else if (this.depth < 3 && roll < 0.97)
      b.if(this.value(b, 'bool'), this.inner(b, pure), this.random() < 0.6 ? this.inner(b, pure) : undefined);
    else if (this.depth < 3)
      b.repeat(Math.floor(this.random() * 5), (index) => {
        this.scopes.push(new Map([['i32', [index]]]));
        this.inner(b, pure)();
        this.scopes.pop();
      });
  }

  private freshLoad(b: Builder): [Type, Value] {
    const type = this.any(types);
    return [type, this.loaded(b, type)];
  }

  private compute(b: Builder): void {
    const name = this.dealer.next(this.random);
    const record = operations.get(name);
    if (record === undefined) throw new Error(name);
    const args: Value[] = [];
    for (const type of record.args) {
      const first = this.value(b, type);
      args.push(args.includes(first) && this.random() < 0.9 ? this.value(b, type) : first);
    }
    this.know(record.result, b.op(name, ...args));
  }

  private store(b: Builder): void {
    const heads = new Set(this.slots.map((slot) => slot.head));
    const slot = this.any(this.slots.filter((one) => one.kind !== 'input' && !heads.has(one.id)));
    const value = this.value(b, slot.type);
    if (slot.length > 1 && this.random() < 0.8) b.store(slot.id, value, this.index(b, slot.length));
    else b.store(slot.id, value);
  }

  private call(b: Builder, pure: boolean): void {
    const callable = this.signatures.filter((_, i) => !pure || i % 2 === 0);
    if (callable.length === 0) return;
    const { name, parameters, result } = this.any(callable);
    const args = parameters.map((type) => this.value(b, type));
    if (result === undefined || this.random() < 0.2) b.run(name, ...args);
    else this.know(result, b.call(name, result, ...args));
  }
}

/** Numbers for every input of a program for one tick, in the order of its slots. */
export function randomInputs(program: Program, random: () => number): number[][] {
  return program.slots
    .filter((slot) => slot.kind === 'input')
    .map((slot) => Array.from({ length: slot.length }, () => oddNumber(slot.type, random)));
}
