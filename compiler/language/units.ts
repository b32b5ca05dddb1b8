/** Units: what a written unit is in coherent SI, and how a dimension is said in words. */

import { nearestNames } from '../findings.ts';
import { decimal, divide, multiply, nearestDouble, one, power, type Rational } from './rational.ts';
import type { UnitExpression } from './syntax.ts';

/** The base units a dimension counts, in this order. The radian is not among them: it is 1. A cycle is not 1. */
export const baseUnits = ['kg', 'm', 's', 'A', 'K', 'mol', 'cd', 'cycle'] as const;

/** Exponents of the base units, in the order of `baseUnits`; halves occur under square roots. */
export type Dimension = readonly number[];

export const dimensionless: Dimension = baseUnits.map(() => 0);

export const productOf = (a: Dimension, b: Dimension): Dimension => a.map((exponent, i) => exponent + (b[i] ?? 0));
export const quotientOf = (a: Dimension, b: Dimension): Dimension => a.map((exponent, i) => exponent - (b[i] ?? 0));
export const powerOf = (a: Dimension, exponent: number): Dimension => a.map((own) => own * exponent);
export const sameDimension = (a: Dimension, b: Dimension): boolean => a.every((exponent, i) => exponent === b[i]);

interface Unit {
  readonly factor: Rational;
  readonly dimension: Dimension;
  /** May stand behind a prefix. */
  readonly prefixes: boolean;
}

function exact(text: string): Rational {
  const value = decimal(text);
  if (value === undefined) throw new Error(`${text} is not a decimal`);
  return value;
}

const pi = exact('3.14159265358979323846264338327950288419716939937510582097494459230781640628620899');

const dimension = (kg: number, m: number, s: number, A = 0, K = 0, mol = 0, cd = 0, cycle = 0): Dimension => [
  kg,
  m,
  s,
  A,
  K,
  mol,
  cd,
  cycle,
];

/** Symbol, factor to coherent SI, dimension, prefixes. SI brochure, 9th edition (2019), tables 2, 4 and 8. */
const table: ReadonlyMap<string, Unit> = new Map(
  (
    [
      ['m', one, dimension(0, 1, 0), true],
      ['s', one, dimension(0, 0, 1), true],
      ['g', exact('0.001'), dimension(1, 0, 0), true],
      ['A', one, dimension(0, 0, 0, 1), true],
      ['K', one, dimension(0, 0, 0, 0, 1), true],
      ['mol', one, dimension(0, 0, 0, 0, 0, 1), true],
      ['cd', one, dimension(0, 0, 0, 0, 0, 0, 1), true],
      ['cycle', one, dimension(0, 0, 0, 0, 0, 0, 0, 1), false],
      ['Hz', one, dimension(0, 0, -1, 0, 0, 0, 0, 1), true],
      ['rad', one, dimensionless, true],
      ['N', one, dimension(1, 1, -2), true],
      ['Pa', one, dimension(1, -1, -2), true],
      ['J', one, dimension(1, 2, -2), true],
      ['W', one, dimension(1, 2, -3), true],
      ['V', one, dimension(1, 2, -3, -1), true],
      ['C', one, dimension(0, 0, 1, 1), true],
      ['F', one, dimension(-1, -2, 4, 2), true],
      ['Ohm', one, dimension(1, 2, -3, -2), true],
      ['H', one, dimension(1, 2, -2, -2), true],
      ['Wb', one, dimension(1, 2, -2, -1), true],
      ['T', one, dimension(1, 0, -2, -1), true],
      ['lm', one, dimension(0, 0, 0, 0, 0, 0, 1), true],
      ['lx', one, dimension(0, -2, 0, 0, 0, 0, 1), true],
      ['L', exact('0.001'), dimension(0, 3, 0), true],
      ['bar', exact('100000'), dimension(1, -1, -2), true],
      ['eV', exact('1.602176634e-19'), dimension(1, 2, -2), true],
      ['min', exact('60'), dimension(0, 0, 1), false],
      ['h', exact('3600'), dimension(0, 0, 1), false],
      ['deg', divide(pi, exact('180')), dimensionless, false],
      ['rev', multiply(exact('2'), pi), dimensionless, false],
      ['rpm', divide(pi, exact('30')), dimension(0, 0, -1), false],
      ['percent', exact('0.01'), dimensionless, false],
      ['count', one, dimensionless, false],
    ] as const
  ).map(([symbol, factor, dim, prefixes]): [string, Unit] => [symbol, { factor, dimension: dim, prefixes }]),
);

const prefixes: Readonly<Record<string, Rational>> = {
  p: exact('1e-12'),
  n: exact('1e-9'),
  u: exact('1e-6'),
  m: exact('1e-3'),
  c: exact('1e-2'),
  k: exact('1e3'),
  M: exact('1e6'),
  G: exact('1e9'),
};

/** Other ways to write the same symbols. */
const spellings: Readonly<Record<string, string>> = { Ω: 'Ohm', '°': 'deg', l: 'L' };

function lookUp(symbol: string): Unit | undefined {
  const spelt = symbol.replace(/^[µμ]/, 'u').replace(/Ω$/, 'Ohm');
  const whole = table.get(spellings[spelt] ?? spelt);
  if (whole !== undefined) return whole;
  const prefix = prefixes[spelt[0] ?? ''];
  const base = table.get(spelt.slice(1));
  if (prefix === undefined || base === undefined || !base.prefixes) return undefined;
  return { ...base, factor: multiply(prefix, base.factor) };
}

/** A single capital that is no unit, or a capital with digits: a letter that stands for a unit to be solved. */
export function isUnitLetter(symbol: string): boolean {
  return /^[A-Z][0-9]*$/.test(symbol) && lookUp(symbol) === undefined;
}

/** True for a unit's symbol, with a prefix perhaps; unit letters are not among them. */
export function isUnit(symbol: string): boolean {
  return lookUp(symbol) !== undefined;
}

export interface KnownUnit {
  /** Times this, a number in the unit is SI. The nearest double of `exact`. */
  readonly factor: number;
  readonly exact: Rational;
  readonly dimension: Dimension;
  /** Powers of the unit letters in it. */
  readonly letters: Readonly<Record<string, number>>;
}

export interface UnknownUnit {
  readonly unknown: string;
  /** Closest first; `N m` for a product written without its space. */
  readonly nearest: readonly string[];
}

/** What a written unit is in coherent SI. */
export function unitOf(expression: UnitExpression): KnownUnit | UnknownUnit {
  let factor = one;
  let dim = dimensionless;
  const letters: Record<string, number> = {};
  for (const { symbol, power: exponent } of expression.factors) {
    const unit = lookUp(symbol);
    if (unit !== undefined) {
      factor = multiply(factor, power(unit.factor, exponent));
      dim = productOf(dim, powerOf(unit.dimension, exponent));
    } else if (isUnitLetter(symbol)) {
      letters[symbol] = (letters[symbol] ?? 0) + exponent;
    } else {
      return { unknown: symbol, nearest: nearestUnits(symbol) };
    }
  }
  return { factor: nearestDouble(factor), exact: factor, dimension: dim, letters };
}

/** What an unknown symbol was probably meant to be. */
export function nearestUnits(symbol: string): string[] {
  const split: string[] = [];
  for (let i = 1; i < Math.min(symbol.length, 12); i++) {
    if (isUnit(symbol.slice(0, i)) && isUnit(symbol.slice(i))) split.push(`${symbol.slice(0, i)} ${symbol.slice(i)}`);
  }
  const prefixed = [...table].flatMap(([name, unit]) =>
    unit.prefixes ? [name, ...Object.keys(prefixes).map((prefix) => prefix + name)] : [name],
  );
  return [...split, ...nearestNames(symbol.slice(0, 20), prefixed)].slice(0, 3);
}

/** Compounds the trade has a usual way to say, most usual first. */
const usual: readonly (readonly [Dimension, string])[] = (
  [
    'm',
    's',
    'kg',
    'A',
    'K',
    'rad/s',
    'rad/s^2',
    'Hz',
    'N',
    'N m',
    'N m s',
    'W',
    'V',
    'Ohm',
    'C',
    'F',
    'H',
    'Wb',
    'T',
    'Pa',
    'm/s',
    'm/s^2',
    'm/s^3',
    'm^2',
    'm^3',
    'm^3/s',
    'kg m^2',
    'kg/s',
    'N/m',
    'N s/m',
    'N m/A',
    'V/m',
    'V/s',
    'A/s',
    'K/s',
    'K/W',
    'W/K',
    'J/K',
    'J/kg K',
    'kg/m^3',
    'Pa s',
    'lx',
  ] as const
).map((text) => [dimensionOfText(text), text]);

/** Reads a unit of the table above; not for users' texts. */
function dimensionOfText(text: string): Dimension {
  const factors = text.split('/').flatMap((part, i) =>
    part.split(' ').map((factor) => {
      const [symbol = '', exponent = '1'] = factor.split('^');
      return { symbol, power: Number(exponent) * (i === 0 ? 1 : -1) };
    }),
  );
  const unit = unitOf({ factors, text });
  if ('unknown' in unit) throw new Error(`no unit ${unit.unknown}`);
  return unit.dimension;
}

function inBaseUnits(dim: Dimension, before: string[]): string {
  const above = [...before];
  const below: string[] = [];
  baseUnits.forEach((symbol, i) => {
    const exponent = dim[i] ?? 0;
    if (exponent === 0) return;
    const size = Math.abs(exponent);
    (exponent > 0 ? above : below).push(size === 1 ? symbol : `${symbol}^${size}`);
  });
  if (below.length === 0) return above.join(' ') || '1';
  return `${above.join(' ') || '1'}/${below.join(' ')}`;
}

/** A dimension in words: `N m`, `rad/s`, `kg m^2/s A`, or `1` for none. */
export function dimensionText(dim: Dimension): string {
  if (sameDimension(dim, dimensionless)) return '1';
  const known = usual.find(([own]) => sameDimension(own, dim));
  if (known !== undefined) return known[1];
  const size = (d: Dimension): number => d.reduce((total, exponent) => total + Math.abs(exponent), 0);
  let best = { text: inBaseUnits(dim, []), size: size(dim) };
  for (const symbol of ['N', 'J', 'W', 'V', 'Ohm', 'C', 'F', 'H', 'Wb', 'Pa', 'Hz']) {
    const rest = quotientOf(dim, table.get(symbol)?.dimension ?? dimensionless);
    if (size(rest) + 1 < best.size) best = { text: inBaseUnits(rest, [symbol]), size: size(rest) + 1 };
  }
  return best.text;
}
