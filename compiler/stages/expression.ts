/** From an expression of the block language to scalars: host numbers where they can be, program values elsewhere. */

import { host } from '../ir/host.ts';
import type { Value } from '../ir/program.ts';
import type { HostNode } from '../language/host_value.ts';
import { wholePeriods } from '../language/quantity.ts';
import type { BinaryOperator, Expression, Spot } from '../language/syntax.ts';
import { matrixExponential, solveLinear } from './host_matrix.ts';
import { type Item, type Kind, type Quantity, type Scope, scalar, shapeText } from './quantity.ts';

type RunKind = 'real' | 'int' | 'bool';

const ELEMENTARY = new Set(['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'atan2', 'exp', 'log', 'pow', 'hypot']);
const REDUCTIONS = new Set(['sum', 'product', 'all', 'any', 'count']);
/** Largest system that is solved inside a program. */
const SOLVE_LIMIT = 6;
/** Largest number of scalars in one quantity. */
const SIZE_LIMIT = 4096;

/** Thrown inside one expression after a finding was reported; caught at its root. */
class Abandoned extends Error {}

/** Lowers one expression; undefined after findings were reported. */
export function lowerExpression(expression: Expression, scope: Scope): Quantity | undefined {
  try {
    return new Lowering(scope).lower(expression);
  } catch (error) {
    if (error instanceof Abandoned) return undefined;
    throw error;
  }
}

/** Brings a quantity to what a declaration asks for; undefined after a finding was reported. */
export function convert(
  quantity: Quantity,
  kind: RunKind,
  rows: number,
  columns: number,
  scope: Scope,
  at: Spot,
): Quantity | undefined {
  try {
    const lowering = new Lowering(scope);
    if (quantity.rows !== rows || quantity.columns !== columns) {
      lowering.fail('wrong_size', at, {
        wanted: shapeText(rows, columns),
        got: shapeText(quantity.rows, quantity.columns),
      });
    }
    return lowering.as(quantity, kind, at);
  } catch (error) {
    if (error instanceof Abandoned) return undefined;
    throw error;
  }
}

/** Makes the program values of a quantity that already has a run-time kind. */
export function valuesOf(quantity: Quantity, scope: Scope): Value[] {
  const kind = quantity.kind === 'literal' ? 'real' : quantity.kind;
  if (kind === 'word') throw new Error('a word has no value in a program');
  return quantity.items.map((item) => materialise(item, kind, scope));
}

function materialise(item: Item, kind: RunKind, scope: Scope): Value {
  if (item.host === undefined) return item.value;
  const runTime = scope.runTime;
  if (runTime === undefined) throw new Error('a program value is asked for on the host');
  return item.host.adjustable ? runTime.setting(kind, item.host) : runTime.constant(kind, item.host.value);
}

class Lowering {
  private readonly scope: Scope;
  private readonly bound = new Map<string, Quantity>();
  private readonly elements = new Map<string, string>();

  constructor(scope: Scope) {
    this.scope = scope;
  }

  fail(id: string, at: Spot, facts: Record<string, string> = {}): never {
    this.scope.report(id, facts, at);
    throw new Abandoned();
  }

  lower(e: Expression): Quantity {
    switch (e.kind) {
      case 'number':
        return scalar(e.unit === undefined ? 'literal' : 'real', this.constant(e.value));
      case 'name':
        return this.name(e.name, e.at);
      case 'word':
        return { kind: 'word', rows: 1, columns: 1, items: [], word: e.word };
      case 'unary':
        return e.op === '-' ? this.negate(this.lower(e.arg), e.at) : this.not(this.lower(e.arg), e.at);
      case 'binary':
        return this.binary(e.op, this.lower(e.left), this.lower(e.right), e.at);
      case 'choose':
        return this.choose(e);
      case 'call':
        return this.call(e);
      case 'index':
        return this.index(e);
      case 'matrix':
        return this.matrix(e);
      case 'each':
        return this.each(e);
      case 'fold': {
        let accumulated = this.lower(e.start);
        for (const element of this.listOf(e.list, e.at))
          accumulated = this.with([[e.accumulator, accumulated]], () =>
            this.withElement(e.variable, element, () => this.lower(e.body)),
          );
        return accumulated;
      }
      case 'is': {
        const kind = this.elements.get(e.name);
        if (kind === undefined) this.fail('not_an_element', e.at, { name: e.name });
        return scalar('bool', this.constant(kind === e.word ? 1 : 0));
      }
    }
  }

  private name(name: string, at: Spot): Quantity {
    const bound = this.bound.get(name);
    if (bound !== undefined) return bound;
    if (name === 'pi') return scalar('real', this.constant(Math.PI));
    if (name === 'true' || name === 'false') return scalar('bool', this.constant(name === 'true' ? 1 : 0));
    if (name === 'unlimited') return scalar('real', this.constant(Number.POSITIVE_INFINITY));
    const found = this.scope.name(name, at);
    if (found === undefined) throw new Abandoned();
    return found;
  }

  private constant(value: number): Item {
    return { host: this.scope.graph.constant(value) };
  }

  private with(bindings: readonly (readonly [string, Quantity])[], body: () => Quantity): Quantity {
    const before = bindings.map(([name]) => [name, this.bound.get(name)] as const);
    for (const [name, quantity] of bindings) this.bound.set(name, quantity);
    const result = body();
    for (const [name, quantity] of before)
      if (quantity === undefined) this.bound.delete(name);
      else this.bound.set(name, quantity);
    return result;
  }

  private withElement(
    variable: string,
    element: { readonly kind: string; readonly quantity: Quantity },
    body: () => Quantity,
  ): Quantity {
    const before = this.elements.get(variable);
    this.elements.set(variable, element.kind);
    const result = this.with([[variable, element.quantity]], body);
    if (before === undefined) this.elements.delete(variable);
    else this.elements.set(variable, before);
    return result;
  }

  /** The elements of open-ended inputs, or of a vector. */
  private listOf(name: string, at: Spot): readonly { kind: string; quantity: Quantity }[] {
    const list = this.scope.list(name);
    if (list !== undefined) return list;
    const vector = this.name(name, at);
    return vector.items.map((item) => ({ kind: '', quantity: scalar(vector.kind, item) }));
  }

  // —— kinds ——

  /** The same quantity as another kind, where that loses nothing. */
  as(quantity: Quantity, kind: RunKind, at: Spot): Quantity {
    const from = quantity.kind;
    if (from === kind) return quantity;
    if (from === 'literal' && kind === 'real') return { ...quantity, kind };
    if (from === 'literal' && kind === 'int') {
      for (const item of quantity.items)
        if (!Number.isInteger(item.host?.value)) this.fail('not_whole', at, { value: String(item.host?.value) });
      return { ...quantity, kind };
    }
    if (from === 'int' && kind === 'real') {
      const items = quantity.items.map((item) =>
        item.host !== undefined ? item : { value: this.op(`${this.real}_from_i32`, item.value) },
      );
      return { ...quantity, kind, items };
    }
    return this.fail('wrong_type', at, { wanted: kindWords[kind], got: kindWords[from] });
  }

  /** Two quantities brought to one kind: reals beside ints make reals, literals follow the other. */
  private same(a: Quantity, b: Quantity, at: Spot): [Quantity, Quantity, RunKind | 'literal'] {
    if (a.kind === b.kind && a.kind !== 'word') return [a, b, a.kind];
    const kinds = new Set([a.kind, b.kind]);
    if (kinds.has('word') || kinds.has('bool'))
      this.fail('wrong_type', at, { wanted: kindWords[a.kind], got: kindWords[b.kind] });
    const kind: RunKind =
      kinds.has('real') || (kinds.has('literal') && [a, b].some((q) => q.kind === 'literal' && !isWhole(q)))
        ? 'real'
        : 'int';
    return [this.as(a, kind, at), this.as(b, kind, at), kind];
  }

  private get real(): 'f32' | 'f64' {
    return this.scope.runTime?.real ?? 'f64';
  }

  private op(name: string, ...args: Value[]): Value {
    if (this.scope.runTime === undefined) throw new Error(`${name} has no program to stand in`);
    return this.scope.runTime.op(name, ...args);
  }

  private value(item: Item, kind: RunKind | 'literal'): Value {
    return materialise(item, kind === 'literal' ? 'real' : kind, this.scope);
  }

  /** One scalar operation: on the host when every side is known there, in the program otherwise. */
  private apply(
    name: string,
    kind: RunKind | 'literal',
    items: readonly Item[],
    compute: (...values: number[]) => number,
    run: (...values: Value[]) => Value,
    at: Spot,
  ): Item {
    const nodes: HostNode[] = [];
    for (const item of items) if (item.host !== undefined) nodes.push(item.host);
    if (nodes.length === items.length) {
      const node = this.scope.graph.apply(`${name}:${kind}`, nodes, compute);
      if (!Number.isFinite(node.value) && nodes.every((arg) => Number.isFinite(arg.value)))
        this.fail('not_finite', at, { operation: name });
      return { host: node };
    }
    return { value: run(...items.map((item) => this.value(item, kind))) };
  }

  private type(kind: RunKind | 'literal'): string {
    return kind === 'int' ? 'i32' : kind === 'bool' ? 'bool' : this.real;
  }

  private map(quantity: Quantity, kind: Kind, each: (item: Item) => Item): Quantity {
    return { kind, rows: quantity.rows, columns: quantity.columns, items: quantity.items.map(each) };
  }

  /** Element by element; a scalar goes with every element of the other. */
  private zip(a: Quantity, b: Quantity, kind: Kind, at: Spot, each: (x: Item, y: Item) => Item): Quantity {
    const aScalar = a.items.length === 1;
    const bScalar = b.items.length === 1;
    if (!aScalar && !bScalar && (a.rows !== b.rows || a.columns !== b.columns))
      this.fail('wrong_size', at, { wanted: shapeText(a.rows, a.columns), got: shapeText(b.rows, b.columns) });
    const shape = aScalar ? b : a;
    const items = shape.items.map((_, i) => each(itemAt(a, aScalar ? 0 : i), itemAt(b, bScalar ? 0 : i)));
    return { kind, rows: shape.rows, columns: shape.columns, items };
  }

  // —— operators ——

  private negate(a: Quantity, at: Spot): Quantity {
    if (a.kind === 'bool' || a.kind === 'word')
      this.fail('wrong_type', at, { wanted: kindWords.real, got: kindWords[a.kind] });
    const kind = a.kind;
    if (kind === 'int') return this.map(a, kind, (x) => this.subtract(this.constant(0), x, 'int', at));
    return this.map(a, kind, (x) =>
      this.apply(
        'neg',
        kind,
        [x],
        (v = 0) => -v,
        (v) => this.op(`neg_${this.real}`, v as Value),
        at,
      ),
    );
  }

  private not(a: Quantity, at: Spot): Quantity {
    const b = this.as(a, 'bool', at);
    return this.map(b, 'bool', (x) => this.notItem(x, at));
  }

  private notItem(x: Item, at: Spot): Item {
    return this.apply(
      'not',
      'bool',
      [x],
      (v) => (v === 0 ? 1 : 0),
      (v) => this.op('not_bool', v as Value),
      at,
    );
  }

  private arithmetic(name: 'add' | 'sub' | 'mul' | 'div', x: Item, y: Item, kind: RunKind | 'literal', at: Spot): Item {
    const compute = kind === 'int' ? INTEGER[name] : REAL[name];
    return this.apply(
      name,
      kind,
      [x, y],
      compute,
      (a, b) => this.op(`${name}_${this.type(kind)}`, a as Value, b as Value),
      at,
    );
  }

  private subtract(x: Item, y: Item, kind: RunKind | 'literal', at: Spot): Item {
    return this.arithmetic('sub', x, y, kind, at);
  }

  private binary(op: BinaryOperator, left: Quantity, right: Quantity, at: Spot): Quantity {
    if (op === 'and' || op === 'or') {
      const [a, b] = [this.as(left, 'bool', at), this.as(right, 'bool', at)];
      return this.zip(a, b, 'bool', at, (x, y) => this.logic(op, x, y, at));
    }
    if (op === '==' || op === '!=' || op === '<' || op === '<=' || op === '>' || op === '>=')
      return this.compare(op, left, right, at);
    if (op === '\\') return this.solve(left, right, at);
    if (op === '^') return this.power(left, right, at);
    const [a, b, kind] = this.same(left, right, at);
    if (kind === 'bool') this.fail('wrong_type', at, { wanted: kindWords.real, got: kindWords.bool });
    if (op === '*' && a.items.length > 1 && b.items.length > 1) return this.product(a, b, kind, at);
    if (op === '/' && b.items.length > 1)
      this.fail('wrong_size', at, { wanted: 'a scalar', got: shapeText(b.rows, b.columns) });
    const name = ({ '+': 'add', '-': 'sub', '*': 'mul', '/': 'div' } as const)[op];
    return this.zip(a, b, kind, at, (x, y) => this.arithmetic(name, x, y, kind, at));
  }

  private logic(op: 'and' | 'or', x: Item, y: Item, at: Spot): Item {
    return this.apply(
      op,
      'bool',
      [x, y],
      (a = 0, b = 0) => (op === 'and' ? a & b : a | b),
      (a, b) => this.op(`${op}_bool`, a as Value, b as Value),
      at,
    );
  }

  private compare(op: '==' | '!=' | '<' | '<=' | '>' | '>=', left: Quantity, right: Quantity, at: Spot): Quantity {
    if (left.kind === 'word' && right.kind === 'word') {
      if (op !== '==' && op !== '!=') this.fail('wrong_type', at, { wanted: kindWords.real, got: kindWords.word });
      const equal = left.word === right.word;
      return scalar('bool', this.constant(equal === (op === '==') ? 1 : 0));
    }
    const [a, b, kind] = this.same(left, right, at);
    if (kind === 'bool' && op !== '==' && op !== '!=')
      this.fail('wrong_type', at, { wanted: kindWords.real, got: kindWords.bool });
    return this.zip(a, b, 'bool', at, (x, y) => {
      switch (op) {
        case '==':
          return this.relation('eq', kind, x, y, at);
        case '!=':
          return this.notItem(this.relation('eq', kind, x, y, at), at);
        case '<':
          return this.relation('lt', kind, x, y, at);
        case '<=':
          return this.relation('le', kind, x, y, at);
        case '>':
          return this.relation('lt', kind, y, x, at);
        case '>=':
          return this.relation('le', kind, y, x, at);
      }
    });
  }

  private relation(name: 'eq' | 'lt' | 'le', kind: RunKind | 'literal', x: Item, y: Item, at: Spot): Item {
    return this.apply(
      name,
      kind,
      [x, y],
      (a = 0, b = 0) => ((name === 'eq' ? a === b : name === 'lt' ? a < b : a <= b) ? 1 : 0),
      (a, b) => this.op(`${name}_${this.type(kind)}`, a as Value, b as Value),
      at,
    );
  }

  private selectItem(kind: RunKind | 'literal', condition: Item, x: Item, y: Item, at: Spot): Item {
    if (condition.host !== undefined && !condition.host.adjustable) return condition.host.value === 1 ? x : y;
    if (x.host !== undefined && x.host === y.host) return x;
    if (condition.host !== undefined && x.host !== undefined && y.host !== undefined)
      return this.apply('select', kind, [condition, x, y], (c, a = 0, b = 0) => (c === 1 ? a : b), unreachable, at);
    const c = this.value(condition, 'bool');
    return { value: this.op(`select_${this.type(kind)}`, c, this.value(x, kind), this.value(y, kind)) };
  }

  private choose(e: Extract<Expression, { kind: 'choose' }>): Quantity {
    const condition = this.as(this.lower(e.condition), 'bool', e.at);
    if (condition.items.length !== 1)
      this.fail('wrong_size', e.at, { wanted: 'a scalar', got: shapeText(condition.rows, condition.columns) });
    const chosen = itemAt(condition, 0);
    if (chosen.host !== undefined && !chosen.host.adjustable)
      return this.lower(chosen.host.value === 1 ? e.then : e.else);
    const [a, b, kind] = this.same(this.lower(e.then), this.lower(e.else), e.at);
    return this.zip(a, b, kind, e.at, (x, y) => this.selectItem(kind, chosen, x, y, e.at));
  }

  private product(a: Quantity, b: Quantity, kind: RunKind | 'literal', at: Spot): Quantity {
    if (a.columns !== b.rows)
      this.fail('wrong_product', at, { left: shapeText(a.rows, a.columns), right: shapeText(b.rows, b.columns) });
    const items: Item[] = [];
    for (let i = 0; i < a.rows; i++)
      for (let j = 0; j < b.columns; j++) {
        let sum: Item | undefined;
        for (let k = 0; k < a.columns; k++) {
          const term = this.arithmetic('mul', itemAt(a, i * a.columns + k), itemAt(b, k * b.columns + j), kind, at);
          sum = sum === undefined ? term : this.arithmetic('add', sum, term, kind, at);
        }
        items.push(sum ?? this.constant(0));
      }
    return { kind, rows: a.rows, columns: b.columns, items };
  }

  private power(left: Quantity, right: Quantity, at: Spot): Quantity {
    const exponent = right.items[0]?.host;
    if (right.items.length !== 1) this.fail('wrong_size', at, { wanted: 'a scalar', got: 'a matrix' });
    if (
      exponent !== undefined &&
      !exponent.adjustable &&
      Number.isInteger(exponent.value) &&
      Math.abs(exponent.value) <= 16
    ) {
      const kind = left.kind === 'literal' ? 'real' : left.kind;
      if (kind === 'bool' || kind === 'word')
        this.fail('wrong_type', at, { wanted: kindWords.real, got: kindWords[kind] });
      return this.map(left, kind, (x) => {
        let result: Item = this.constant(1);
        for (let i = 0; i < Math.abs(exponent.value); i++)
          result = i === 0 ? x : this.arithmetic('mul', result, x, kind, at);
        return exponent.value < 0 ? this.arithmetic('div', this.constant(1), result, kind, at) : result;
      });
    }
    return this.zip(this.as(left, 'real', at), this.as(right, 'real', at), 'real', at, (x, y) =>
      this.elementary('pow', [x, y], at),
    );
  }

  private elementary(name: string, items: readonly Item[], at: Spot): Item {
    const compute = host[name as keyof typeof host] as (...args: number[]) => number;
    return this.apply(
      name,
      'real',
      items,
      compute,
      (...values) => {
        if (this.scope.runTime === undefined) throw new Error(`${name} has no program to stand in`);
        return this.scope.runTime.elementary(name, ...values);
      },
      at,
    );
  }

  // —— shapes ——

  private integer(e: Expression): number {
    const quantity = this.lower(e);
    const node = quantity.items[0]?.host;
    if (quantity.items.length !== 1 || node === undefined || node.adjustable || !Number.isInteger(node.value))
      this.fail('not_a_size', e.at);
    return node.value;
  }

  private index(e: Extract<Expression, { kind: 'index' }>): Quantity {
    if (
      e.base.kind === 'name' &&
      e.indices.length === 1 &&
      this.scope.runTime !== undefined &&
      !this.bound.has(e.base.name)
    ) {
      const ago = e.indices[0];
      const line = ago && this.delayed(e.base.name, ago);
      if (line !== undefined) return line;
    }
    const base = this.lower(e.base);
    const indices = e.indices.map((index) => ({ quantity: this.lower(index), at: index.at }));
    if (indices.length > 2)
      this.fail('wrong_size', e.at, { wanted: 'one or two indices', got: String(indices.length) });
    const [first, second] = indices;
    if (first === undefined) this.fail('wrong_size', e.at, { wanted: 'an index', got: 'none' });
    const fixed = indices.map(({ quantity }) => quantity.items[0]?.host);
    if (fixed.every((node) => node !== undefined && !node.adjustable)) {
      const row = (fixed[0]?.value ?? 1) - 1;
      const column = (fixed[1]?.value ?? 1) - 1;
      const [i, j] = second === undefined && base.rows === 1 ? [0, row] : [row, column];
      const item = base.items[i * base.columns + j];
      if (item === undefined || i < 0 || j < 0 || j >= base.columns)
        this.fail('index_outside', e.at, {
          index: fixed.map((node) => String(node?.value)).join(', '),
          size: shapeText(base.rows, base.columns),
        });
      return scalar(base.kind, item);
    }
    if (second !== undefined) this.fail('index_moves', e.at);
    return this.movingIndex(base, this.as(first.quantity, 'int', first.at), e.at);
  }

  /** An index that is only known while running: a chain of choices, clamped to the ends. */
  private movingIndex(base: Quantity, index: Quantity, at: Spot): Quantity {
    const kind = base.kind === 'word' ? 'real' : base.kind;
    let result = itemAt(base, 0);
    for (let i = 1; i < base.items.length; i++) {
      const reached = this.relation('le', 'int', this.constant(i + 1), itemAt(index, 0), at);
      result = this.selectItem(kind, reached, itemAt(base, i), result, at);
    }
    return scalar(kind, result);
  }

  private delayed(name: string, ago: Expression): Quantity | undefined {
    const runTime = this.scope.runTime;
    if (runTime === undefined) return undefined;
    const wanted = this.as(this.lower(ago), 'int', ago.at);
    const value = runTime.delayed(name, this.value(itemAt(wanted, 0), 'int'));
    return value === undefined ? undefined : scalar('real', { value });
  }

  private matrix(e: Extract<Expression, { kind: 'matrix' }>): Quantity {
    const rows = e.rows.map((row) => row.map((item) => this.lower(item)));
    const all = rows.flat();
    let kind: Kind = 'literal';
    for (const quantity of all) {
      if (quantity.items.length !== 1)
        this.fail('wrong_size', e.at, { wanted: 'a scalar', got: shapeText(quantity.rows, quantity.columns) });
      if (kind === 'literal' || (kind === 'int' && quantity.kind === 'real')) kind = quantity.kind;
    }
    const columns = rows[0]?.length ?? 0;
    if (rows.some((row) => row.length !== columns)) this.fail('ragged_matrix', e.at);
    if (kind === 'word') this.fail('wrong_type', e.at, { wanted: kindWords.real, got: kindWords.word });
    const target = kind;
    const items = all.map((q) => itemAt(target === 'literal' ? q : this.as(q, target, e.at), 0));
    return { kind, rows: rows.length, columns, items };
  }

  private each(e: Extract<Expression, { kind: 'each' }>): Quantity {
    const results: Quantity[] = [];
    if ('to' in e.over) {
      const count = this.integer(e.over.to);
      if (count < 0 || count > SIZE_LIMIT) this.fail('too_large', e.at, { limit: String(SIZE_LIMIT) });
      for (let i = 1; i <= count; i++)
        results.push(this.with([[e.variable, scalar('int', this.constant(i))]], () => this.lower(e.body)));
    } else
      for (const element of this.listOf(e.over.in, e.at))
        results.push(this.withElement(e.variable, element, () => this.lower(e.body)));
    let kind: Kind = results[0]?.kind ?? 'literal';
    for (const quantity of results) {
      if (quantity.items.length !== 1)
        this.fail('wrong_size', e.at, { wanted: 'a scalar', got: shapeText(quantity.rows, quantity.columns) });
      if (kind === 'literal' || (kind === 'int' && quantity.kind === 'real')) kind = quantity.kind;
    }
    const target = kind;
    const items = results.map((q) =>
      itemAt(target === 'literal' || target === 'word' ? q : this.as(q, target, e.at), 0),
    );
    return { kind, rows: items.length, columns: 1, items };
  }

  // —— calls ——

  private call(e: Extract<Expression, { kind: 'call' }>): Quantity {
    const { name, at } = e;
    if (REDUCTIONS.has(name) || ((name === 'min' || name === 'max') && e.args.length === 1))
      return this.reduction(name, e);
    const args = e.args.map((arg) => this.lower(arg));
    const arg = (i: number): Quantity => {
      const found = args[i];
      if (found === undefined) this.fail('wrong_argument_count', at, { name, got: String(args.length) });
      return found;
    };
    const only = (count: number): void => {
      if (args.length !== count)
        this.fail('wrong_argument_count', at, { name, got: String(args.length), wanted: String(count) });
    };
    const real = (i: number): Quantity => this.as(arg(i), 'real', at);
    const hostOnly = (quantity: Quantity): readonly HostNode[] =>
      quantity.items.map((item) => item.host ?? this.fail('host_only', at, { name }));

    if (ELEMENTARY.has(name)) {
      if (name === 'atan2' || name === 'pow' || name === 'hypot') {
        only(2);
        return this.zip(real(0), real(1), 'real', at, (x, y) => this.elementary(name, [x, y], at));
      }
      only(1);
      return this.map(real(0), 'real', (x) => this.elementary(name, [x], at));
    }
    switch (name) {
      case 'sqrt':
      case 'floor':
      case 'trunc': {
        only(1);
        return this.map(real(0), 'real', (x) => this.simple(name, x, at));
      }
      case 'ceil':
        only(1);
        return this.map(real(0), 'real', (x) => this.negateItem(this.simple('floor', this.negateItem(x, at), at), at));
      case 'round':
        only(1);
        return this.map(real(0), 'real', (x) => this.round(x, at));
      case 'abs': {
        only(1);
        const q = arg(0);
        if (q.kind === 'int')
          return this.map(q, 'int', (x) => {
            const negative = this.relation('lt', 'int', x, this.constant(0), at);
            return this.selectItem('int', negative, this.subtract(this.constant(0), x, 'int', at), x, at);
          });
        return this.map(real(0), 'real', (x) => this.simple('abs', x, at));
      }
      case 'sign':
        only(1);
        return this.map(real(0), 'real', (x) => {
          const zero = this.constant(0);
          const below = this.relation('lt', 'real', x, zero, at);
          const above = this.relation('lt', 'real', zero, x, at);
          const negative = this.selectItem('real', below, this.constant(-1), zero, at);
          return this.selectItem('real', above, this.constant(1), negative, at);
        });
      case 'min':
      case 'max': {
        let result = arg(0);
        for (let i = 1; i < args.length; i++) {
          const [a, b, kind] = this.same(result, arg(i), at);
          result = this.zip(a, b, kind, at, (x, y) => this.extreme(name, kind, x, y, at));
        }
        return result;
      }
      case 'finite':
        only(1);
        return this.map(real(0), 'bool', (x) => {
          if (x.host !== undefined) return this.constant(Number.isFinite(x.host.value) ? 1 : 0);
          return this.relation('eq', 'real', this.subtract(x, x, 'real', at), this.constant(0), at);
        });
      case 'wrap': {
        only(2);
        const bits = arg(1).items[0]?.host?.value ?? 0;
        if (!Number.isInteger(bits) || bits < 1 || bits > 32) this.fail('not_a_size', at);
        const by = this.constant(32 - bits);
        return this.map(this.as(arg(0), 'int', at), 'int', (x) =>
          this.shift('shr', this.shift('shl', x, by, at), by, at),
        );
      }
      case 'solve':
        only(2);
        return this.solve(arg(0), arg(1), at);
      case 'transpose': {
        only(1);
        const q = arg(0);
        const items = Array.from({ length: q.items.length }, (_, k) => {
          const [i, j] = [Math.floor(k / q.rows), k % q.rows];
          return itemAt(q, j * q.columns + i);
        });
        return { ...q, rows: q.columns, columns: q.rows, items };
      }
      case 'identity':
      case 'zeros': {
        const [first, second] = e.args;
        if (first === undefined) this.fail('wrong_argument_count', at, { name, got: '0' });
        const rows = this.integer(first);
        const columns = second === undefined ? (name === 'identity' ? rows : 1) : this.integer(second);
        if (rows < 0 || columns < 0 || rows * columns > SIZE_LIMIT)
          this.fail('too_large', at, { limit: String(SIZE_LIMIT) });
        const items = Array.from({ length: rows * columns }, (_, k) =>
          this.constant(name === 'identity' && Math.floor(k / columns) === k % columns ? 1 : 0),
        );
        return { kind: 'literal', rows, columns, items };
      }
      case 'bare':
        only(1);
        return arg(0);
      case 'size': {
        only(1);
        return scalar('int', this.constant(arg(0).items.length));
      }
      case 'real': {
        only(1);
        const q = arg(0);
        if (q.kind !== 'bool') return real(0);
        return this.map(q, 'real', (x) => this.selectItem('real', x, this.constant(1), this.constant(0), at));
      }
      case 'int': {
        only(1);
        const q = arg(0);
        if (q.kind === 'int') return q;
        if (q.kind === 'bool')
          return this.map(q, 'int', (x) => this.selectItem('int', x, this.constant(1), this.constant(0), at));
        return this.map(real(0), 'int', (x) =>
          x.host !== undefined
            ? { host: this.scope.graph.apply('int', [x.host], saturateToInt) }
            : { value: this.op(`i32_from_${this.real}`, x.value) },
        );
      }
      case 'ticks':
      case 'periods': {
        only(1);
        const period = name === 'ticks' ? this.scope.tick : this.scope.period;
        const nodes = hostOnly(real(0));
        return this.map(arg(0), 'int', (_) => {
          const node = nodes[0];
          if (node === undefined) return this.constant(0);
          return { host: this.scope.graph.apply(`${name}:${period}`, [node], (v = 0) => wholePeriods(v, period)) };
        });
      }
      case 'matrix_exp': {
        only(1);
        const q = real(0);
        if (q.rows !== q.columns)
          this.fail('wrong_size', at, { wanted: 'a square matrix', got: shapeText(q.rows, q.columns) });
        const items = this.scope.graph
          .bundle('matrix_exp', hostOnly(q), (values) => matrixExponential(values, q.rows))
          .map((node) => ({ host: node }));
        return { ...q, items };
      }
      case 'normal': {
        only(1);
        const seed = this.as(arg(0), 'int', at);
        const runTime = this.scope.runTime;
        if (runTime === undefined) this.fail('run_only', at, { name });
        return scalar('real', { value: runTime.normal(this.value(itemAt(seed, 0), 'int')) });
      }
      default:
        return this.fail('unknown_function', at, { name });
    }
  }

  private simple(name: 'sqrt' | 'floor' | 'trunc' | 'abs', x: Item, at: Spot): Item {
    const compute = { sqrt: Math.sqrt, floor: Math.floor, trunc: Math.trunc, abs: Math.abs }[name];
    return this.apply(name, 'real', [x], compute, (v) => this.op(`${name}_${this.real}`, v as Value), at);
  }

  private negateItem(x: Item, at: Spot): Item {
    return this.apply(
      'neg',
      'real',
      [x],
      (v = 0) => -v,
      (v) => this.op(`neg_${this.real}`, v as Value),
      at,
    );
  }

  /** Half away from zero: what is cut off decides, exactly. */
  private round(x: Item, at: Spot): Item {
    const whole = this.simple('trunc', x, at);
    const rest = this.subtract(x, whole, 'real', at);
    const half = this.relation('le', 'real', this.constant(0.5), this.simple('abs', rest, at), at);
    const below = this.relation('lt', 'real', x, this.constant(0), at);
    const step = this.selectItem('real', below, this.constant(-1), this.constant(1), at);
    return this.selectItem('real', half, this.arithmetic('add', whole, step, 'real', at), whole, at);
  }

  private extreme(name: 'min' | 'max', kind: RunKind | 'literal', x: Item, y: Item, at: Spot): Item {
    const second = name === 'min' ? this.relation('lt', kind, y, x, at) : this.relation('lt', kind, x, y, at);
    return this.selectItem(kind, second, y, x, at);
  }

  private shift(name: 'shl' | 'shr', x: Item, by: Item, at: Spot): Item {
    return this.apply(
      name,
      'int',
      [x, by],
      (a = 0, b = 0) => (name === 'shl' ? a << b : a >> b),
      (a, b) => this.op(`${name}_i32`, a as Value, b as Value),
      at,
    );
  }

  private reduction(name: string, e: Extract<Expression, { kind: 'call' }>): Quantity {
    const [only] = e.args;
    if (only === undefined || e.args.length !== 1)
      this.fail('wrong_argument_count', e.at, { name, got: String(e.args.length), wanted: '1' });
    const elements =
      only.kind === 'name' && this.scope.list(only.name) !== undefined
        ? this.listOf(only.name, only.at).map((element) => element.quantity)
        : vectorOf(this.lower(only));
    if (name === 'count') return scalar('int', this.constant(elements.length));
    if (name === 'all' || name === 'any') {
      const start = scalar('bool', this.constant(name === 'all' ? 1 : 0));
      return elements
        .map((element) => this.as(element, 'bool', e.at))
        .reduce((a, b, i) => (i === 0 ? b : this.binary(name === 'all' ? 'and' : 'or', a, b, e.at)), start);
    }
    const first = elements[0];
    if (first === undefined) return scalar('literal', this.constant(name === 'product' ? 1 : 0));
    return elements.slice(1).reduce((a, b) => {
      if (name === 'sum') return this.binary('+', a, b, e.at);
      if (name === 'product') return this.binary('*', a, b, e.at);
      const [x, y, kind] = this.same(a, b, e.at);
      return this.zip(x, y, kind, e.at, (p, q) => this.extreme(name === 'min' ? 'min' : 'max', kind, p, q, e.at));
    }, first);
  }

  /** Gaussian elimination with partial pivoting; in a program, rows change places by choice. */
  private solve(left: Quantity, right: Quantity, at: Spot): Quantity {
    const [m, f] = [this.as(left, 'real', at), this.as(right, 'real', at)];
    const n = m.rows;
    if (m.columns !== n || f.rows !== n)
      this.fail('wrong_size', at, {
        wanted: `${shapeText(n, n)} and ${n} rows`,
        got: `${shapeText(m.rows, m.columns)} and ${shapeText(f.rows, f.columns)}`,
      });
    const nodes = [...m.items, ...f.items].map((item) => item.host);
    if (nodes.every((node) => node !== undefined)) {
      const items = this.scope.graph
        .bundle(`solve${n}`, nodes as HostNode[], (values) =>
          solveLinear(values.slice(0, n * n), values.slice(n * n), n),
        )
        .map((host) => ({ host }));
      if (items.some((item) => !Number.isFinite(item.host.value))) this.fail('not_finite', at, { operation: 'solve' });
      return { ...f, items };
    }
    if (n > SOLVE_LIMIT) this.fail('too_large', at, { limit: String(SOLVE_LIMIT) });
    return this.eliminate(m, f, at);
  }

  private eliminate(m: Quantity, f: Quantity, at: Spot): Quantity {
    const n = m.rows;
    const width = n + f.columns;
    const a: Item[][] = Array.from({ length: n }, (_, i) => [
      ...m.items.slice(i * n, (i + 1) * n),
      ...f.items.slice(i * f.columns, (i + 1) * f.columns),
    ]);
    const get = (i: number, j: number): Item => a[i]?.[j] ?? this.constant(0);
    const put = (i: number, j: number, item: Item): void => {
      const row = a[i];
      if (row !== undefined) row[j] = item;
    };
    for (let k = 0; k < n; k++) {
      for (let i = k + 1; i < n; i++) {
        const larger = this.relation(
          'lt',
          'real',
          this.simple('abs', get(k, k), at),
          this.simple('abs', get(i, k), at),
          at,
        );
        for (let j = k; j < width; j++) {
          const [upper, lower] = [get(k, j), get(i, j)];
          put(k, j, this.selectItem('real', larger, lower, upper, at));
          put(i, j, this.selectItem('real', larger, upper, lower, at));
        }
      }
      for (let i = k + 1; i < n; i++) {
        const factor = this.arithmetic('div', get(i, k), get(k, k), 'real', at);
        for (let j = k + 1; j < width; j++)
          put(i, j, this.subtract(get(i, j), this.arithmetic('mul', factor, get(k, j), 'real', at), 'real', at));
      }
    }
    for (let c = n; c < width; c++)
      for (let i = n - 1; i >= 0; i--) {
        let sum = get(i, c);
        for (let j = i + 1; j < n; j++)
          sum = this.subtract(sum, this.arithmetic('mul', get(i, j), get(j, c), 'real', at), 'real', at);
        put(i, c, this.arithmetic('div', sum, get(i, i), 'real', at));
      }
    const items = a.flatMap((row) => row.slice(n));
    return { ...f, items };
  }
}

const kindWords: Record<Kind, string> = {
  real: 'a number',
  int: 'a whole number',
  bool: 'a yes or no',
  literal: 'a number',
  word: 'a word',
};

const REAL = {
  add: (a = 0, b = 0) => a + b,
  sub: (a = 0, b = 0) => a - b,
  mul: (a = 0, b = 0) => a * b,
  div: (a = 0, b = 0) => a / b,
};

const INTEGER = {
  add: (a = 0, b = 0) => (a + b) | 0,
  sub: (a = 0, b = 0) => (a - b) | 0,
  mul: (a = 0, b = 0) => Math.imul(a, b),
  div: (a = 0, b = 0) => (b === 0 ? 0 : Math.trunc(a / b) | 0),
};

function unreachable(): never {
  throw new Error('a host choice has no program form');
}

function isWhole(quantity: Quantity): boolean {
  return quantity.items.every((item) => Number.isInteger(item.host?.value));
}

function itemAt(quantity: Quantity, i: number): Item {
  const item = quantity.items[i];
  if (item === undefined) throw new Error(`a quantity has no element ${i}`);
  return item;
}

function vectorOf(quantity: Quantity): Quantity[] {
  return quantity.items.map((item) => scalar(quantity.kind, item));
}

function saturateToInt(x = 0): number {
  return Number.isNaN(x) ? 0 : Math.trunc(Math.min(2147483647, Math.max(-2147483648, x)));
}
