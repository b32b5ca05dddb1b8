/** Sums of products with exact coefficients: the one form in which equations of motion are collected, term by term. */

import { type Rational, multiply as timesFraction } from '../language/rational.ts';
import type { Expression } from '../language/syntax.ts';

/** What a product is made of besides its coefficient; `key` tells atoms apart. */
export type Atom =
  | { readonly kind: 'name'; readonly key: string; readonly name: string }
  /** `sin(…)` and such. */
  | { readonly kind: 'call'; readonly key: string; readonly func: string; readonly args: readonly Sum[] }
  /** A sum that is not multiplied out: it stands under a fraction. */
  | { readonly kind: 'sum'; readonly key: string; readonly of: Sum }
  /** Something taken as it is written, such as `9.81 m/s^2`. */
  | { readonly kind: 'opaque'; readonly key: string; readonly expression: Expression };

export interface Factor {
  readonly atom: Atom;
  /** Whole, not 0; negative under a fraction. */
  readonly power: number;
}

export interface Term {
  /** In lowest terms, not 0. */
  readonly coefficient: Rational;
  /** By the atoms' keys. */
  readonly factors: ReadonlyMap<string, Factor>;
}

/** Terms by the key of their factors, in order of first appearance; none is 0. */
export type Sum = ReadonlyMap<string, Term>;

/** An expression that cannot be written as such a sum; `reason` is the finding's id. */
export class NoSum extends Error {
  readonly reason: 'motion_too_large' | 'motion_division_by_zero' | 'motion_not_smooth';
  readonly what: string;

  constructor(reason: NoSum['reason'], what: string) {
    super(`${reason}: ${what}`);
    this.reason = reason;
    this.what = what;
  }
}

/** Most terms that a sum may have, and most products of terms in one multiplication. */
const MOST_TERMS = 2000;
const MOST_PRODUCTS = 20_000;
const HIGHEST_POWER = 40;

type Factors = ReadonlyMap<string, Factor>;

const NONE: Factors = new Map();
export const zero: Sum = new Map();

export function fraction(num: bigint, den = 1n): Rational {
  let [a, b] = [num < 0n ? -num : num, den];
  while (b !== 0n) [a, b] = [b, a % b];
  const common = a === 0n ? 1n : a;
  return { num: num / common, den: den / common };
}

export function constant(value: Rational): Sum {
  const coefficient = fraction(value.num, value.den);
  return coefficient.num === 0n ? zero : new Map([['', { coefficient, factors: NONE }]]);
}

export const whole = (value: number): Sum => constant({ num: BigInt(value), den: 1n });

/** One atom to a power, as a sum. */
export function single(atom: Atom, power = 1): Sum {
  const factors: Factors = new Map([[atom.key, { atom, power }]]);
  return new Map([[keyOf(factors), { coefficient: { num: 1n, den: 1n }, factors }]]);
}

export const named = (name: string): Sum => single({ kind: 'name', key: name, name });
export const opaque = (key: string, expression: Expression): Sum => single({ kind: 'opaque', key, expression });

/** A function of sums. An even or odd one has the sign of its argument's leading term taken out. */
export function called(func: string, args: readonly Sum[]): Sum {
  const [first = zero] = args;
  const [leading] = [...first.keys()].sort();
  const leads = leading === undefined ? 0n : (first.get(leading)?.coefficient.num ?? 0n);
  if (leads < 0n && (func === 'cos' || func === 'abs')) return called(func, [negated(first)]);
  if (leads < 0n && ['sin', 'tan', 'asin', 'atan', 'sign'].includes(func))
    return negated(called(func, [negated(first)]));
  if (first.size === 0 && ['sin', 'tan', 'asin', 'atan', 'sign', 'abs', 'sqrt'].includes(func)) return zero;
  if (first.size === 0 && (func === 'cos' || func === 'exp')) return whole(1);
  return single({ kind: 'call', key: `${func}(${args.map(sumKey).join(',')})`, func, args });
}

/** The same for the same sum, whatever the order of its terms. */
function sumKey(sum: Sum): string {
  return [...sum]
    .map(
      ([
        key,
        {
          coefficient: { num, den },
        },
      ]) => `${num}/${den} ${key}`,
    )
    .sort()
    .join(' + ');
}

function keyOf(factors: Factors): string {
  return [...factors]
    .map(([key, { power }]) => (power === 1 ? key : `${key}^${power}`))
    .sort()
    .join(' ');
}

function put(sum: Map<string, Term>, { coefficient, factors }: Term): void {
  const key = keyOf(factors);
  const before = sum.get(key)?.coefficient ?? { num: 0n, den: 1n };
  const both = fraction(before.num * coefficient.den + coefficient.num * before.den, before.den * coefficient.den);
  if (both.num === 0n) sum.delete(key);
  else sum.set(key, { coefficient: both, factors });
  if (sum.size > MOST_TERMS) throw new NoSum('motion_too_large', String(MOST_TERMS));
}

export function add(...sums: readonly Sum[]): Sum {
  const result = new Map<string, Term>();
  for (const sum of sums) for (const term of sum.values()) put(result, term);
  return result;
}

export function negated(sum: Sum): Sum {
  const minus = ({ coefficient, factors }: Term): Term => ({
    coefficient: { num: -coefficient.num, den: coefficient.den },
    factors,
  });
  return new Map([...sum].map(([key, term]) => [key, minus(term)]));
}

export const subtract = (a: Sum, b: Sum): Sum => add(a, negated(b));

export function multiply(a: Sum, b: Sum): Sum {
  if (a.size * b.size > MOST_PRODUCTS) throw new NoSum('motion_too_large', String(MOST_TERMS));
  const result = new Map<string, Term>();
  for (const x of a.values()) for (const y of b.values()) for (const term of product(x, y).values()) put(result, term);
  return result;
}

/** Of two terms; more than one where roots come out, as `sqrt(a + b)^2` does. */
function product(x: Term, y: Term): Sum {
  const factors = new Map(x.factors);
  let rest: Sum | undefined;
  for (const [key, { atom, power }] of y.factors) {
    let both = (factors.get(key)?.power ?? 0) + power;
    if (atom.kind === 'call' && atom.func === 'sqrt' && Math.abs(both) > 1) {
      const [under = zero] = atom.args;
      const out = Math.trunc(both / 2);
      rest = multiply(rest ?? whole(1), raised(under, out));
      both -= 2 * out;
    }
    if (both === 0) factors.delete(key);
    else factors.set(key, { atom, power: both });
  }
  const { num, den } = timesFraction(x.coefficient, y.coefficient);
  const term: Term = { coefficient: fraction(num, den), factors };
  const own: Sum = new Map([[keyOf(factors), term]]);
  return rest === undefined ? own : multiply(own, rest);
}

/** A sum to a whole power: multiplied out above, kept whole under a fraction. */
export function raised(sum: Sum, power: number): Sum {
  if (Math.abs(power) > HIGHEST_POWER) throw new NoSum('motion_too_large', String(MOST_TERMS));
  if (power < 0) return raised(inverse(sum), -power);
  let result = whole(1);
  for (let i = 0; i < power; i++) result = multiply(result, sum);
  return result;
}

function inverse(sum: Sum): Sum {
  const [first, ...others] = sum.values();
  if (first === undefined) throw new NoSum('motion_division_by_zero', '0');
  if (others.length > 0) return single({ kind: 'sum', key: `(${sumKey(sum)})`, of: sum }, -1);
  const { num, den } = first.coefficient;
  const coefficient = num < 0n ? { num: -den, den: -num } : { num: den, den: num };
  let result = constant(coefficient);
  for (const { atom, power } of first.factors.values())
    result = multiply(result, atom.kind === 'sum' && power < 0 ? raised(atom.of, -power) : single(atom, -power));
  return result;
}

/** The number that a sum is, if it is one. */
export function numberOf(sum: Sum): Rational | undefined {
  if (sum.size === 0) return { num: 0n, den: 1n };
  return sum.size === 1 ? sum.get('')?.coefficient : undefined;
}

/** Every name in a sum, those inside functions and fractions too. */
export function namesOf(sum: Sum, into = new Set<string>()): Set<string> {
  for (const { factors } of sum.values()) for (const { atom } of factors.values()) namesOfAtom(atom, into);
  return into;
}

export function namesOfAtom(atom: Atom, into = new Set<string>()): Set<string> {
  if (atom.kind === 'name') into.add(atom.name);
  else if (atom.kind === 'sum') namesOf(atom.of, into);
  else if (atom.kind === 'call') for (const arg of atom.args) namesOf(arg, into);
  return into;
}

/** The sum with other sums in place of some atoms, wherever they stand; `instead` answers undefined to leave one. */
export function replaced(sum: Sum, instead: (atom: Atom) => Sum | undefined): Sum {
  const within = (atom: Atom): Sum => {
    const other = instead(atom);
    if (other !== undefined) return other;
    if (atom.kind === 'call')
      return called(
        atom.func,
        atom.args.map((arg) => replaced(arg, instead)),
      );
    return atom.kind === 'sum' ? replaced(atom.of, instead) : single(atom);
  };
  return add(
    ...[...sum.values()].map(({ coefficient, factors }) =>
      [...factors.values()].reduce<Sum>(
        (product, { atom, power }) => multiply(product, raised(within(atom), power)),
        constant(coefficient),
      ),
    ),
  );
}

type Call = Extract<Atom, { kind: 'call' }>;

/**
 * The sum with sin² + cos² taken as 1, and sines and cosines of two angles in two terms taken together as one of their
 * sum or difference, as far as terms pair up.
 */
export function shortened(sum: Sum): Sum {
  let current = sum;
  for (let next = pairedOnce(current); next !== undefined; next = pairedOnce(current)) current = next;
  return current;
}

function pairedOnce(sum: Sum): Sum | undefined {
  for (const [key, term] of sum) {
    const circular = [...term.factors.values()].flatMap(({ atom, power }) =>
      atom.kind === 'call' && (atom.func === 'sin' || atom.func === 'cos') && power > 0 ? [{ atom, power }] : [],
    );
    for (const [i, { atom: a, power }] of circular.entries()) {
      if (a.func !== 'sin') continue;
      if (power >= 2) {
        const found = pair(sum, key, term, [a, a]);
        if (found !== undefined) return found;
      }
      for (const [j, { atom: b }] of circular.entries()) {
        if (i === j || (b.func === 'sin' && j < i)) continue;
        const found = pair(sum, key, term, [a, b]);
        if (found !== undefined) return found;
      }
    }
  }
  return undefined;
}

/** Joins the term that holds `sin(u)` and `second` with the one that holds the other function of both, if it is there. */
function pair(sum: Sum, key: string, term: Term, [first, second]: readonly [Call, Call]): Sum | undefined {
  const rest = product(term, { coefficient: { num: 1n, den: 1n }, factors: under(first, second) });
  const without = rest.values().next().value;
  const [u = zero] = first.args;
  const [v = zero] = second.args;
  if (rest.size !== 1 || without === undefined) return undefined;
  const others = multiply(rest, multiply(other(first), other(second)));
  const [partnerKey] = others.keys();
  const partner = partnerKey === undefined || partnerKey === key ? undefined : sum.get(partnerKey);
  if (partnerKey === undefined || partner === undefined || partner.coefficient.den !== term.coefficient.den)
    return undefined;
  const isSame = partner.coefficient.num === term.coefficient.num;
  if (!isSame && partner.coefficient.num !== -term.coefficient.num) return undefined;
  const together =
    second.func === 'sin'
      ? isSame
        ? called('cos', [subtract(u, v)])
        : first.key === second.key
          ? undefined
          : negated(called('cos', [add(u, v)]))
      : called('sin', [isSame ? add(u, v) : subtract(u, v)]);
  if (together === undefined) return undefined;
  const joined = multiply(rest, together);
  const result = new Map<string, Term>();
  // What was joined stands where the first of the two stood.
  let isJoined = false;
  for (const [each, old] of sum) {
    if (each !== key && each !== partnerKey) put(result, old);
    else if (!isJoined) {
      isJoined = true;
      for (const one of joined.values()) put(result, one);
    }
  }
  return result;
}

function under(first: Call, second: Call): Factors {
  if (first.key === second.key) return new Map([[first.key, { atom: first, power: -2 }]]);
  return new Map([first, second].map((atom) => [atom.key, { atom, power: -1 }]));
}

const other = ({ func, args }: Call): Sum => called(func === 'sin' ? 'cos' : 'sin', args);
