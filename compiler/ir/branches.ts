/**
 * Leaves to branches what only branches need: what is stored only sometimes, what is made and then read on one side alone,
 * and neighbours that ask the same question. No value changes; some are no longer made where nothing reads them.
 */

import { branch } from './build.ts';
import { type Effects, type FunctionEffects, listEffects, madePurely, operands, stepEffects } from './effects.ts';
import type { Func, Instruction, Program, Value } from './program.ts';

type If = Extract<Instruction, { do: 'if' }>;
type Note = Extract<Instruction, { do: 'note' }>;

/** How far apart two branches on the same condition may stand and still become one. */
const FARTHEST = 120;

const [HERE, NOWHERE] = [-1, -2];

export function withBranches(func: Func, program: Program, known: FunctionEffects): Func {
  const sorter = new Sorter(func, program, known);
  return { ...func, values: sorter.values, body: sorter.list(func.body) };
}

class Sorter {
  readonly values: Func['values'][number][];
  private readonly makers: (Instruction | undefined)[];
  private readonly uses: Uint32Array;
  /** Effects of branches and repetitions, worked out once. */
  private readonly listed = new Map<Instruction, Effects>();
  /** Where the list at hand reads a value: nowhere, here, or on side `i % 2` of the branch at `i >> 1`. */
  private readonly readers: Int32Array;
  private readonly func: Func;
  private readonly program: Program;
  private readonly known: FunctionEffects;

  constructor(func: Func, program: Program, known: FunctionEffects) {
    this.func = func;
    this.program = program;
    this.known = known;
    this.values = [...func.values];
    this.makers = new Array<Instruction | undefined>(func.values.length).fill(undefined);
    this.uses = new Uint32Array(func.values.length);
    this.readers = new Int32Array(func.values.length).fill(NOWHERE);
    if (func.result !== undefined) this.use(func.result);
    this.look(func.body);
  }

  list(instructions: readonly Instruction[], heading?: Note): readonly Instruction[] {
    const stores = this.storedSometimes(instructions);
    if (!stores.some((one) => one.do === 'if' || one.do === 'repeat')) return stores;
    const sunk = this.sink(this.parted(stores), heading);
    const joined = this.join(sunk, heading);
    const sorted = this.beside(joined.length < sunk.length ? this.sink(joined, heading) : joined, heading);
    const headings = headingsOf(sorted, heading);
    return sorted.map((one, i) => {
      const under = headings[i];
      if (one.do === 'if') return branch(one.condition, this.list(one.then, under), this.list(one.else, under));
      return one.do === 'repeat' ? { ...one, body: this.list(one.body, under) } : one;
    });
  }

  private use(value: Value): void {
    this.uses[value] = (this.uses[value] ?? 0) + 1;
  }

  private look(list: readonly Instruction[]): void {
    for (const instruction of list) {
      if ('to' in instruction && instruction.to !== undefined) this.makers[instruction.to] = instruction;
      for (const value of operands(instruction)) this.use(value);
      if (instruction.do === 'if') {
        this.look(instruction.then);
        this.look(instruction.else);
      } else if (instruction.do === 'repeat') this.look(instruction.body);
    }
  }

  private effects(instruction: Instruction): Effects {
    if (instruction.do !== 'if' && instruction.do !== 'repeat')
      return stepEffects(instruction, this.program, this.known);
    let effects = this.listed.get(instruction);
    if (effects === undefined) {
      effects = listEffects([instruction], this.program, this.known);
      this.listed.set(instruction, effects);
    }
    return effects;
  }

  // —— stored only sometimes ——

  /** A store of what is there already, unless something holds, becomes a store where that holds. */
  private storedSometimes(list: readonly Instruction[]): readonly Instruction[] {
    const places = new Map<Value, number>();
    const stored = new Map<number, number>();
    const asked = new Set<Value>();
    let changed = false;
    const rewritten = list.map((instruction, i) => {
      if (instruction.do === 'load') places.set(instruction.to, i);
      const instead = instruction.do === 'store' ? this.sometimes(instruction, places, stored, asked) : undefined;
      const now = instead ?? instruction;
      if (now.do === 'if') asked.add(now.condition);
      if (instead !== undefined) changed = true;
      for (const slot of this.storedBy(instruction)) stored.set(slot, i);
      return now;
    });
    return changed ? rewritten : list;
  }

  private sometimes(
    store: Extract<Instruction, { do: 'store' }>,
    places: ReadonlyMap<Value, number>,
    stored: ReadonlyMap<number, number>,
    asked: ReadonlySet<Value>,
  ): Instruction | undefined {
    const { slot, index, value } = store;
    const maker = this.makers[value];
    if (index !== undefined || this.program.slots[slot]?.kind === 'output') return undefined;
    const put = (what: Value): Instruction[] => [{ do: 'store', slot, value: what }];
    const putFlag = (flag: number): Instruction[] => {
      const to = this.values.push('bool') - 1;
      return [{ do: 'const', to, value: flag }, ...put(to)];
    };
    if (asked.has(value)) return branch(value, putFlag(1), putFlag(0));
    if (maker?.do !== 'compute' || this.uses[value] !== 1) return undefined;
    const isThere = (old: Value): boolean => {
      const load = this.makers[old];
      const place = places.get(old);
      return (
        load?.do === 'load' &&
        load.slot === slot &&
        load.index === undefined &&
        place !== undefined &&
        place > (stored.get(slot) ?? -1)
      );
    };
    const [a = -1, b = -1, c = -1] = maker.args;
    if (maker.op.startsWith('select_')) {
      if (isThere(c)) return branch(a, put(b), []);
      if (isThere(b)) return branch(a, [], put(c));
      return this.isMadeFor(b) || this.isMadeFor(c) ? branch(a, put(b), put(c)) : undefined;
    }
    if (maker.op !== 'or_bool' && maker.op !== 'and_bool') return undefined;
    const decides = isThere(a) ? b : isThere(b) ? a : undefined;
    if (decides === undefined) return undefined;
    return maker.op === 'or_bool' ? branch(decides, putFlag(1), []) : branch(decides, [], putFlag(0));
  }

  /** Whether an operation makes it for one reader only. */
  private isMadeFor(value: Value): boolean {
    return this.uses[value] === 1 && this.makers[value]?.do === 'compute';
  }

  // —— made for one side ——

  /** Moves what only one side of a branch reads to the top of that side, with the heading it stands under. */
  private sink(list: readonly Instruction[], outer: Note | undefined): readonly Instruction[] {
    const stores = new Map<number, number[]>();
    for (const [i, instruction] of list.entries())
      for (const slot of this.storedBy(instruction)) {
        const places = stores.get(slot);
        if (places === undefined) stores.set(slot, [i]);
        else places.push(i);
      }
    const { readers } = this;
    const seen: Value[] = [];
    const read = (value: Value, where: number): void => {
      const other = readers[value];
      if (other === NOWHERE) seen.push(value);
      readers[value] = other === NOWHERE || other === where ? where : HERE;
    };
    if (this.func.result !== undefined) read(this.func.result, HERE);
    const sides = new Map<number, number[]>();
    const gone = new Set<number>();
    for (let i = list.length - 1; i >= 0; i--) {
      const instruction = list[i];
      if (instruction === undefined) continue;
      const made = instruction.do === 'const' ? undefined : madePurely(instruction, this.known);
      const side = made === undefined ? HERE : (readers[made] ?? HERE);
      const target = side >> 1;
      const blocked = (slot: number): boolean => (stores.get(slot) ?? []).some((place) => place > i && place < target);
      const moves = side >= 0 && !this.loadedBy(instruction).some(blocked);
      if (moves) {
        gone.add(i);
        const there = sides.get(side);
        if (there === undefined) sides.set(side, [i]);
        else there.push(i);
      }
      for (const value of operands(instruction)) read(value, moves ? side : HERE);
      if (instruction.do === 'if') {
        for (const value of readWithin(instruction.then)) read(value, 2 * i);
        for (const value of readWithin(instruction.else)) read(value, 2 * i + 1);
      } else if (instruction.do === 'repeat') for (const value of readWithin(instruction.body)) read(value, HERE);
    }
    for (const value of seen) readers[value] = NOWHERE;
    if (gone.size === 0) return list;
    const headings = headingsOf(list, outer);
    const arrived = (side: number, own: readonly Instruction[]): Instruction[] => {
      const moved: Instruction[] = [];
      const outside = headings[side >> 1];
      let heading = outside;
      for (const i of (sides.get(side) ?? []).reverse()) {
        const [instruction, note] = [list[i], headings[i]];
        if (note !== undefined && !saysSame(note, heading)) moved.push(note);
        heading = note;
        if (instruction !== undefined) moved.push(instruction);
      }
      if (outside !== undefined && !saysSame(outside, heading) && own[0]?.do !== 'note') moved.push(outside);
      return [...moved, ...own];
    };
    return list.flatMap((instruction, i) => {
      if (gone.has(i)) return [];
      if (instruction.do !== 'if') return [instruction];
      return [branch(instruction.condition, arrived(2 * i, instruction.then), arrived(2 * i + 1, instruction.else))];
    });
  }

  // —— the same question ——

  /** A branch that asks for two things becomes one inside another where a neighbour asks for one of them. */
  private parted(list: readonly Instruction[]): readonly Instruction[] {
    const asked = new Set(list.map((one) => (one.do === 'if' ? one.condition : -1)));
    return list.map((one) => {
      if (one.do !== 'if' || one.else.length > 0) return one;
      const maker = this.makers[one.condition];
      if (maker?.do !== 'compute' || maker.op !== 'and_bool') return one;
      const [a = -1, b = -1] = maker.args;
      const [outer, inner] = asked.has(a) ? [a, b] : [b, a];
      return asked.has(outer) ? branch(outer, [branch(inner, one.then, [])], []) : one;
    });
  }

  /** Makes one of two branches on the same condition where nothing between them minds. */
  private join(list: readonly Instruction[], outer: Note | undefined): readonly Instruction[] {
    let headings: (Note | undefined)[] | undefined;
    const kept: (Instruction | undefined)[] = [...list];
    const last = new Map<Value, number>();
    let changed = false;
    for (const [i, instruction] of list.entries()) {
      if (instruction.do !== 'if') continue;
      const { condition } = instruction;
      const j = last.get(condition);
      last.set(condition, i);
      const before = j === undefined ? undefined : kept[j];
      if (j === undefined || before?.do !== 'if' || i - j > FARTHEST) continue;
      const between = kept.slice(j + 1, i);
      const up = this.isApart(instruction, between) && !this.makesFor(between, instruction);
      if (!up && !this.isApart(before, between)) continue;
      headings ??= headingsOf(list, outer);
      const joined = joinedOf(before, headings[j], instruction, headings[i], headings[up ? j : i]);
      if (up) {
        kept[j] = joined;
        kept[i] = undefined;
        last.set(condition, j);
      } else {
        kept[i] = joined;
        kept[j] = undefined;
      }
      changed = true;
    }
    return changed ? kept.filter((one) => one !== undefined) : list;
  }

  /** A branch with one side comes right after a choice on the same condition, where nothing between them minds. */
  private beside(list: readonly Instruction[], outer: Note | undefined): readonly Instruction[] {
    const choices = new Map<Value, number>();
    const moved: Instruction[] = [];
    const places: number[] = [];
    for (const [i, one] of list.entries()) {
      if (one.do === 'compute' && one.op.startsWith('select_')) choices.set(one.args[0] ?? -1, i);
      const j = one.do === 'if' ? choices.get(one.condition) : undefined;
      if (one.do !== 'if' || j === undefined || i - j > FARTHEST) continue;
      if (one.then.length > 0 && one.else.length > 0) continue;
      const between = list.slice(j + 1, i);
      if (!between.every(isQuiet)) continue;
      if (!this.isApart(one, between) || this.makesFor(between, one)) continue;
      moved.push(one);
      places.push(j);
      choices.delete(one.condition);
    }
    if (moved.length === 0) return list;
    const headings = headingsOf(list, outer);
    const gone = new Set(moved);
    return list.flatMap((one, i) => {
      if (gone.has(one)) return [];
      const at = places.indexOf(i);
      const after = at < 0 ? undefined : moved[at];
      if (after?.do !== 'if') return [one];
      return [
        one,
        joinedOf(after, headings[list.indexOf(after)], branch(after.condition, [], []) as If, undefined, headings[i]),
      ];
    });
  }

  /** Whether a branch may change places with all of those. */
  private isApart(one: If, others: readonly (Instruction | undefined)[]): boolean {
    const { loads, stores } = this.effects(one);
    return others.every(
      (other) =>
        other === undefined ||
        (!this.loadedBy(other).some((slot) => stores.has(slot)) &&
          !this.storedBy(other).some((slot) => loads.has(slot) || stores.has(slot))),
    );
  }

  /** Whether one of those makes what a branch reads inside. */
  private makesFor(others: readonly (Instruction | undefined)[], one: If): boolean {
    const read = readWithin(one.else, readWithin(one.then));
    return others.some((other) => other !== undefined && 'to' in other && other.to !== undefined && read.has(other.to));
  }

  private storedBy(instruction: Instruction): readonly number[] {
    if (instruction.do === 'store') return [instruction.slot];
    return isQuiet(instruction) ? [] : [...this.effects(instruction).stores];
  }

  private loadedBy(instruction: Instruction): readonly number[] {
    if (instruction.do === 'load') return [instruction.slot];
    return isQuiet(instruction) ? [] : [...this.effects(instruction).loads];
  }
}

/** Both in one, each under its own heading where that is not the one before. */
function joinedOf(
  a: If,
  headingA: Note | undefined,
  b: If,
  headingB: Note | undefined,
  outside: Note | undefined,
): Instruction {
  const under = (list: readonly Instruction[], heading: Note | undefined, before: Note | undefined) =>
    list.length === 0 || list[0]?.do === 'note' || heading === undefined || saysSame(heading, before)
      ? list
      : [heading, ...list];
  const both = (first: readonly Instruction[], second: readonly Instruction[]): Instruction[] => [
    ...under(first, headingA, outside),
    ...under(second, headingB, first.length === 0 ? outside : headingA),
  ];
  return branch(a.condition, both(a.then, b.then), both(a.else, b.else));
}

const quiet: ReadonlySet<Instruction['do']> = new Set(['const', 'compute', 'note', 'load', 'store']);

/** Whether it is plain that an instruction stores nothing, and loads nothing unless it is a load. */
function isQuiet(instruction: Instruction): boolean {
  return quiet.has(instruction.do);
}

function saysSame(a: Note | undefined, b: Note | undefined): boolean {
  return a?.block === b?.block && a?.text === b?.text;
}

/** The note that each instruction of a list stands under. */
function headingsOf(list: readonly Instruction[], outer?: Note): (Note | undefined)[] {
  let heading = outer;
  return list.map((instruction) => {
    if (instruction.do === 'note') heading = instruction;
    return heading;
  });
}

/** Every value read in a list or in the lists inside it. */
function readWithin(list: readonly Instruction[], read = new Set<Value>()): Set<Value> {
  for (const instruction of list) {
    for (const value of operands(instruction)) read.add(value);
    if (instruction.do === 'if') {
      readWithin(instruction.then, read);
      readWithin(instruction.else, read);
    } else if (instruction.do === 'repeat') readWithin(instruction.body, read);
  }
  return read;
}
