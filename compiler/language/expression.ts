/** Reads expressions, units and types: the part of the grammar that blocks, settings, nudges and expectations share. */

import type { Cursor, Token } from './lexer.ts';
import { decimal, multiply, nearestDouble } from './rational.ts';
import type { BinaryOperator, Expression, Spot, TypeExpression, UnitExpression } from './syntax.ts';
import { isUnit, isUnitLetter, nearestUnits, unitOf } from './units.ts';

/** Most tokens in one statement, and deepest nesting: generous for people, and a bound on everything after. */
const mostTokens = 2000;
const deepest = 60;
const mostFactors = 12;
const highestPower = 9;

/** Names that cannot be given to anything. */
export const reservedNames: ReadonlySet<string> = new Set([
  'and',
  'or',
  'not',
  'is',
  'for',
  'in',
  'true',
  'false',
  'dt',
  't',
  'tick',
  'first',
  'pi',
  'unlimited',
]);

/** Words that may follow a number without being a unit. */
const following: ReadonlySet<string> = new Set(
  'and or not is for in to from above below when gives left length always once until every about as inputs'.split(' '),
);

const operatorWords: ReadonlySet<string> = new Set(['and', 'or', 'not', 'is', 'for', 'in']);

/** Reads expressions off a cursor; one a statement, for its bounds count per statement. */
export class ExpressionReader {
  /** Unit letters that stood after numbers, for the block's reader to compare with the declared ones. */
  readonly letters: { readonly symbol: string; readonly at: Spot }[] = [];
  private readonly cursor: Cursor;
  private readonly dotted: boolean;
  private depth = 0;
  private statementStart = 0;

  /** `dotted` says that names may be paths on a sheet. */
  constructor(cursor: Cursor, dotted: boolean) {
    this.cursor = cursor;
    this.dotted = dotted;
  }

  /** Starts the count of a new statement's tokens. */
  begin(): void {
    this.statementStart = this.cursor.read;
    this.depth = 0;
  }

  /** A whole expression, down to `c ? a : b`. */
  expression(): Expression {
    return this.nested(() => {
      const condition = this.disjunction();
      const mark = this.cursor.peek();
      if (!this.cursor.skip('?')) return condition;
      const then = this.expression();
      this.cursor.expect(':', 'a choice “condition ? one : other”');
      return { kind: 'choose', condition, then, else: this.expression(), at: mark.at };
    });
  }

  private nested<T>(read: () => T): T {
    const { at } = this.cursor.peek();
    if (++this.depth > deepest) this.cursor.fail('nested_too_deep', at, { deepest: String(deepest) });
    const result = read();
    this.depth--;
    return result;
  }

  /** A chain of operators that group from the left. */
  private chain(operators: readonly BinaryOperator[], operand: () => Expression): Expression {
    let left = operand();
    for (;;) {
      const token = this.cursor.peek();
      const op = operators.find((candidate) => this.cursor.sees(candidate));
      if (op === undefined) return left;
      this.cursor.take();
      if (this.cursor.read - this.statementStart > mostTokens)
        this.cursor.fail('statement_too_long', token.at, { longest: String(mostTokens) });
      left = { kind: 'binary', op, left, right: operand(), at: token.at };
    }
  }

  private disjunction(): Expression {
    return this.chain(['or'], () => this.conjunction());
  }

  private conjunction(): Expression {
    return this.chain(['and'], () => this.negation());
  }

  private negation(): Expression {
    const { at } = this.cursor.peek();
    if (!this.cursor.skip('not')) return this.comparison();
    return { kind: 'unary', op: 'not', arg: this.nested(() => this.negation()), at };
  }

  private comparison(): Expression {
    const left = this.sum();
    const op = this.comparisonSign();
    if (op === undefined) {
      if (!this.cursor.sees('is')) return left;
      const { at } = this.cursor.take();
      if (left.kind !== 'name') this.cursor.fail('is_without_name', at);
      return { kind: 'is', name: left.name, word: this.cursor.expectString('a kind after “is”').text, at };
    }
    const { at } = this.cursor.take();
    const right = this.sum();
    const again = this.comparisonSign();
    if (again !== undefined)
      this.cursor.fail('chained_comparison', this.cursor.peek().at, { first: op, second: again });
    return { kind: 'binary', op, left, right, at };
  }

  private comparisonSign(): BinaryOperator | undefined {
    return (['==', '!=', '<', '<=', '>', '>='] as const).find((sign) => this.cursor.sees(sign));
  }

  private sum(): Expression {
    return this.chain(['+', '-'], () => this.product());
  }

  private product(): Expression {
    return this.chain(['*', '/', '\\'], () => this.unary());
  }

  private unary(): Expression {
    const { at } = this.cursor.peek();
    if (!this.cursor.skip('-')) return this.power();
    return { kind: 'unary', op: '-', arg: this.nested(() => this.unary()), at };
  }

  private power(): Expression {
    const base = this.postfix();
    const { at } = this.cursor.peek();
    if (!this.cursor.skip('^')) return base;
    return { kind: 'binary', op: '^', left: base, right: this.nested(() => this.unary()), at };
  }

  private postfix(): Expression {
    let base = this.primary();
    while (this.cursor.sees('[')) {
      const { at } = this.cursor.take();
      const indices = [this.expression()];
      while (this.cursor.skip(',')) indices.push(this.expression());
      this.cursor.expect(']', 'an index');
      if (indices.length > 2) this.cursor.fail('too_many_indices', at, { count: String(indices.length) });
      base = { kind: 'index', base, indices, at };
    }
    const next = this.cursor.peek();
    if (this.cursor.sees('(')) this.cursor.fail('missing_sign', next.at, { right: '(' });
    if (next.kind === 'number') this.cursor.fail('missing_sign', next.at, { right: next.text.slice(0, 40) });
    return base;
  }

  private primary(): Expression {
    const token = this.cursor.peek();
    if (token.kind === 'number') return this.number();
    if (token.kind === 'string') {
      this.cursor.take();
      return { kind: 'word', word: token.text, at: token.at };
    }
    if (this.cursor.skip('(')) {
      const inner = this.expression();
      this.cursor.expect(')', 'what is in brackets');
      return inner;
    }
    if (this.cursor.sees('[')) return this.matrix();
    if (token.kind !== 'name' || operatorWords.has(token.text)) this.cursor.unexpected('a value', 'an expression');
    this.cursor.take();
    if (this.cursor.sees('(')) return token.text === 'fold' ? this.fold(token) : this.call(token);
    return { kind: 'name', name: this.plainName(token), at: token.at };
  }

  /** A name, which in a block text has no dots. */
  private plainName(token: Token): string {
    if (!/^[A-Za-z]/.test(token.text)) this.cursor.fail('bad_name', token.at, { name: token.text });
    if (!this.dotted && token.text.includes('.')) this.cursor.fail('dotted_name', token.at, { name: token.text });
    return token.text;
  }

  private call(name: Token): Expression {
    this.cursor.expect('(', 'a function');
    const args: Expression[] = [];
    if (!this.cursor.sees(')')) {
      do args.push(this.expression());
      while (this.cursor.skip(','));
    }
    this.cursor.expect(')', `the arguments of “${name.text}”`);
    return { kind: 'call', name: this.plainName(name), args, at: name.at };
  }

  private fold(name: Token): Expression {
    const where = '“fold(total = start; item in list; expression)”';
    this.cursor.expect('(', where);
    const accumulator = this.plainName(this.cursor.expectName(where));
    this.cursor.expect('=', where);
    const start = this.expression();
    this.cursor.expect(';', where);
    const variable = this.plainName(this.cursor.expectName(where));
    this.cursor.expect('in', where);
    const list = this.plainName(this.cursor.expectName(where));
    this.cursor.expect(';', where);
    const body = this.expression();
    this.cursor.expect(')', where);
    return { kind: 'fold', accumulator, start, variable, list, body, at: name.at };
  }

  private matrix(): Expression {
    const { at } = this.cursor.expect('[', 'a matrix');
    if (this.cursor.skip(']')) return { kind: 'matrix', rows: [], at };
    const first = this.expression();
    if (this.cursor.skip('for')) {
      const variable = this.plainName(this.cursor.expectName('“for” in brackets'));
      if (this.cursor.skip('to')) {
        const to = this.expression();
        this.cursor.expect(']', '“for i to n”');
        return { kind: 'each', body: first, variable, over: { to }, at };
      }
      this.cursor.expect('in', '“for i to n” or “for item in list”');
      const list = this.plainName(this.cursor.expectName('“for item in list”'));
      this.cursor.expect(']', '“for item in list”');
      return { kind: 'each', body: first, variable, over: { in: list }, at };
    }
    let row = [first];
    const rows = [row];
    let closed = false;
    while (!closed) {
      if (this.cursor.skip(',')) row.push(this.expression());
      else if (!this.cursor.skip(';')) break;
      else if (this.cursor.sees(']')) closed = true;
      else {
        row = [this.expression()];
        rows.push(row);
      }
    }
    this.cursor.expect(']', 'a matrix');
    const width = rows[0]?.length ?? 0;
    const odd = rows.find((each) => each.length !== width);
    if (odd !== undefined)
      this.cursor.fail('uneven_matrix', odd[0]?.at ?? at, { first: String(width), other: String(odd.length) });
    return { kind: 'matrix', rows: rows.length === 1 && !closed ? row.map((entry) => [entry]) : rows, at };
  }

  private number(): Expression {
    const token = this.cursor.take();
    const unit = this.unitAfterNumber();
    const known = unit === undefined ? undefined : unitOf(unit);
    if (known !== undefined && 'unknown' in known) throw new Error(`“${known.unknown}” was taken for a unit`);
    const exact = decimal(token.text);
    const value =
      exact === undefined ? Number.NaN : nearestDouble(known === undefined ? exact : multiply(exact, known.exact));
    if (!Number.isFinite(value)) this.cursor.fail('number_out_of_range', token.at, { number: token.text.slice(0, 40) });
    return { kind: 'number', value, unit, text: token.text, at: token.at };
  }

  private unitAfterNumber(): UnitExpression | undefined {
    const token = this.cursor.peek();
    if (token.kind !== 'name' || following.has(token.text)) return undefined;
    if (!isUnit(token.text) && !isUnitLetter(token.text)) {
      const nearest = nearestUnits(token.text);
      this.cursor.fail('unknown_unit', token.at, { unit: token.text.slice(0, 40), nearest: nearest.join(', ') });
    }
    return this.unit(false);
  }

  /** A unit; `declared` allows spaces around its slashes and a leading 1, as in a type. */
  unit(declared: boolean): UnitExpression {
    const { at } = this.cursor.peek();
    const factors: { symbol: string; power: number }[] = [];
    const texts: string[] = [];
    let sign = 1;
    const begins = (token: Token): boolean =>
      token.kind === 'name' &&
      !following.has(token.text) &&
      (declared || isUnit(token.text) || isUnitLetter(token.text));
    const slashAhead = (): boolean =>
      this.cursor.sees('/') &&
      (declared || (this.cursor.peek().tight && this.cursor.peek(1).tight && begins(this.cursor.peek(1))));
    if (declared && this.cursor.peek().kind === 'number') {
      const token = this.cursor.take();
      if (token.text !== '1') this.cursor.fail('number_in_unit', token.at, { number: token.text.slice(0, 40) });
      texts.push('1');
    } else if (!begins(this.cursor.peek())) this.cursor.unexpected('a unit', 'a unit');
    for (;;) {
      const token = this.cursor.peek();
      if (begins(token)) {
        this.cursor.take();
        const exponent = this.unitPower();
        factors.push({ symbol: this.knownSymbol(token), power: sign * exponent });
        const space = texts.length > 0 && texts.at(-1) !== '/' ? ' ' : '';
        texts.push(space + (exponent === 1 ? token.text : `${token.text}^${exponent}`));
      } else if (slashAhead() && texts.at(-1) !== '/') {
        this.cursor.take();
        sign = -1;
        texts.push('/');
      } else break;
      if (factors.length > mostFactors) this.cursor.fail('unit_too_long', token.at, { longest: String(mostFactors) });
    }
    if (texts.at(-1) === '/') this.cursor.unexpected('a unit', 'what is under the slash of a unit');
    if (!declared) for (const { symbol } of factors) if (isUnitLetter(symbol)) this.letters.push({ symbol, at });
    return { factors, text: texts.join('') };
  }

  private knownSymbol(token: Token): string {
    if (isUnit(token.text) || isUnitLetter(token.text)) return token.text;
    const nearest = nearestUnits(token.text);
    return this.cursor.fail('unknown_unit', token.at, { unit: token.text.slice(0, 40), nearest: nearest.join(', ') });
  }

  private unitPower(): number {
    if (!this.cursor.skip('^')) return 1;
    const sign = this.cursor.skip('-') ? -1 : 1;
    const token = this.cursor.peek();
    const size = token.kind === 'number' ? Number(token.text) : Number.NaN;
    if (!Number.isInteger(size) || size > highestPower || size === 0)
      this.cursor.fail('bad_unit_power', token.at, { found: token.text.slice(0, 40), highest: String(highestPower) });
    this.cursor.take();
    return sign * size;
  }

  /** What stands after a declaration's colon. Nothing at all is a real number without a unit. */
  type(): TypeExpression {
    const { at } = this.cursor.peek();
    const shape: Expression[] = [];
    if (this.cursor.skip('[')) {
      do shape.push(this.expression());
      while (this.cursor.skip(','));
      this.cursor.expect(']', 'a shape');
      if (shape.length > 2) this.cursor.fail('too_many_indices', at, { count: String(shape.length) });
    }
    const word = this.cursor.peek();
    const plain = { base: 'real', shape, unit: undefined, each: false, at } as const;
    if (this.cursor.skip('bool')) return { ...plain, base: 'bool' };
    if (this.cursor.skip('int')) return { ...plain, base: 'int' };
    if (this.cursor.skip('real')) return plain;
    if (this.cursor.skip('each')) return { ...plain, each: true };
    const isUnitAhead = (word.kind === 'name' && !following.has(word.text)) || word.kind === 'number';
    if (!isUnitAhead && shape.length === 0) this.cursor.unexpected('a type', 'a declaration');
    return isUnitAhead ? { ...plain, unit: this.unit(true) } : plain;
  }
}
