/** One function in C: values read once are part of a larger expression, the others are constants with a name. */

import { type FunctionEffects, isIdle, madePurely } from '../ir/effects.ts';
import { type Nesting, nestValues } from '../ir/nesting.ts';
import { operation } from '../ir/operations.ts';
import type { Func, Instruction, Program, Slot, Type, Value } from '../ir/program.ts';
import { type Range, valueRanges } from '../ir/ranges.ts';
import { type Fields, type Holder, isArray } from './fields.ts';
import { type CLine, comment } from './lines.ts';
import { literal, localType } from './literals.ts';
import { Names } from './names.ts';

type If = Extract<Instruction, { do: 'if' }>;
type Compute = Extract<Instruction, { do: 'compute' }>;

/** How another function is called: its C name and which of the three structs it takes. */
export interface Callee {
  readonly name: string;
  readonly holders: readonly Holder[];
  readonly func: Func;
}

export interface FunctionContext {
  readonly program: Program;
  readonly fields: Fields;
  readonly known: FunctionEffects;
  readonly callees: ReadonlyMap<string, Callee>;
  /** Names a local must not have. */
  readonly reserved: readonly string[];
  /** Other ways to say an operation in C, by its name. */
  readonly forms: ReadonlyMap<string, (...args: string[]) => string>;
}

/** Longest expression that is put into another one. */
const longest = 64;
/** Longest expression that is all there is on the right of a store. */
const longestAlone = 90;

/** Statements of the body, indented by one step, and the parameters' names. */
export function writeBody(func: Func, context: FunctionContext): { parameters: string[]; lines: CLine[] } {
  return new BodyWriter(func, context).write();
}

class BodyWriter {
  private lines: CLine[] = [];
  private readonly names: Names;
  /** What to write where a value is read. */
  private readonly texts = new Map<Value, string>();
  private readonly nesting: Nesting;
  private readonly ranges: ReadonlyMap<Value, Range>;
  private readonly storedIn: ReadonlyMap<Value, number>;
  private readonly func: Func;
  private readonly context: FunctionContext;
  private readonly numbers = new Map<string, number>();
  private readonly makers = new Map<Value, Instruction>();
  private block: string | undefined;
  /** A stanza's comment, not written before its first statement. */
  private heading: Extract<Instruction, { do: 'note' }> | undefined;

  constructor(func: Func, context: FunctionContext) {
    this.func = func;
    this.context = context;
    this.names = new Names(['m', 'in', 'out', 'w', 'work', ...context.reserved]);
    this.nesting = nestValues(func, context.program, context.known);
    this.ranges = valueRanges(func);
    this.storedIn = firstStores(func.body);
  }

  write(): { parameters: string[]; lines: CLine[] } {
    const parameters = this.func.values.slice(0, this.func.parameters).map((type, i) => {
      const name = this.names.take(this.func.names?.[i] ?? (this.func.parameters === 1 ? 'x' : `x${i + 1}`));
      this.texts.set(i, name);
      return `${localType[type]} ${name}`;
    });
    const unused = [...Array(this.func.parameters).keys()].filter((i) => !this.nesting.live.has(i));
    for (const i of unused) this.say(`(void)${this.text(i)};`, 1);
    this.list(this.func.body, 1);
    if (this.func.result !== undefined) this.say(`return ${this.text(this.func.result)};`, 1);
    return { parameters, lines: this.lines };
  }

  private say(text: string, depth: number): void {
    const indent = '    '.repeat(depth);
    if (this.heading !== undefined) {
      const { block, text: words } = this.heading;
      this.heading = undefined;
      if (this.lines.length > 0 && !this.lines.at(-1)?.text.endsWith('{')) this.lines.push({ text: '', block });
      const title = [block, words].filter((part) => part !== '').join(': ');
      for (const row of comment(title, indent)) this.lines.push({ text: row, block });
    }
    this.lines.push({ text: `${indent}${text}`, block: this.block });
  }

  private list(instructions: readonly Instruction[], depth: number): void {
    for (let i = 0; i < instructions.length; i++) {
      const [choice, branch] = [instructions[i], instructions[i + 1]];
      if (choice === undefined) continue;
      if (branch?.do === 'if' && this.isDecidedBy(choice, branch)) {
        this.chooseInside(choice, branch, depth);
        i++;
      } else this.step(choice, depth);
    }
  }

  private step(instruction: Instruction, depth: number): void {
    if (instruction.do === 'note') {
      this.heading = instruction;
      this.block = instruction.block === '' ? undefined : instruction.block;
      return;
    }
    const { known, callees } = this.context;
    const made = madePurely(instruction, known);
    if (isIdle(instruction, known) || (made !== undefined && !this.nesting.live.has(made))) return;
    if (made !== undefined) {
      this.make(instruction, made, depth);
      return;
    }
    switch (instruction.do) {
      case 'store':
        this.say(`${this.element(instruction.slot, instruction.index)} = ${this.stored(instruction)};`, depth);
        break;
      case 'line_push': {
        const line = this.slot(instruction.slot);
        const head = this.place(this.headOf(line));
        this.say(`${this.place(line.id)}[${head}] = ${this.stored(instruction)};`, depth);
        this.say(`${head} = lw_after(${head}, ${line.length});`, depth);
        break;
      }
      case 'call': {
        const call = this.expression(instruction);
        if (instruction.to !== undefined && this.nesting.live.has(instruction.to))
          this.declare(instruction.to, call, this.wantedName(instruction.to, instruction), depth);
        else this.say(callees.get(instruction.func)?.func.result === undefined ? `${call};` : `(void)${call};`, depth);
        break;
      }
      case 'if':
        this.either(instruction, depth);
        break;
      case 'repeat':
        this.repeat(instruction, depth);
        break;
    }
  }

  /** A pure value: put aside for where it is read, or written down now under a name. */
  private make(instruction: Instruction, value: Value, depth: number): void {
    this.makers.set(value, instruction);
    const text = this.expression(instruction);
    const name = this.wantedName(value, instruction);
    const saysMore = instruction.do === 'compute' && name !== undefined && !this.goesStraightToItsField(value);
    const short = text.length <= (this.goesStraightToItsField(value) ? longestAlone : longest);
    if (instruction.do === 'const' || (this.nesting.nested.has(value) && short && !saysMore))
      this.texts.set(value, text);
    else this.declare(value, text, name, depth);
  }

  private declare(value: Value, text: string, wanted: string | undefined, depth: number): void {
    const name = this.names.take(wanted ?? this.numbered());
    this.say(`const ${localType[this.typeOf(value)]} ${name} = ${text};`, depth);
    this.texts.set(value, name);
  }

  /** A name for what has none of its own: the block's, with a number. */
  private numbered(): string {
    const part = this.block?.split('.').at(-1);
    const prefix = part === undefined ? 't' : `${part}_`;
    const number = (this.numbers.get(prefix) ?? 0) + 1;
    this.numbers.set(prefix, number);
    return `${prefix}${number}`;
  }

  /** What a reader would call a value: its own name, the field it goes to, or the one it comes from. */
  private wantedName(value: Value, instruction: Instruction): string | undefined {
    const own = this.func.names?.[value];
    if (own !== undefined) return own;
    const target = this.storedIn.get(value);
    if (target !== undefined && instruction.do !== 'load') {
      const slot = this.slot(target);
      return slot.kind === 'memory' || slot.kind === 'line' ? `${slot.name}_next` : slot.name;
    }
    return instruction.do === 'load' || instruction.do === 'line_load' ? this.slot(instruction.slot).name : undefined;
  }

  /** Its one reader stores it under the same name, so a local would say it twice. */
  private goesStraightToItsField(value: Value): boolean {
    return this.storedIn.has(value);
  }

  /** Whether a branch with one side does more of what already decides a choice that has a name. */
  private isDecidedBy(choice: Instruction, branch: If): choice is Compute {
    if (choice.do !== 'compute' || !choice.op.startsWith('select_') || choice.args[0] !== branch.condition)
      return false;
    const { live, nested } = this.nesting;
    const oneSided = (branch.then.length === 0) !== (branch.else.length === 0);
    return oneSided && live.has(choice.to) && !nested.has(choice.to) && !isIdle(branch, this.context.known);
  }

  /** Writes the choice as what it is without the branch, and as what it becomes inside. */
  private chooseInside(choice: Compute, branch: If, depth: number): void {
    const [condition = -1, yes = -1, no = -1] = choice.args;
    const onYes = branch.then.length > 0;
    this.makers.set(choice.to, choice);
    const name = this.names.take(this.wantedName(choice.to, choice) ?? this.numbered());
    this.say(`${localType[this.typeOf(choice.to)]} ${name} = ${this.text(onYes ? no : yes)};`, depth);
    this.texts.set(choice.to, name);
    this.say(`if (${onYes ? this.text(condition) : this.negated(condition)}) {`, depth);
    this.say(`${name} = ${this.text(onYes ? yes : no)};`, depth + 1);
    this.lines.push(...this.nested(onYes ? branch.then : branch.else, depth + 1));
    this.say('}', depth);
  }

  private either(instruction: Instruction & { do: 'if' }, depth: number): void {
    const condition = this.text(instruction.condition);
    const yes = this.nested(instruction.then, depth + 1);
    const no = this.nested(instruction.else, depth + 1);
    if (yes.length > 0) {
      this.say(`if (${condition}) {`, depth);
      this.lines.push(...yes);
      if (isOneChoice(no, depth + 1)) {
        this.lines.push(...asElse(no, depth));
        return;
      }
      if (no.length > 0) {
        this.say('} else {', depth);
        this.lines.push(...no);
      }
    } else {
      this.say(`if (${this.negated(instruction.condition)}) {`, depth);
      this.lines.push(...no);
    }
    this.say('}', depth);
  }

  private repeat(instruction: Instruction & { do: 'repeat' }, depth: number): void {
    const i = this.names.takeFirst(['i', 'j', 'k', 'l', 'n']);
    this.texts.set(instruction.index, i);
    const body = this.nested(instruction.body, depth + 1);
    this.say(`for (int32_t ${i} = 0; ${i} < ${instruction.count}; ${i}++) {`, depth);
    this.lines.push(...body);
    this.say('}', depth);
    this.names.giveBack(i);
  }

  /** The lines of an inner list; the stanza goes on after it. */
  private nested(list: readonly Instruction[], depth: number): CLine[] {
    const { lines, heading, block } = this;
    this.lines = [];
    this.heading = undefined;
    this.list(list, depth);
    const inner = this.lines;
    this.lines = lines;
    this.heading = heading;
    this.block = block;
    return inner;
  }

  private typeOf(value: Value): Type {
    const type = this.func.values[value];
    if (type === undefined) throw new Error(`${this.func.name}: no value ${value}`);
    return type;
  }

  private slot(id: number): Slot {
    const slot = this.context.program.slots[id];
    if (slot === undefined) throw new Error(`${this.func.name}: no slot ${id}`);
    return slot;
  }

  private headOf(line: Slot): number {
    if (line.head === undefined) throw new Error(`${line.name} is not a delay line`);
    return line.head;
  }

  private text(value: Value): string {
    const text = this.texts.get(value);
    if (text === undefined) throw new Error(`${this.func.name}: value ${value} is read before it is made`);
    return text;
  }

  /** A value as part of a larger expression. */
  private operand(value: Value): string {
    const text = this.text(value);
    return isPrimary(text) ? text : `(${text})`;
  }

  /** What a store or push writes; a bool becomes 0 or 1 in a byte. */
  private stored(instruction: Extract<Instruction, { do: 'store' | 'line_push' }>): string {
    const text = this.text(instruction.value);
    if (this.typeOf(instruction.value) !== 'bool') return text;
    if (text === 'true' || text === 'false') return text === 'true' ? '1U' : '0U';
    const byte = /^(\S+) != 0U$/.exec(text)?.[1];
    return byte ?? `(uint8_t)(${this.operand(instruction.value)} ? 1U : 0U)`;
  }

  /** The field of a slot. */
  private place(id: number): string {
    const place = this.context.fields.places.get(id);
    if (place === undefined) throw new Error(`${this.func.name}: slot ${id} has no field`);
    return `${place.holder}->${place.name}`;
  }

  private element(id: number, index: Value | undefined): string {
    const slot = this.slot(id);
    const { length } = slot;
    if (!isArray(slot)) return this.place(id);
    if (index === undefined || length === 1) return `${this.place(id)}[0]`;
    const range = this.ranges.get(index);
    if (range !== undefined && range.low === range.high)
      return `${this.place(id)}[${Math.min(Math.max(range.low, 0), length - 1)}]`;
    const inside = range !== undefined && range.low >= 0 && range.high < length;
    return `${this.place(id)}[${inside ? this.text(index) : `lw_index(${this.text(index)}, ${length})`}]`;
  }

  private expression(instruction: Instruction): string {
    switch (instruction.do) {
      case 'const':
        return literal(this.typeOf(instruction.to), instruction.value);
      case 'compute':
        return this.compute(instruction);
      case 'load': {
        const text = this.element(instruction.slot, instruction.index);
        return this.typeOf(instruction.to) === 'bool' ? `${text} != 0U` : text;
      }
      case 'line_load': {
        const line = this.slot(instruction.slot);
        const head = this.place(this.headOf(line));
        const isOldest = (this.ranges.get(instruction.ago)?.low ?? 0) >= line.length;
        const place = isOldest ? head : `lw_ago(${head}, ${this.text(instruction.ago)}, ${line.length})`;
        const text = `${this.place(line.id)}[${place}]`;
        return line.type === 'bool' ? `${text} != 0U` : text;
      }
      case 'call': {
        const callee = this.context.callees.get(instruction.func);
        if (callee === undefined) throw new Error(`${this.func.name}: no function ${instruction.func}`);
        return `${callee.name}(${[...callee.holders, ...instruction.args.map((arg) => this.text(arg))].join(', ')})`;
      }
      default:
        throw new Error(`${this.func.name}: ${instruction.do} makes nothing`);
    }
  }

  /** The opposite of a bool. Not equal is the opposite of equal for not-a-number too; the other comparisons have none. */
  private negated(condition: Value): string {
    const text = this.text(condition);
    const byte = /^(\S+) != 0U$/.exec(text)?.[1];
    if (byte !== undefined) return `${byte} == 0U`;
    const maker = this.makers.get(condition);
    const [a = -1, b = -1] = maker?.do === 'compute' ? maker.args : [];
    if (a === b && text.startsWith('!isnan(')) return text.slice(1);
    const equality = maker?.do === 'compute' && maker.op.startsWith('eq_') && !/^\w+$/.test(text);
    return equality ? `${this.operand(a)} != ${this.operand(b)}` : `!${this.operand(condition)}`;
  }

  private compute(instruction: Extract<Instruction, { do: 'compute' }>): string {
    const { args } = instruction;
    if (instruction.op === 'not_bool') return this.negated(args[0] ?? -1);
    if (args[0] === args[1] && /^eq_f\d+$/.test(instruction.op)) return `!isnan(${this.text(args[0] ?? -1)})`;
    const form = this.context.forms.get(instruction.op) ?? operation(instruction.op).c;
    return form(...args.map((_, i) => `{${i}}`)).replace(
      /\{(\d)\}/g,
      (mark, digit: string, at: number, whole: string) => {
        const alone = /(\w\(|, )$/.test(whole.slice(0, at)) && /^[,)]/.test(whole.slice(at + mark.length));
        const arg = args[Number(digit)] ?? -1;
        return alone ? this.text(arg) : this.operand(arg);
      },
    );
  }
}

/** Where each value is stored first in the list that makes it; only whole slots, not elements. */
function firstStores(list: readonly Instruction[]): ReadonlyMap<Value, number> {
  const found = new Map<Value, number>();
  const visit = (instructions: readonly Instruction[]): void => {
    const made = new Set<Value>();
    for (const instruction of instructions) {
      if ('to' in instruction && instruction.to !== undefined) made.add(instruction.to);
      const stores = instruction.do === 'line_push' || (instruction.do === 'store' && instruction.index === undefined);
      if (stores && made.has(instruction.value) && !found.has(instruction.value))
        found.set(instruction.value, instruction.slot);
      else if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
    }
  };
  visit(list);
  return found;
}

/** Whether lines at this depth are one `if`, with or without an `else`. */
function isOneChoice(lines: readonly CLine[], depth: number): boolean {
  const indent = '    '.repeat(depth);
  const own = lines.map(({ text }) => text).filter((text) => text !== '' && !text.startsWith(`${indent} `));
  const [first = '', ...others] = own;
  const ends = others.indexOf(`${indent}}`);
  return (
    first.startsWith(`${indent}if (`) &&
    ends === others.length - 1 &&
    others.every((text) => text.startsWith(`${indent}}`))
  );
}

/** One choice as what its neighbour says otherwise; such a chain says its end even where nothing is left to do. */
function asElse(lines: readonly CLine[], depth: number): CLine[] {
  const indent = '    '.repeat(depth);
  const chain = lines.map(({ text, block }, i) => ({
    text: i === 0 ? `${indent}} else ${text.trim()}` : text.slice(4),
    block,
  }));
  const ends = chain.some(({ text }) => text === `${indent}} else {`);
  const { block } = chain.at(-1) ?? {};
  if (ends) return chain;
  const end = [`${indent}} else {`, `${indent}    /* all stays */`, `${indent}}`].map((text) => ({ text, block }));
  return [...chain.slice(0, -1), ...end];
}

/** Whether an expression can stand next to any operator as it is. */
export function isPrimary(text: string): boolean {
  if (/^[-!~]/.test(text)) return false;
  let depth = 0;
  for (let at = 0; at < text.length; at++) {
    const sign = text[at];
    if (sign === '(' || sign === '[') depth++;
    if (sign === ')' || sign === ']') depth--;
    if (depth === 0 && sign === ' ') return false;
    if (depth === 0 && text.startsWith('(') && at < text.length - 1) return false;
  }
  return true;
}
