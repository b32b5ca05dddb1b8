/** From an expression of the block language to scalars: host numbers where they can be, program values elsewhere. */

import type { Value } from '../ir/program.ts';
import type { HostNode } from '../language/host_value.ts';
import { wholePeriods } from '../language/quantity.ts';
import type { Expression, Spot } from '../language/syntax.ts';
import { matrixExponential } from './host_matrix.ts';
import { type Kind, type ListElement, type Quantity, type Scope, scalar, shapeText } from './quantity.ts';
import { Abandoned, itemAt, kindWords, LIGHT_OPERATIONS, materialise, type RunKind, Scalars } from './scalars.ts';

const ELEMENTARY = new Set(['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'atan2', 'exp', 'log', 'pow', 'hypot']);
const REDUCTIONS = new Set(['sum', 'product', 'all', 'any', 'count']);

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
    const scalars = new Scalars(scope);
    if (quantity.rows !== rows || quantity.columns !== columns) {
      scalars.fail('wrong_size', at, {
        wanted: shapeText(rows, columns),
        got: shapeText(quantity.rows, quantity.columns),
      });
    }
    return scalars.as(quantity, kind, at);
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

class Lowering extends Scalars {
  /** What names bound inside the expression stand for. */
  private bound: Map<string, Quantity> | undefined;
  /** Kinds of the open-ended inputs that names are bound to. */
  private elements: Map<string, string> | undefined;
  /** What names from outside the expression came to. */
  private known: Map<string, Quantity> | undefined;
  private lists: Map<string, readonly ListElement[] | undefined> | undefined;

  lower(e: Expression): Quantity {
    this.count(1, e.at);
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
          accumulated = this.with(e.accumulator, accumulated, () =>
            this.withElement(e.variable, element, () => this.lower(e.body)),
          );
        return accumulated;
      }
      case 'is': {
        const kind = this.elements?.get(e.name);
        if (kind === undefined) this.fail('not_an_element', e.at, { name: e.name });
        return scalar('bool', this.constant(kind === e.word ? 1 : 0));
      }
    }
  }

  private name(name: string, at: Spot): Quantity {
    const bound = this.bound?.get(name);
    if (bound !== undefined) return bound;
    if (name === 'pi') return scalar('real', this.constant(Math.PI));
    if (name === 'true' || name === 'false') return scalar('bool', this.constant(name === 'true' ? 1 : 0));
    if (name === 'unlimited') return scalar('real', this.constant(Number.POSITIVE_INFINITY));
    const known = this.known?.get(name);
    if (known !== undefined) return known;
    const found = this.scope.name(name, at);
    if (found === undefined) throw new Abandoned();
    this.count(found.items.length, at);
    this.known ??= new Map();
    this.known.set(name, found);
    return found;
  }

  private with(name: string, quantity: Quantity, body: () => Quantity): Quantity {
    this.bound ??= new Map();
    return bind(this.bound, name, quantity, body);
  }

  private withElement(
    variable: string,
    element: { readonly kind: string; readonly quantity: Quantity },
    body: () => Quantity,
  ): Quantity {
    this.elements ??= new Map();
    return bind(this.elements, variable, element.kind, () => this.with(variable, element.quantity, body));
  }

  /** The elements of open-ended inputs, or of a vector. */
  private listOf(name: string, at: Spot): readonly { kind: string; quantity: Quantity }[] {
    const list = this.openList(name);
    if (list !== undefined) return list;
    const vector = this.name(name, at);
    return vector.items.map((item) => ({ kind: '', quantity: scalar(vector.kind, item) }));
  }

  private openList(name: string): readonly ListElement[] | undefined {
    this.lists ??= new Map();
    if (!this.lists.has(name)) this.lists.set(name, this.scope.list(name));
    return this.lists.get(name);
  }

  // —— operators ——

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
      this.bound?.has(e.base.name) !== true
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

  /** A setting that a line's length depends on does not change while it runs, so what was taken in a whole length ago is always the oldest. */
  private delayed(name: string, ago: Expression): Quantity | undefined {
    const runTime = this.scope.runTime;
    if (runTime === undefined) return undefined;
    const wanted = this.as(this.lower(ago), 'int', ago.at);
    const item = itemAt(wanted, 0);
    const length = runTime.lineLength(name);
    const isOldest = length !== undefined && length.id === item.host?.id;
    const value = runTime.delayed(name, isOldest ? runTime.constant('int', length.value) : this.value(item, 'int'));
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
      this.checkSize(count, e.at);
      for (let i = 1; i <= count; i++)
        results.push(this.with(e.variable, scalar('int', this.constant(i)), () => this.lower(e.body)));
    } else
      for (const element of this.listOf(e.over.in, e.at))
        results.push(this.withElement(e.variable, element, () => this.lower(e.body)));
    return this.stack(results, e.at);
  }

  /** Scalars become a column, columns the rows of a matrix. */
  private stack(parts: readonly Quantity[], at: Spot): Quantity {
    let kind: Kind = parts[0]?.kind ?? 'literal';
    const width = parts[0]?.rows ?? 1;
    for (const part of parts) {
      if (part.columns !== 1 || part.rows !== width)
        this.fail('wrong_size', at, { wanted: shapeText(width, 1), got: shapeText(part.rows, part.columns) });
      if (kind === 'literal' || (kind === 'int' && part.kind === 'real')) kind = part.kind;
    }
    this.checkSize(parts.length * width, at);
    this.count(parts.length * (width - 1), at);
    const target = kind;
    const items = parts.flatMap((part) =>
      target === 'literal' || target === 'word' ? part.items : this.as(part, target, at).items,
    );
    return { kind, rows: parts.length, columns: width, items };
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
          return this.relation('lt', 'real', this.simple('abs', x, at), this.constant(Number.POSITIVE_INFINITY), at);
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
        this.count(q.items.length, at);
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
        if (rows < 0 || columns < 0) this.fail('not_a_size', at);
        this.checkSize(rows * columns, at);
        this.count(rows * columns, at);
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
        this.count(q.items.length + (8 * q.rows ** 3) / LIGHT_OPERATIONS, at);
        const items = this.scope.graph
          .bundle('matrix_exp', hostOnly(q), (values) => matrixExponential(values, q.rows))
          .map((node) => ({ host: node }));
        return { ...q, items };
      }
      case 'readings': {
        const [file, columns] = [arg(0), arg(1)];
        const runTime = this.scope.runTime;
        if (runTime === undefined) this.fail('run_only', at, { name });
        const values = runTime.readings(file.word ?? '', columns.words ?? [], at);
        if (values === undefined) throw new Abandoned();
        return { kind: 'real', rows: values.length, columns: 1, items: values.map((value) => ({ value })) };
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

  private reduction(name: string, e: Extract<Expression, { kind: 'call' }>): Quantity {
    const [only] = e.args;
    if (only === undefined || e.args.length !== 1)
      this.fail('wrong_argument_count', e.at, { name, got: String(e.args.length), wanted: '1' });
    const elements =
      only.kind === 'name' && this.openList(only.name) !== undefined
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
}

/** Gives a name another meaning while something is done. */
function bind<T>(names: Map<string, T>, name: string, meaning: T, body: () => Quantity): Quantity {
  const before = names.get(name);
  names.set(name, meaning);
  const result = body();
  if (before === undefined) names.delete(name);
  else names.set(name, before);
  return result;
}

function vectorOf(quantity: Quantity): Quantity[] {
  return quantity.items.map((item) => scalar(quantity.kind, item));
}

function saturateToInt(x = 0): number {
  return Number.isNaN(x) ? 0 : Math.trunc(Math.min(2147483647, Math.max(-2147483648, x))) | 0;
}
