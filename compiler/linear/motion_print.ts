/** Sums written as expressions of the block language: terms collected, as few brackets as reading needs. */

import type { Rational } from '../language/rational.ts';
import type { BinaryOperator, Expression } from '../language/syntax.ts';
import { type Atom, type Factor, fraction, namesOfAtom, type Sum, type Term } from './motion_terms.ts';

const at = { line: 1, column: 1 } as const;

const binary = (op: BinaryOperator, left: Expression, right: Expression): Expression => ({
  kind: 'binary',
  op,
  left,
  right,
  at,
});

const numeral = (text: string): Expression => ({
  kind: 'number',
  value: Number(text),
  unit: undefined,
  text,
  at,
});

/** A product whose sign stands before it. */
interface Signed {
  readonly minus: boolean;
  readonly written: Expression;
}

/**
 * Writes sums. `isFixed` says which names are parameters: terms alike but for those are collected into one. Factors come
 * in the order of `order`, which begins with the parameters; functions come last.
 */
export class Writer {
  private readonly isFixed: (name: string) => boolean;
  private readonly order: ReadonlyMap<string, number>;

  constructor(isFixed: (name: string) => boolean, order: readonly string[]) {
    this.isFixed = isFixed;
    this.order = new Map(order.map((name, i) => [name, i + 1]));
  }

  expression(sum: Sum): Expression {
    return inSum(this.collected(sum).map((terms) => this.group(terms)));
  }

  /** Terms that differ only in parameters and numbers together; each group is written as one product. */
  collected(sum: Sum): Term[][] {
    const groups = new Map<string, Term[]>();
    for (const term of sum.values()) {
      const moving = [...term.factors].filter(([, { atom }]) => !this.isFixedAtom(atom));
      const key = moving
        .map(([key, { power }]) => `${key}^${power}`)
        .sort()
        .join(' ');
      groups.set(key, [...(groups.get(key) ?? []), term]);
    }
    return [...groups.values()];
  }

  private isFixedAtom(atom: Atom): boolean {
    if (atom.kind === 'opaque') return atom.expression.kind === 'number';
    return [...namesOfAtom(atom)].every(this.isFixed);
  }

  /** Terms of one group as a product: what they share, and their sum if they are several. */
  private group(terms: readonly Term[]): Signed {
    const [first] = terms;
    if (first === undefined) return { minus: false, written: numeral('0') };
    if (terms.length === 1) return this.product(first.coefficient, [...first.factors.values()]);
    const shared = [...first.factors.values()].flatMap(({ atom, power }): Factor[] => {
      const powers = terms.map((term) => term.factors.get(atom.key)?.power ?? 0);
      const common = power > 0 ? Math.min(...powers) : Math.max(...powers);
      return common === 0 || common > 0 !== power > 0 ? [] : [{ atom, power: common }];
    });
    const size = ({ num, den }: Rational): Rational => ({ num: num < 0n ? -num : num, den });
    const isEven = terms.every(({ coefficient: { num, den } }) => {
      const own = size(first.coefficient);
      return den === own.den && (num === own.num || num === -own.num);
    });
    const isMinus = terms.every(({ coefficient }) => coefficient.num < 0n);
    const outside: Rational = isEven ? size(first.coefficient) : { num: 1n, den: 1n };
    const inside = terms.map(({ coefficient, factors }) => {
      const left = new Map(factors);
      for (const { atom, power } of shared) {
        const rest = (left.get(atom.key)?.power ?? 0) - power;
        if (rest === 0) left.delete(atom.key);
        else left.set(atom.key, { atom, power: rest });
      }
      const num = isMinus ? -coefficient.num : coefficient.num;
      const rest = fraction(num * outside.den, coefficient.den * outside.num);
      return this.product(rest, [...left.values()]);
    });
    const { written } = this.product(outside, shared, inSum(inside));
    return { minus: isMinus, written };
  }

  private rank(atom: Atom): number {
    if (atom.kind === 'opaque' && atom.expression.kind === 'number') return 0;
    const last = this.order.size + 1;
    if (atom.kind === 'name') return this.order.get(atom.name) ?? last;
    return this.isFixedAtom(atom) ? 0.5 : last;
  }

  /** A product without its sign; `middle` stands after numbers and before names. */
  private product({ num, den }: Rational, factors: readonly Factor[], middle?: Expression): Signed {
    const ordered = [...factors].sort((a, b) => this.rank(a.atom) - this.rank(b.atom));
    const literals = ordered.filter(({ atom, power }) => power > 0 && this.rank(atom) === 0);
    const others = ordered.filter(({ atom, power }) => power > 0 && this.rank(atom) > 0);
    const below = ordered.filter(({ power }) => power < 0);
    const { before, after } = numbers(num < 0n ? -num : num, den);
    const above = [
      ...before,
      ...literals.map((factor) => this.factor(factor)),
      ...(middle === undefined ? [] : [middle]),
      ...others.map((factor) => this.factor(factor)),
    ];
    const written = chain(above) ?? numeral('1');
    const divisor = chain([...after, ...below.map(({ atom, power }) => this.factor({ atom, power: -power }))]);
    return { minus: num < 0n, written: divisor === undefined ? written : binary('/', written, divisor) };
  }

  private factor({ atom, power }: Factor): Expression {
    const base = this.atom(atom);
    return power === 1 ? base : binary('^', base, numeral(String(power)));
  }

  private atom(atom: Atom): Expression {
    switch (atom.kind) {
      case 'name':
        return { kind: 'name', name: atom.name, at };
      case 'opaque':
        return atom.expression;
      case 'sum':
        return this.expression(atom.of);
      case 'call':
        return { kind: 'call', name: atom.func, args: atom.args.map((arg) => this.expression(arg)), at };
    }
  }
}

/** Products added up; a sum that can begin with a plus sign does. */
function inSum(terms: readonly Signed[]): Expression {
  const first = Math.max(
    0,
    terms.findIndex(({ minus }) => !minus),
  );
  const [head, ...rest] = [...terms.slice(first, first + 1), ...terms.slice(0, first), ...terms.slice(first + 1)];
  if (head === undefined) return numeral('0');
  return rest.reduce<Expression>(
    (total, { minus, written }) => binary(minus ? '-' : '+', total, written),
    head.minus ? negative(head.written) : head.written,
  );
}

function chain(factors: readonly Expression[]): Expression | undefined {
  return factors.length === 0 ? undefined : factors.reduce((product, factor) => binary('*', product, factor));
}

/** The minus sign goes to the first factor. */
function negative(e: Expression): Expression {
  if (e.kind === 'binary' && (e.op === '*' || e.op === '/')) return { ...e, left: negative(e.left) };
  return { kind: 'unary', op: '-', arg: e, at };
}

/** An exact coefficient as numerals before and under a product: `3`, `0.031`, or a divisor for a half or a third. */
function numbers(num: bigint, den: bigint): { before: Expression[]; after: Expression[] } {
  const isHalf = num === 1n && den === 2n;
  const written = den === 1n || isHalf ? undefined : decimalText(num, den);
  if (written !== undefined) return { before: [numeral(written)], after: [] };
  return { before: num === 1n ? [] : [numeral(String(num))], after: den === 1n ? [] : [numeral(String(den))] };
}

/** A fraction as a decimal that is exactly it, if there is one. */
function decimalText(num: bigint, den: bigint): string | undefined {
  for (let places = 1, scaled = num * 10n; places <= 60; places++, scaled *= 10n)
    if (scaled % den === 0n) {
      const digits = String(scaled / den).padStart(places + 1, '0');
      const text = `${digits.slice(0, -places)}.${digits.slice(-places)}`;
      return text.length <= 24 ? text : `${scaled / den}e-${places}`;
    }
  return undefined;
}
