/** Numbers of a run as people read them: four digits, the unit somebody chose, words for modes and truths. */

import { parseUnit } from '../../compiler/language/parser.ts';
import { dimensionless, sameDimension, unitOf } from '../../compiler/language/units.ts';
import { unitText } from '../../compiler/picture/symbols.ts';
import type { Recorded } from './bench_messages.ts';

/** How a value is shown: divided by `factor`, with the unit after it. */
export interface Shown {
  readonly factor: number;
  readonly unit: string;
}

const known = new Map<string, Shown | undefined>();

/** A unit as it is shown; undefined if it cannot be read or has letters still to be solved. */
export function shownUnit(unit: string): Shown | undefined {
  if (unit === '') return { factor: 1, unit: '' };
  if (known.has(unit)) return known.get(unit);
  const parsed = parseUnit(unit).value;
  const found = parsed === undefined ? undefined : unitOf(parsed);
  const shown = found === undefined || 'unknown' in found ? undefined : { factor: found.factor, unit: unitText(unit) };
  known.set(unit, shown);
  return shown;
}

/** How a recorded value is shown: in the unit chosen for it, else in its own. */
export function shownAs(facts: Pick<Recorded, 'unit'>, chosen: string | undefined): Shown {
  const own = shownUnit(facts.unit) ?? { factor: 1, unit: facts.unit };
  return (chosen === undefined ? undefined : shownUnit(chosen)) ?? own;
}

/** True, or why a value in one unit cannot be shown in another. */
export function canShow(own: string, wanted: string): true | string {
  const unit = (text: string) => {
    const parsed = text === '' ? undefined : parseUnit(text).value;
    return parsed === undefined ? undefined : unitOf(parsed);
  };
  const [from, to] = [unit(own), unit(wanted)];
  if (to === undefined || 'unknown' in to) return `I do not know the unit ${wanted}.`;
  const dimension = from === undefined || 'unknown' in from ? dimensionless : from.dimension;
  return (
    sameDimension(dimension, to.dimension) || `${wanted} is something else than ${own === '' ? 'a plain number' : own}.`
  );
}

/** A number with four digits: `0.0314`, `12.35`, `1.235e6`; of steady width where digits are. */
export function numberWords(value: number): string {
  if (Number.isNaN(value)) return 'not a number';
  if (!Number.isFinite(value)) return value > 0 ? '∞' : '−∞';
  const size = Math.abs(value);
  if (size === 0) return '0.000';
  const text =
    size < 1e-3 || size >= 1e5 ? value.toExponential(3) : value.toFixed(Math.max(0, 3 - Math.floor(Math.log10(size))));
  return (size < 1 && size >= 1e-3 ? value.toFixed(4) : text).replaceAll('-', '−').replace('e+', 'e');
}

/** One value in words, its unit not included. */
export function valueWords(facts: Pick<Recorded, 'type' | 'modes'>, value: number, shown: Shown): string {
  if (facts.modes.length > 0) return facts.modes[value] ?? String(value);
  if (facts.type === 'bool') return value === 0 ? 'no' : 'yes';
  if (facts.type === 'i32' && shown.factor === 1) return String(value).replace('-', '−');
  return numberWords(value / shown.factor);
}

/** A value with its unit; degrees stand close to their sign. */
export function withUnit(words: string, unit: string): string {
  return unit === '' ? words : unit.startsWith('°') ? `${words}${unit}` : `${words} ${unit}`;
}

/** A time on the rail and on charts: as many digits as a tick needs. */
export function timeWords(seconds: number, tick: number): string {
  const digits = Math.min(6, Math.max(1, Math.ceil(-Math.log10(tick) - 1e-9)));
  return seconds.toFixed(digits);
}
