/** Units of equations: every expression's unit as powers of dimensions and unit letters, and what must agree. */

import type { BlockText, Expression, Spot, UnitExpression } from './syntax.ts';
import { type Dimension, unitOf } from './units.ts';
import { namesIn, standsOn } from './walk.ts';

/** A unit still to be solved: a known dimension times letters with rational powers. */
export interface UnitForm {
  readonly dimension: Dimension;
  readonly letters: ReadonlyMap<string, number>;
}

/** A form, or undefined for a bare number, which takes what makes the equations agree. */
export type Inferred = UnitForm | undefined;

const ZERO: Dimension = [0, 0, 0, 0, 0, 0, 0, 0];
const NO_LETTERS: ReadonlyMap<string, number> = new Map();
export const ONE: UnitForm = { dimension: ZERO, letters: NO_LETTERS };
const SECOND: UnitForm = { dimension: [0, 0, 1, 0, 0, 0, 0, 0], letters: NO_LETTERS };

export function letterForm(letter: string): UnitForm {
  return { dimension: ZERO, letters: new Map([[letter, 1]]) };
}

/** a · b^power. */
export function timesPower(a: UnitForm, b: UnitForm, power: number): UnitForm {
  const dimension = a.dimension.map((x, i) => x + power * (b.dimension[i] ?? 0));
  if (b.letters.size === 0) return { dimension, letters: a.letters };
  const letters = new Map(a.letters);
  for (const [letter, count] of b.letters) {
    const sum = (letters.get(letter) ?? 0) + power * count;
    if (Math.abs(sum) < 1e-9) letters.delete(letter);
    else letters.set(letter, sum);
  }
  return { dimension, letters };
}

export function isOne(form: UnitForm): boolean {
  return form.letters.size === 0 && form.dimension.every((x) => Math.abs(x) < 1e-9);
}

/** The form of a declared unit; undefined when it says none. Unknown symbols count as 1 (the checker reports them). */
export function declaredForm(unit: UnitExpression | undefined): Inferred {
  if (unit === undefined) return undefined;
  const known = unitOf(unit);
  if ('unknown' in known) return undefined;
  return { dimension: known.dimension, letters: new Map(Object.entries(known.letters)) };
}

/** Solves what must be one: letters are put in place of others until only known units are left. */
export class UnitSolver {
  private readonly solved = new Map<string, UnitForm>();

  /** The form with every solved letter put in place. */
  reduce(form: UnitForm): UnitForm {
    let current = form;
    for (;;) {
      let next: UnitForm | undefined;
      for (const [letter, power] of current.letters) {
        const value = this.solved.get(letter);
        if (value === undefined) continue;
        const without = new Map(current.letters);
        without.delete(letter);
        next = timesPower({ dimension: current.dimension, letters: without }, value, power);
        break;
      }
      if (next === undefined) return current;
      current = next;
    }
  }

  /** Demands that two forms agree; false when they cannot. */
  equate(a: UnitForm, b: UnitForm): boolean {
    const rest = this.reduce(timesPower(a, b, -1));
    const [first] = rest.letters;
    if (first === undefined) return isOne(rest);
    const [letter, power] = first;
    const others = new Map(rest.letters);
    others.delete(letter);
    this.solved.set(letter, timesPower(ONE, { dimension: rest.dimension, letters: others }, -1 / power));
    return true;
  }

  /** Letters that were solved, with their forms. */
  solutions(): ReadonlyMap<string, UnitForm> {
    return this.solved;
  }
}

/** Two units that had to agree and do not. */
export interface UnitConflict {
  readonly at: Spot;
  readonly left: UnitForm;
  readonly right: UnitForm;
}

/** What a unit environment tells of names. */
export interface UnitNames {
  unit(name: string): Inferred;
  list(name: string): readonly { readonly kind: string; readonly unit: Inferred }[] | undefined;
}

const SAME = new Set(['abs', 'floor', 'ceil', 'trunc', 'round', 'transpose', 'real', 'int', 'wrap', 'sum']);
const EQUAL = new Set(['min', 'max', 'hypot']);
const PURE = new Set(['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'exp', 'log', 'matrix_exp']);

/** Infers units and collects conflicts through a solver. */
export class UnitInference {
  private readonly bound = new Map<string, { unit: Inferred; kind: string }>();
  private readonly names: UnitNames;
  private readonly solver: UnitSolver;
  readonly conflicts: UnitConflict[] = [];

  constructor(names: UnitNames, solver: UnitSolver) {
    this.names = names;
    this.solver = solver;
  }

  /** Demands agreement; a bare number agrees with everything. */
  agree(a: Inferred, b: Inferred, at: Spot): Inferred {
    if (a === undefined || b === undefined) return a ?? b;
    if (!this.solver.equate(a, b))
      this.conflicts.push({ at, left: this.solver.reduce(a), right: this.solver.reduce(b) });
    return a;
  }

  infer(e: Expression): Inferred {
    switch (e.kind) {
      case 'number':
        return declaredForm(e.unit);
      case 'name':
        return this.bound.has(e.name) ? this.bound.get(e.name)?.unit : builtIn(e.name, () => this.names.unit(e.name));
      case 'word':
      case 'is':
        return undefined;
      case 'unary':
        return this.infer(e.arg);
      case 'binary':
        return this.binary(e);
      case 'choose': {
        if (e.condition.kind === 'is') {
          const element = this.bound.get(e.condition.name);
          if (element !== undefined) return this.infer(element.kind === e.condition.word ? e.then : e.else);
        }
        this.infer(e.condition);
        return this.agree(this.infer(e.then), this.infer(e.else), e.at);
      }
      case 'call':
        return this.call(e);
      case 'index':
        for (const index of e.indices) this.infer(index);
        return this.infer(e.base);
      case 'matrix': {
        let unit: Inferred;
        for (const item of e.rows.flat()) unit = this.agree(unit, this.infer(item), item.at);
        return unit;
      }
      case 'each': {
        if ('to' in e.over) return this.within(e.variable, { unit: undefined, kind: '' }, () => this.infer(e.body));
        let unit: Inferred;
        for (const element of this.elements(e.over.in))
          unit = this.agree(
            unit,
            this.within(e.variable, element, () => this.infer(e.body)),
            e.at,
          );
        return unit;
      }
      case 'fold': {
        let unit = this.infer(e.start);
        for (const element of this.elements(e.list))
          unit = this.within(e.accumulator, { unit, kind: '' }, () =>
            this.within(e.variable, element, () => this.infer(e.body)),
          );
        return unit;
      }
    }
  }

  private elements(name: string): readonly { kind: string; unit: Inferred }[] {
    return this.names.list(name) ?? [{ kind: '', unit: this.names.unit(name) }];
  }

  private within(name: string, entry: { unit: Inferred; kind: string }, body: () => Inferred): Inferred {
    const before = this.bound.get(name);
    this.bound.set(name, entry);
    const unit = body();
    if (before === undefined) this.bound.delete(name);
    else this.bound.set(name, before);
    return unit;
  }

  private binary(e: Extract<Expression, { kind: 'binary' }>): Inferred {
    const left = this.infer(e.left);
    const right = this.infer(e.right);
    switch (e.op) {
      case '+':
      case '-':
        return this.agree(left, right, e.at);
      case '*':
        return left === undefined ? right : right === undefined ? left : timesPower(left, right, 1);
      case '/':
        return right === undefined ? left : timesPower(left ?? ONE, right, -1);
      case '\\':
        return left === undefined ? right : timesPower(right ?? ONE, left, -1);
      case '^': {
        if (left === undefined) return undefined;
        const exponent = exponentOf(e.right);
        if (exponent !== undefined) return timesPower(ONE, left, exponent);
        this.agree(left, ONE, e.at);
        return ONE;
      }
      case 'and':
      case 'or':
        return undefined;
      default:
        this.agree(left, right, e.at);
        return undefined;
    }
  }

  private call(e: Extract<Expression, { kind: 'call' }>): Inferred {
    const args =
      e.args.length === 1 && e.args[0]?.kind === 'name' && this.names.list(e.args[0].name) !== undefined
        ? this.elements(e.args[0].name).map((element) => element.unit)
        : e.args.map((arg) => this.infer(arg));
    const [first] = args;
    const { name, at } = e;
    if (name === 'sum' || EQUAL.has(name)) return args.reduce((unit, arg) => this.agree(unit, arg, at), undefined);
    if (SAME.has(name)) return first;
    if (PURE.has(name)) {
      this.agree(first, ONE, at);
      return ONE;
    }
    switch (name) {
      case 'atan2':
        this.agree(first, args[1], at);
        return ONE;
      case 'sqrt':
        return first === undefined ? undefined : timesPower(ONE, first, 0.5);
      case 'pow': {
        const exponent = e.args[1] === undefined ? undefined : exponentOf(e.args[1]);
        if (first !== undefined && exponent !== undefined) return timesPower(ONE, first, exponent);
        this.agree(first, ONE, at);
        return first === undefined ? undefined : ONE;
      }
      case 'product':
        return args.reduce((unit, arg) =>
          unit === undefined ? arg : arg === undefined ? unit : timesPower(unit, arg, 1),
        );
      case 'solve':
        return first === undefined ? args[1] : timesPower(args[1] ?? ONE, first, -1);
      case 'ticks':
      case 'periods':
        this.agree(first, SECOND, at);
        return undefined;
      case 'sign':
        return ONE;
      default:
        return undefined;
    }
  }
}

function builtIn(name: string, otherwise: () => Inferred): Inferred {
  if (name === 'dt' || name === 't') return SECOND;
  if (['pi', 'true', 'false', 'unlimited', 'tick', 'first', 'mode'].includes(name)) return undefined;
  return otherwise();
}

function exponentOf(e: Expression): number | undefined {
  if (e.kind === 'number' && e.unit === undefined) return e.value;
  if (e.kind === 'unary' && e.op === '-') {
    const inner = exponentOf(e.arg);
    return inner === undefined ? undefined : -inner;
  }
  if (e.kind === 'binary' && e.op === '/') {
    const [a, b] = [exponentOf(e.left), exponentOf(e.right)];
    return a === undefined || b === undefined ? undefined : a / b;
  }
  return undefined;
}

/** A block's units once its own equations are solved: what each letter must be, and what cannot agree. */
export interface BlockUnits {
  readonly solutions: ReadonlyMap<string, UnitForm>;
  readonly conflicts: readonly UnitConflict[];
  /** Unit of every name, in the block's letters. */
  readonly unit: (name: string) => Inferred;
}

const checked = new WeakMap<BlockText, Map<string, BlockUnits>>();

/** Checks a block's equations for one choice of open-ended inputs; the same question is answered once. */
export function checkUnits(
  block: BlockText,
  inputs: readonly { readonly name: string; readonly kind: string }[],
): BlockUnits {
  const key = inputs.map((input) => `${input.name} ${input.kind}`).join(',');
  let known = checked.get(block);
  if (known === undefined) {
    known = new Map();
    checked.set(block, known);
  }
  const found = known.get(key);
  if (found !== undefined) return found;
  const result = solveBlock(block, inputs);
  known.set(key, result);
  return result;
}

function solveBlock(block: BlockText, inputs: readonly { readonly name: string; readonly kind: string }[]): BlockUnits {
  const declared = new Map<string, Inferred>();
  for (const item of [...block.inputs, ...block.outputs, ...block.settings, ...block.memories])
    declared.set(item.name, declaredForm(item.type.unit));
  const lists = new Map<string, { kind: string; unit: Inferred }[]>();
  for (const open of block.openInputs) lists.set(open.name, []);
  for (const input of inputs) {
    const open = block.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(input.kind));
    if (open === undefined) continue;
    const unit = open.type.each ? letterForm(`~${input.name}`) : declaredForm(open.type.unit);
    declared.set(input.name, unit);
    lists.get(open.name)?.push({ kind: input.kind, unit });
  }
  const values = new Map(
    block.equations.filter((e) => e.kind === 'plain' || e.kind === 'let').map((e) => [e.name, e.value]),
  );
  const solver = new UnitSolver();
  const busy = new Set<string>();
  const locals = new Map<string, Inferred>();
  const unit = (name: string): Inferred => {
    if (declared.has(name)) return declared.get(name);
    if (locals.has(name)) return locals.get(name);
    const value = values.get(name);
    if (value === undefined && block.openOutputs.some((open) => open.type.each)) return letterForm(`~${name}`);
    if (value === undefined || busy.has(name)) return undefined;
    for (const other of standsOn(name, reads)) {
      const behind = values.get(other);
      if (behind === undefined || locals.has(other) || busy.has(other)) continue;
      busy.add(other);
      locals.set(other, inference.infer(behind));
      busy.delete(other);
    }
    return locals.get(name);
  };
  const isOpen = (name: string): boolean => values.has(name) && !declared.has(name) && !locals.has(name);
  const reads = (name: string): string[] => namesIn(values.get(name)).filter(isOpen);
  const inference = new UnitInference({ unit, list: (name) => lists.get(name) }, solver);
  for (const equation of block.equations) {
    if (equation.kind === 'law') continue;
    const value = locals.has(equation.name) ? locals.get(equation.name) : inference.infer(equation.value);
    const own = unit(equation.name);
    if (equation.kind === 'rate')
      inference.agree(own === undefined ? undefined : timesPower(own, SECOND, -1), value, equation.at);
    else if (declared.has(equation.name)) inference.agree(own, value, equation.at);
  }
  for (const memory of block.memories) inference.agree(unit(memory.name), inference.infer(memory.start), memory.at);
  for (const input of block.inputs)
    if (input.fallback !== undefined) inference.agree(unit(input.name), inference.infer(input.fallback), input.at);
  for (const setting of block.settings)
    for (const bound of [
      setting.value,
      setting.bounds.above,
      setting.bounds.below,
      setting.bounds.from,
      setting.bounds.to,
    ])
      if (bound !== undefined) inference.agree(unit(setting.name), inference.infer(bound), setting.at);
  for (const transition of block.transitions) inference.infer(transition.when);
  for (const saying of block.sayings) {
    inference.infer(saying.condition);
    if (saying.left !== undefined) inference.infer(saying.left);
  }
  return { solutions: solver.solutions(), conflicts: inference.conflicts, unit };
}
