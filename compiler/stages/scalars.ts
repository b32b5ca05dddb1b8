/** Scalar by scalar and element by element: operations on the host where they can be, in the program elsewhere. */

import { host } from '../ir/host.ts';
import type { Value } from '../ir/program.ts';
import type { HostNode } from '../language/host_value.ts';
import type { BinaryOperator, Spot } from '../language/syntax.ts';
import type { BlockAllowance } from './allowance.ts';
import { solveLinear } from './host_matrix.ts';
import { type Item, type Kind, type Quantity, type Scope, scalar, shapeText } from './quantity.ts';

/** Kinds a program has types for. */
export type RunKind = 'real' | 'int' | 'bool';

/** Largest number of scalars in one quantity. */
export const SIZE_LIMIT = 4096;
/** Largest system that is solved inside a program. */
const SOLVE_LIMIT = 6;

/** Operations of a matrix on the host that weigh as much as one that stands in the program. */
export const LIGHT_OPERATIONS = 64;

/** Thrown inside one expression after a finding was reported; caught at its root. */
export class Abandoned extends Error {}

export function materialise(item: Item, kind: RunKind, scope: Scope): Value {
  if (item.host === undefined) return item.value;
  const runTime = scope.runTime;
  if (runTime === undefined) throw new Error('a program value is asked for on the host');
  return item.host.adjustable ? runTime.setting(kind, item.host) : runTime.constant(kind, item.host.value);
}

export class Scalars {
  protected readonly scope: Scope;
  private readonly allowance: BlockAllowance;

  constructor(scope: Scope) {
    this.scope = scope;
    this.allowance = scope.allowance;
  }

  fail(id: string, at: Spot, facts: Record<string, string> = {}): never {
    this.scope.report(id, facts, at);
    throw new Abandoned();
  }

  /** Stops where more would be made than a block or a sheet may. */
  protected count(operations: number, at: Spot): void {
    if (this.allowance.take(operations)) return;
    const refusal = this.allowance.tooMany();
    if (refusal !== undefined) this.scope.report(refusal.id, refusal.facts, at);
    throw new Abandoned();
  }

  /** Stops where a quantity would have too many scalars. */
  protected checkSize(size: number, at: Spot): void {
    if (size > SIZE_LIMIT) this.fail('too_large', at, { limit: String(SIZE_LIMIT) });
  }

  constant(value: number): Item {
    return { host: this.scope.graph.constant(value) };
  }

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
      this.count(quantity.items.length, at);
      const items = quantity.items.map((item) =>
        item.host !== undefined ? item : { value: this.op(`${this.real}_from_i32`, item.value) },
      );
      return { ...quantity, kind, items };
    }
    return this.fail('wrong_type', at, { wanted: kindWords[kind], got: kindWords[from] });
  }

  /** Two quantities brought to one kind: reals beside ints make reals, literals follow the other. */
  same(a: Quantity, b: Quantity, at: Spot): [Quantity, Quantity, RunKind | 'literal'] {
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

  get real(): 'f32' | 'f64' {
    return this.scope.runTime?.real ?? 'f64';
  }

  op(name: string, ...args: Value[]): Value {
    if (this.scope.runTime === undefined) throw new Error(`${name} has no program to stand in`);
    return this.scope.runTime.op(name, ...args);
  }

  value(item: Item, kind: RunKind | 'literal'): Value {
    return materialise(item, kind === 'literal' ? 'real' : kind, this.scope);
  }

  /** One scalar operation: on the host when every side is known there, in the program otherwise. */
  apply(
    name: string,
    kind: RunKind | 'literal',
    items: readonly Item[],
    compute: (...values: number[]) => number,
    run: (...values: Value[]) => Value,
    at: Spot,
  ): Item {
    this.count(1, at);
    const nodes: HostNode[] = [];
    for (const item of items) if (item.host !== undefined) nodes.push(item.host);
    if (nodes.length === items.length) {
      const node = this.scope.graph.apply(`${name}:${kind}`, nodes, compute);
      if (!this.scope.nonFinite && !Number.isFinite(node.value) && nodes.every((arg) => Number.isFinite(arg.value)))
        this.fail('not_finite', at, { operation: name });
      return { host: node };
    }
    return { value: run(...items.map((item) => this.value(item, kind))) };
  }

  type(kind: RunKind | 'literal'): string {
    return kind === 'int' ? 'i32' : kind === 'bool' ? 'bool' : this.real;
  }

  map(quantity: Quantity, kind: Kind, each: (item: Item) => Item): Quantity {
    return { kind, rows: quantity.rows, columns: quantity.columns, items: quantity.items.map(each) };
  }

  /** Element by element; a scalar goes with every element of the other. */
  zip(a: Quantity, b: Quantity, kind: Kind, at: Spot, each: (x: Item, y: Item) => Item): Quantity {
    const aScalar = a.items.length === 1;
    const bScalar = b.items.length === 1;
    if (!aScalar && !bScalar && (a.rows !== b.rows || a.columns !== b.columns))
      this.fail('wrong_size', at, { wanted: shapeText(a.rows, a.columns), got: shapeText(b.rows, b.columns) });
    const shape = aScalar ? b : a;
    const items = shape.items.map((_, i) => each(itemAt(a, aScalar ? 0 : i), itemAt(b, bScalar ? 0 : i)));
    return { kind, rows: shape.rows, columns: shape.columns, items };
  }

  negate(a: Quantity, at: Spot): Quantity {
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

  not(a: Quantity, at: Spot): Quantity {
    const b = this.as(a, 'bool', at);
    return this.map(b, 'bool', (x) => this.notItem(x, at));
  }

  notItem(x: Item, at: Spot): Item {
    return this.apply(
      'not',
      'bool',
      [x],
      (v) => (v === 0 ? 1 : 0),
      (v) => this.op('not_bool', v as Value),
      at,
    );
  }

  arithmetic(name: 'add' | 'sub' | 'mul' | 'div', x: Item, y: Item, kind: RunKind | 'literal', at: Spot): Item {
    if (x.host === undefined || y.host === undefined) {
      this.count(1, at);
      return { value: this.op(`${name}_${this.type(kind)}`, this.value(x, kind), this.value(y, kind)) };
    }
    const compute = kind === 'int' ? INTEGER[name] : REAL[name];
    return this.apply(name, kind, [x, y], compute, unreachable, at);
  }

  subtract(x: Item, y: Item, kind: RunKind | 'literal', at: Spot): Item {
    return this.arithmetic('sub', x, y, kind, at);
  }

  binary(op: BinaryOperator, left: Quantity, right: Quantity, at: Spot): Quantity {
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

  logic(op: 'and' | 'or', x: Item, y: Item, at: Spot): Item {
    return this.apply(
      op,
      'bool',
      [x, y],
      (a = 0, b = 0) => (op === 'and' ? a & b : a | b),
      (a, b) => this.op(`${op}_bool`, a as Value, b as Value),
      at,
    );
  }

  compare(op: '==' | '!=' | '<' | '<=' | '>' | '>=', left: Quantity, right: Quantity, at: Spot): Quantity {
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

  relation(name: 'eq' | 'lt' | 'le', kind: RunKind | 'literal', x: Item, y: Item, at: Spot): Item {
    return this.apply(
      name,
      kind,
      [x, y],
      (a = 0, b = 0) => ((name === 'eq' ? a === b : name === 'lt' ? a < b : a <= b) ? 1 : 0),
      (a, b) => this.op(`${name}_${this.type(kind)}`, a as Value, b as Value),
      at,
    );
  }

  selectItem(kind: RunKind | 'literal', condition: Item, x: Item, y: Item, at: Spot): Item {
    if (condition.host !== undefined && !condition.host.adjustable) return condition.host.value === 1 ? x : y;
    if (x.host !== undefined && x.host === y.host) return x;
    if (condition.host !== undefined && x.host !== undefined && y.host !== undefined)
      return this.apply('select', kind, [condition, x, y], (c, a = 0, b = 0) => (c === 1 ? a : b), unreachable, at);
    this.count(1, at);
    const c = this.value(condition, 'bool');
    return { value: this.op(`select_${this.type(kind)}`, c, this.value(x, kind), this.value(y, kind)) };
  }

  product(a: Quantity, b: Quantity, kind: RunKind | 'literal', at: Spot): Quantity {
    if (a.columns !== b.rows)
      this.fail('wrong_product', at, { left: shapeText(a.rows, a.columns), right: shapeText(b.rows, b.columns) });
    this.checkSize(a.rows * b.columns, at);
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

  power(left: Quantity, right: Quantity, at: Spot): Quantity {
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

  elementary(name: string, items: readonly Item[], at: Spot): Item {
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

  simple(name: 'sqrt' | 'floor' | 'trunc' | 'abs', x: Item, at: Spot): Item {
    const compute = { sqrt: Math.sqrt, floor: Math.floor, trunc: Math.trunc, abs: Math.abs }[name];
    return this.apply(name, 'real', [x], compute, (v) => this.op(`${name}_${this.real}`, v as Value), at);
  }

  negateItem(x: Item, at: Spot): Item {
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
  round(x: Item, at: Spot): Item {
    const whole = this.simple('trunc', x, at);
    const rest = this.subtract(x, whole, 'real', at);
    const half = this.relation('le', 'real', this.constant(0.5), this.simple('abs', rest, at), at);
    const below = this.relation('lt', 'real', x, this.constant(0), at);
    const step = this.selectItem('real', below, this.constant(-1), this.constant(1), at);
    return this.selectItem('real', half, this.arithmetic('add', whole, step, 'real', at), whole, at);
  }

  extreme(name: 'min' | 'max', kind: RunKind | 'literal', x: Item, y: Item, at: Spot): Item {
    const second = name === 'min' ? this.relation('lt', kind, y, x, at) : this.relation('lt', kind, x, y, at);
    return this.selectItem(kind, second, y, x, at);
  }

  shift(name: 'shl' | 'shr', x: Item, by: Item, at: Spot): Item {
    return this.apply(
      name,
      'int',
      [x, by],
      (a = 0, b = 0) => (name === 'shl' ? a << b : a >> b),
      (a, b) => this.op(`${name}_i32`, a as Value, b as Value),
      at,
    );
  }

  /** Gaussian elimination with partial pivoting; in a program, rows change places by choice. */
  solve(left: Quantity, right: Quantity, at: Spot): Quantity {
    const [m, f] = [this.as(left, 'real', at), this.as(right, 'real', at)];
    const n = m.rows;
    if (m.columns !== n || f.rows !== n)
      this.fail('wrong_size', at, {
        wanted: `${shapeText(n, n)} and ${n} rows`,
        got: `${shapeText(m.rows, m.columns)} and ${shapeText(f.rows, f.columns)}`,
      });
    const nodes = [...m.items, ...f.items].map((item) => item.host);
    if (nodes.every((node) => node !== undefined)) {
      this.count(n + (n * n * (n + f.columns)) / LIGHT_OPERATIONS, at);
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

  eliminate(m: Quantity, f: Quantity, at: Spot): Quantity {
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

export const kindWords: Record<Kind, string> = {
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

export function itemAt(quantity: Quantity, i: number): Item {
  const item = quantity.items[i];
  if (item === undefined) throw new Error(`a quantity has no element ${i}`);
  return item;
}
