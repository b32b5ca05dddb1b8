/** Polynomials, times and frequencies as they are written on the command line. */

import { parseUnit } from '../../compiler/language/parser.ts';
import { decimalIn } from '../../compiler/language/quantity.ts';
import { dimensionText, unitOf } from '../../compiler/language/units.ts';
import type { TransferFunction } from '../../compiler/linear/system.ts';
import { Refusal } from './answer.ts';

/** Options that say a transfer function. */
export interface TransferOptions {
  readonly num?: string;
  readonly den?: string;
  readonly dt?: string;
  readonly delay?: string;
}

/** The transfer function that the options say; what is in it is checked by who works on it. */
export function transferArgument({ num, den, dt, delay }: TransferOptions): TransferFunction {
  if (num === undefined || den === undefined) {
    const missing = num === undefined ? (den === undefined ? '--num and --den are' : '--num is') : '--den is';
    throw new Refusal(`${missing} missing; write coefficients in descending powers, such as --num 4 --den 1,3,3,1`);
  }
  return {
    num: numberList('--num', num),
    den: numberList('--den', den),
    dt: dt === undefined ? 0 : timeArgument('--dt', dt),
    delay: delay === undefined ? 0 : timeArgument('--delay', delay),
  };
}

const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/** A list of numbers, separated by commas or spaces. `NaN` and `Infinity` are numbers too: what they spoil says so. */
export function numberList(option: string, text: string): number[] {
  const cells = text
    .trim()
    .replace(/^\[(.*)\]$/, '$1')
    .split(/\s*,\s*|\s+/);
  return cells.map((cell) => {
    if (NUMBER.test(cell) || /^[+-]?(nan|inf(inity)?)$/i.test(cell)) {
      return /nan/i.test(cell) ? Number.NaN : /inf/i.test(cell) ? Number.POSITIVE_INFINITY : Number(cell);
    }
    const what = cell === '' ? 'an empty place' : `“${cell}”`;
    throw new Refusal(
      `${option} holds ${what} where a number should be; write numbers with commas between, such as 1,2,10`,
    );
  });
}

const SECONDS = 's';
const EACH_SECOND = '1/s';
const HERTZ = 'cycle/s';

/** Seconds: `5ms`, `0.1 s`; a bare number is seconds. */
export function timeArgument(option: string, text: string): number {
  const { value, dimension } = quantity(option, text, 'a time such as 5ms');
  if (dimension === undefined || dimension === SECONDS) return value;
  throw new Refusal(`${option} ${text} is no time but ${dimension}; write it such as 5ms`);
}

/** rad/s: `3rad/s`, `2Hz` (times 2π), `60rpm`; a bare number is rad/s. */
export function frequencyArgument(option: string, text: string): number {
  const { value, dimension } = quantity(option, text, 'a frequency such as 3rad/s or 2Hz');
  if (dimension === HERTZ) return 2 * Math.PI * value;
  if (dimension === undefined || dimension === EACH_SECOND) return value;
  throw new Refusal(`${option} ${text} is no frequency but ${dimension}; write it such as 3rad/s or 2Hz`);
}

/** Frequencies with commas between. */
export function frequencyList(option: string, text: string): number[] {
  return text.split(',').map((cell) => {
    const w = frequencyArgument(option, cell.trim());
    if (w < 0) throw new Refusal(`${option} “${cell.trim()}” is less than 0; write a frequency from 0 up, such as 2Hz`);
    return w;
  });
}

/** A decimal with a unit perhaps, in SI; its dimension as one of the texts above, or in words. */
function quantity(option: string, text: string, such: string): { value: number; dimension: string | undefined } {
  const [, number = '', unit = ''] = /^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*(.*?)\s*$/i.exec(text) ?? [];
  if (number === '') throw new Refusal(`${option} “${text}” is no number; write ${such}`);
  if (unit === '') return { value: Number(number), dimension: undefined };
  const parsed = parseUnit(unit).value;
  const known = parsed === undefined ? undefined : unitOf(parsed);
  const value = parsed === undefined ? undefined : decimalIn(number, parsed);
  if (known === undefined || 'unknown' in known || value === undefined) {
    throw new Refusal(`${option} “${text}” has a unit that is not known, “${unit}”; write ${such}`);
  }
  const [kg, m, s, A, K, mol, cd, cycle] = known.dimension;
  const other = [kg, m, A, K, mol, cd].some((power) => power !== 0);
  if (!other && cycle === 0 && s === 1) return { value, dimension: SECONDS };
  if (!other && cycle === 0 && s === -1) return { value, dimension: EACH_SECOND };
  if (!other && cycle === 1 && s === -1) return { value, dimension: HERTZ };
  return { value, dimension: dimensionText(known.dimension) };
}
