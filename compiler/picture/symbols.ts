/** How names, units, operators and functions are written and said. */

import type { UnitExpression } from '../language/syntax.ts';

/** Greek letters by their names in block texts. */
const greek: Readonly<Record<string, string>> = {
  alpha: 'α',
  beta: 'β',
  gamma: 'γ',
  delta: 'δ',
  epsilon: 'ϵ',
  zeta: 'ζ',
  eta: 'η',
  theta: 'θ',
  iota: 'ι',
  kappa: 'κ',
  lambda: 'λ',
  mu: 'μ',
  nu: 'ν',
  xi: 'ξ',
  pi: 'π',
  rho: 'ρ',
  sigma: 'σ',
  tau: 'τ',
  phi: 'φ',
  chi: 'χ',
  psi: 'ψ',
  omega: 'ω',
  Gamma: 'Γ',
  Delta: 'Δ',
  Theta: 'Θ',
  Lambda: 'Λ',
  Xi: 'Ξ',
  Pi: 'Π',
  Sigma: 'Σ',
  Phi: 'Φ',
  Psi: 'Ψ',
  Omega: 'Ω',
};

/** A name as mathematics writes it. */
export interface NameParts {
  /** A letter, a Greek letter or a word. */
  readonly head: string;
  readonly sub: string | undefined;
  /** Of several letters. */
  readonly word: boolean;
}

/** `theta_w` is θ with w below; `x1` is x with 1 below; `dt` is T, the block's own period. */
export function nameParts(name: string): NameParts {
  if (name === 'dt') return { head: 'T', sub: undefined, word: false };
  const [first = '', ...rest] = name.split('_').filter((part) => part !== '');
  const digits = /^([A-Za-z]+?)(\d+)$/.exec(first);
  const stem = digits?.[1] ?? first;
  const head = Object.hasOwn(greek, stem) ? (greek[stem] ?? stem) : stem;
  const below = [...(digits?.[2] === undefined ? [] : [digits[2]]), ...rest.map((part) => greekOr(part))];
  return { head, sub: below.length === 0 ? undefined : below.join(' '), word: [...head].length > 1 };
}

function greekOr(part: string): string {
  return Object.hasOwn(greek, part) ? (greek[part] ?? part) : part;
}

const raised: Readonly<Record<string, string>> = {
  '-': '⁻',
  '0': '⁰',
  '1': '¹',
  '2': '²',
  '3': '³',
  '4': '⁴',
  '5': '⁵',
  '6': '⁶',
  '7': '⁷',
  '8': '⁸',
  '9': '⁹',
};

function raise(power: string): string {
  return [...power].map((digit) => raised[digit] ?? digit).join('');
}

/** A unit as it is printed: `m/s²`, `N m`, `kΩ`, `µF`, `°`. */
export function unitText(unit: UnitExpression | string): string {
  const written = typeof unit === 'string' ? unit : unit.text;
  return written
    .replace(/\^(-?\d+)/g, (_, power: string) => raise(power))
    .replace(/\b([pnumckMG]?)Ohm\b/g, '$1Ω')
    .replace(/\bu(?=(?:m|s|g|A|V|F|H|Ω|W|N|T|rad)\b)/g, 'µ')
    .replace(/\bdeg\b/g, '°')
    .replace(/\bpercent\b/g, '%')
    .trim();
}

/** A number and its unit with the space between them that belongs there. */
export function quantityText(number: string, unit: string): string {
  const printed = unitText(unit);
  const digits = number
    .replace(/^-/, '−')
    .replace(/[eE][+]?(-?)(\d+)$/, (_, minus: string, power: string) => `·10${raise(minus + power)}`);
  if (printed === '') return digits;
  return printed.startsWith('°') ? digits + printed : `${digits} ${printed}`;
}

/** A value as the sheet has it: `0.5 rad/s` with its unit printed properly; any other expression as it is. */
export function valueText(written: string): string {
  const parts = /^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z%][A-Za-z0-9 ^/*%-]*)?\s*$/.exec(written);
  if (parts === null) return written.replace(/(^|[\s(,[])-(?=[\d.])/g, '$1−');
  return quantityText(parts[1] ?? '', parts[2] ?? '');
}

/** Functions written as a name before their argument. */
export const functionNames: Readonly<Record<string, string>> = {
  asin: 'arcsin',
  acos: 'arccos',
  atan: 'arctan',
  atan2: 'arctan2',
  log: 'ln',
  count: 'number of',
};

/** Operators with the space around them in em. */
export const operators: Readonly<
  Record<string, { readonly sign: string; readonly gap: number; readonly said: string }>
> = {
  '+': { sign: '+', gap: 0.22, said: 'plus' },
  '-': { sign: '−', gap: 0.22, said: 'minus' },
  '==': { sign: '=', gap: 0.28, said: 'equals' },
  '!=': { sign: '≠', gap: 0.28, said: 'is not' },
  '<': { sign: '<', gap: 0.28, said: 'is less than' },
  '<=': { sign: '≤', gap: 0.28, said: 'is at most' },
  '>': { sign: '>', gap: 0.28, said: 'is greater than' },
  '>=': { sign: '≥', gap: 0.28, said: 'is at least' },
  and: { sign: 'and', gap: 0.28, said: 'and' },
  or: { sign: 'or', gap: 0.28, said: 'or' },
};

/** Functions as said before "of". */
export const functionsSaid: Readonly<Record<string, string>> = {
  sin: 'sine',
  cos: 'cosine',
  tan: 'tangent',
  asin: 'arc sine',
  acos: 'arc cosine',
  atan: 'arc tangent',
  atan2: 'arc tangent',
  exp: 'e to the',
  log: 'natural logarithm',
  sqrt: 'square root',
  abs: 'size',
  min: 'least',
  max: 'greatest',
  floor: 'floor',
  ceil: 'ceiling',
  round: 'rounded',
  sum: 'sum',
  product: 'product',
  transpose: 'transpose',
};
