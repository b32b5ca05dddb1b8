/** Makes a program shorter without changing a bit of what it says: folding, sharing, and leaving out what is not read. */

import { withBranches } from './branches.ts';
import { branch } from './build.ts';
import { Computed } from './computed.ts';
import { type FunctionEffects, functionEffects, isIdle, listEffects, madePurely, stepEffects } from './effects.ts';
import { fold, type Known, type Maker } from './fold.ts';
import { Loaded } from './loaded.ts';
import { liveness } from './nesting.ts';
import { operation } from './operations.ts';
import type { Func, Instruction, Program, Type, Value } from './program.ts';

/**
 * The shorter program; the same slots with the same ids. Stores to `wire` and `scratch` slots that nothing loads are
 * left out unless `keepSlots` has the slot: only kept slots, inputs, outputs and memory mean the same afterwards.
 */
export function simplify(program: Program, keepSlots: ReadonlySet<number>): Program {
  let next = program;
  let known = functionEffects(next);
  for (let round = 0; round < 16; round++) {
    const [longer, effects]: [Program, FunctionEffects] = [next, known];
    next = { ...next, functions: next.functions.map((func) => new Rewriter(func, longer, effects).rewrite()) };
    known = functionEffects(next);
    const stored = withoutDeadStores(next, known, keepSlots);
    if (stored !== next) known = functionEffects(stored);
    next = stored;
    if (writes(next) === writes(longer)) break;
  }
  const [whole, effects]: [Program, FunctionEffects] = [next, known];
  const functions = next.functions.map((func) => withoutDeadValues(withBranches(func, whole, effects), effects));
  return { ...next, functions };
}

/** Instructions in all lists of a program. */
export function size(program: Program): number {
  const count = (list: readonly Instruction[]): number =>
    list.reduce(
      (sum, one) =>
        sum +
        1 +
        (one.do === 'if' ? count(one.then) + count(one.else) : 0) +
        (one.do === 'repeat' ? count(one.body) : 0),
      0,
    );
  return program.functions.reduce((sum, func) => sum + count(func.body), 0);
}

/** Instructions that write: only where some went is there more to be found than one way through from the top finds. */
function writes(program: Program): number {
  let found = 0;
  const count = (list: readonly Instruction[]): void => {
    for (const one of list)
      if (one.do === 'store' || one.do === 'line_push' || one.do === 'call') found++;
      else if (one.do === 'if') {
        count(one.then);
        count(one.else);
      } else if (one.do === 'repeat') count(one.body);
  };
  for (const func of program.functions) count(func.body);
  return found;
}

/** What has been made already and can be read again, by what it is. */
type Shared = Loaded<string | number, Value>;

/** Rewrites one function from the top; values are numbered anew. */
class Rewriter {
  private readonly types: Type[];
  private made = 0;
  private readonly names: Record<Value, string> = {};
  /** By new value: its number, or the operation that made it. */
  private readonly constants: (number | undefined)[];
  private readonly makers: (Maker | undefined)[];
  /** New values by old ones; −1 for none yet. */
  private readonly renamed: Int32Array;
  private readonly computed: Computed;
  private readonly facts: Known = {
    constant: (value) => this.constants[value],
    maker: (value) => this.makers[value],
  };
  private readonly func: Func;
  private readonly program: Program;
  private readonly known: FunctionEffects;

  constructor(func: Func, program: Program, known: FunctionEffects) {
    this.func = func;
    this.program = program;
    this.known = known;
    const { length } = func.values;
    this.renamed = new Int32Array(length).fill(-1);
    this.computed = new Computed(length);
    this.types = new Array<Type>(length);
    this.constants = new Array<number | undefined>(length);
    this.makers = new Array<Maker | undefined>(length);
  }

  rewrite(): Func {
    for (let i = 0; i < this.func.parameters; i++) this.rename(i, this.fresh(this.typeOf(i)));
    const body: Instruction[] = [];
    this.list(this.func.body, new Loaded(), body);
    const result = this.func.result === undefined ? undefined : this.now(this.func.result);
    this.types.length = this.made;
    const named = Object.keys(this.names).length > 0 ? { names: this.names } : {};
    const rewritten: Func = { ...this.func, values: this.types, body, result, ...named };
    return withoutDeadValues(rewritten, this.known);
  }

  private typeOf(old: Value): Type {
    const type = this.func.values[old];
    if (type === undefined) throw new Error(`${this.func.name}: no value ${old}`);
    return type;
  }

  private now(old: Value): Value {
    const value = this.renamed[old] ?? -1;
    if (value < 0) throw new Error(`${this.func.name}: value ${old} is read before it is made`);
    return value;
  }

  private fresh(type: Type): Value {
    const value = this.made++;
    this.types[value] = type;
    return value;
  }

  private rename(old: Value, value: Value): void {
    this.renamed[old] = value;
    const name = this.func.names?.[old];
    if (name !== undefined) this.names[value] ??= name;
  }

  private list(instructions: readonly Instruction[], shared: Shared, into: Instruction[]): void {
    for (const instruction of instructions) this.step(instruction, shared, into);
  }

  private nested(instructions: readonly Instruction[], shared: Shared, into: Instruction[]): void {
    shared.nested(() => this.computed.nested(() => this.list(instructions, shared, into)));
  }

  private step(instruction: Instruction, shared: Shared, into: Instruction[]): void {
    switch (instruction.do) {
      case 'const':
        this.rename(instruction.to, this.constant(this.typeOf(instruction.to), instruction.value, shared, into));
        break;
      case 'compute': {
        const args = instruction.args.map((arg) => this.now(arg));
        this.rename(instruction.to, this.compute(instruction.op, args, shared, into));
        break;
      }
      case 'load': {
        const { slot } = instruction;
        const index = this.index(instruction.slot, instruction.index);
        const key = elementKey(slot, this.constantIndex(slot, index));
        const to = this.share(key, [slot], instruction.to, shared);
        if (to !== undefined) into.push({ do: 'load', to, slot, index });
        break;
      }
      case 'store': {
        const { slot } = instruction;
        const index = this.index(instruction.slot, instruction.index);
        const value = this.now(instruction.value);
        const key = elementKey(slot, this.constantIndex(slot, index));
        this.nameAfter(slot, value, index);
        if (shared.get(key) === value) break;
        const loads = [slot];
        shared.forget(loads);
        shared.set(key, value, loads);
        into.push({ do: 'store', slot, index, value });
        break;
      }
      case 'line_load': {
        const { slot } = instruction;
        const ago = this.now(instruction.ago);
        const { loads } = stepEffects(instruction, this.program, this.known);
        const to = this.share(`ago ${slot} ${ago}`, [...loads], instruction.to, shared);
        if (to !== undefined) into.push({ do: 'line_load', to, slot, ago });
        break;
      }
      case 'line_push':
        shared.forget(stepEffects(instruction, this.program, this.known).stores);
        into.push({ ...instruction, value: this.now(instruction.value) });
        break;
      case 'call':
        this.call(instruction, shared, into);
        break;
      case 'if':
        this.either(instruction, shared, into);
        break;
      case 'repeat':
        this.repeat(instruction, shared, into);
        break;
      case 'note':
        into.push(instruction);
        break;
    }
  }

  private call(instruction: Instruction & { do: 'call' }, shared: Shared, into: Instruction[]): void {
    const args = instruction.args.map((arg) => this.now(arg));
    const effects = this.known.get(instruction.func);
    const { func, to: old } = instruction;
    if (effects !== undefined && effects.stores.size > 0) {
      shared.forget(effects.stores);
      const to = old === undefined ? undefined : this.fresh(this.typeOf(old));
      if (old !== undefined && to !== undefined) this.rename(old, to);
      into.push({ do: 'call', to, func, args });
    } else if (old !== undefined) {
      const key = `call ${func} ${args.join(' ')}`;
      const to = this.share(key, [...(effects?.loads ?? [])], old, shared);
      if (to !== undefined) into.push({ do: 'call', to, func, args });
    }
  }

  private either(instruction: Instruction & { do: 'if' }, shared: Shared, into: Instruction[]): void {
    const condition = this.now(instruction.condition);
    const decided = this.constants[condition];
    if (decided !== undefined) {
      this.list(decided === 1 ? instruction.then : instruction.else, shared, into);
      return;
    }
    const maker = this.makers[condition];
    const turned = maker?.op === 'not_bool' ? maker.args[0] : undefined;
    const yes: Instruction[] = [];
    const no: Instruction[] = [];
    this.nested(instruction.then, shared, yes);
    this.nested(instruction.else, shared, no);
    shared.forget(listEffects([instruction], this.program, this.known).stores);
    into.push(turned === undefined ? branch(condition, yes, no) : branch(turned, no, yes));
  }

  private repeat(instruction: Instruction & { do: 'repeat' }, shared: Shared, into: Instruction[]): void {
    if (instruction.count === 0) return;
    if (instruction.count === 1) {
      this.rename(instruction.index, this.constant('i32', 0, shared, into));
      this.list(instruction.body, shared, into);
      return;
    }
    shared.forget(listEffects([instruction], this.program, this.known).stores);
    const index = this.fresh('i32');
    this.rename(instruction.index, index);
    const body: Instruction[] = [];
    this.nested(instruction.body, shared, body);
    into.push({ do: 'repeat', count: instruction.count, index, body });
  }

  private constant(type: Type, value: number, shared: Shared, into: Instruction[]): Value {
    const key = `${type} ${Object.is(value, -0) ? '-0' : value}`;
    const there = shared.get(key);
    if (there !== undefined) return there;
    const to = this.fresh(type);
    this.constants[to] = value;
    shared.set(key, to);
    into.push({ do: 'const', to, value });
    return to;
  }

  private compute(op: string, args: readonly Value[], shared: Shared, into: Instruction[]): Value {
    const record = operation(op);
    const instead = fold(op, args, this.facts);
    if (instead !== undefined && 'op' in instead) {
      const second = instead.number === undefined ? [] : [this.constant(record.result, instead.number, shared, into)];
      return this.compute(instead.op, [...instead.args, ...second], shared, into);
    }
    if (instead !== undefined)
      return 'value' in instead ? instead.value : this.constant(record.result, instead.number, shared, into);
    const there = this.computed.find(op, args, record.commutes === true);
    if (there !== undefined) return there;
    const to = this.fresh(record.result);
    const made = { do: 'compute', to, op, args } as const;
    this.makers[to] = made;
    this.computed.add(made);
    into.push(made);
    return to;
  }

  /** Uses what is there already, or gives back the new value that is to be made. */
  private share(key: string | number, loads: readonly number[], old: Value, shared: Shared): Value | undefined {
    const there = shared.get(key);
    if (there !== undefined) {
      this.rename(old, there);
      return undefined;
    }
    const to = this.fresh(this.typeOf(old));
    this.rename(old, to);
    shared.set(key, to, loads);
    return to;
  }

  /** The index now; none where it can only mean the first element. */
  private index(slot: number, old: Value | undefined): Value | undefined {
    if (old === undefined || this.program.slots[slot]?.length === 1) return undefined;
    const index = this.now(old);
    return (this.constants[index] ?? 1) <= 0 ? undefined : index;
  }

  /** A word for the element an index means: the same word only for what is surely the same element. */
  private constantIndex(slot: number, index: Value | undefined): string {
    if (index === undefined) return '0';
    const number = this.constants[index];
    const last = (this.program.slots[slot]?.length ?? 1) - 1;
    return number === undefined ? `%${index}` : String(Math.min(number, last));
  }

  /** A value keeps the name of the wire it was stored in, for readers, even when the store goes. */
  private nameAfter(slot: number, value: Value, index: Value | undefined): void {
    const target = this.program.slots[slot];
    if (target?.kind === 'wire' && index === undefined && target.length === 1) this.names[value] ??= target.name;
  }
}

/** A key for an element of a slot: a number below 0 for the first. */
const elementKey = (slot: number, element: string): string | number =>
  element === '0' ? -1 - slot : `slot ${slot} ${element}`;

/** The function without instructions whose value nothing reads, idle branches and notes about nothing. */
function withoutDeadValues(func: Func, known: FunctionEffects): Func {
  const { live } = liveness(func, known);
  const prune = (list: readonly Instruction[]): Instruction[] => {
    const kept: Instruction[] = [];
    for (const instruction of list) {
      if (instruction.do === 'note') {
        if (kept.at(-1)?.do === 'note') kept.pop();
        kept.push(instruction);
        continue;
      }
      const to = madePurely(instruction, known);
      if ((to !== undefined && !live.has(to)) || isIdle(instruction, known)) continue;
      if (instruction.do === 'if')
        kept.push(branch(instruction.condition, prune(instruction.then), prune(instruction.else)));
      else if (instruction.do === 'repeat') kept.push({ ...instruction, body: prune(instruction.body) });
      else kept.push(instruction);
    }
    while (kept.at(-1)?.do === 'note') kept.pop();
    return kept;
  };
  return { ...func, body: prune(func.body) };
}

/** The program without stores into wires and scratch that nothing loads and nobody wants kept. */
function withoutDeadStores(program: Program, known: FunctionEffects, keepSlots: ReadonlySet<number>): Program {
  const loaded = new Set([...known.values()].flatMap((effects) => [...effects.loads]));
  const dead = (slot: number): boolean => {
    const kind = program.slots[slot]?.kind;
    return (kind === 'wire' || kind === 'scratch') && !loaded.has(slot) && !keepSlots.has(slot);
  };
  if (![...known.values()].some(({ stores }) => [...stores].some(dead))) return program;
  const prune = (list: readonly Instruction[]): Instruction[] =>
    list
      .filter((instruction) => instruction.do !== 'store' || !dead(instruction.slot))
      .map((instruction) => {
        if (instruction.do === 'if')
          return branch(instruction.condition, prune(instruction.then), prune(instruction.else));
        return instruction.do === 'repeat' ? { ...instruction, body: prune(instruction.body) } : instruction;
      });
  return { ...program, functions: program.functions.map((func) => ({ ...func, body: prune(func.body) })) };
}
