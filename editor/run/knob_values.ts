/** Numbers of knobs: where a slider ends, and how a new number is written in the words of the old one. */

import { parseExpression, parseUnit } from '../../compiler/language/parser.ts';
import { shownIn } from '../../compiler/language/quantity.ts';
import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import type { Adjustable } from '../work/bench_messages.ts';

/** Digits a slider writes. */
const DIGITS = 4;

/** The SI number of a plain quantity (`0.4 N m/rad`, −3, true); undefined for an expression with names. */
export function siValue(value: SettingValue): number | undefined {
  if (typeof value === 'number') return value;
  if (typeof value === 'boolean') return value ? 1 : 0;
  if (typeof value !== 'string') return undefined;
  const expression = parseExpression(value).value;
  if (expression?.kind === 'number') return expression.value;
  if (expression?.kind === 'unary' && expression.op === '-' && expression.arg.kind === 'number')
    return -expression.arg.value;
  return undefined;
}

/** Where a slider ends: the setting's own bounds, else from nothing to twice the value. */
export function knobRange(
  setting: Pick<Adjustable, 'low' | 'high'>,
  value: number | undefined,
): { low: number; high: number } {
  const about = value === undefined || !Number.isFinite(value) ? 0 : value;
  const low = setting.low ?? (about < 0 ? 2 * about : about === 0 ? -1 : 0);
  const high = setting.high ?? (about > 0 ? 2 * about : about === 0 ? 1 : 0);
  return { low: Math.min(low, about), high: Math.max(high, about, low + Number.EPSILON) };
}

/** An SI number as a quantity in the unit of the one before it, else in its own; at most four digits. */
export function quantityLike(before: SettingValue | undefined, value: number, unit: string): string {
  const expression = typeof before === 'string' ? parseExpression(before).value : undefined;
  const number = expression?.kind === 'unary' ? expression.arg : expression;
  const own = unit === '' || typeof before === 'number' ? undefined : parseUnit(unit).value;
  const written = number?.kind === 'number' ? number.unit : own;
  const rounded = Number(value.toPrecision(DIGITS));
  if (written === undefined) return String(rounded);
  const shown = Number(Number(shownIn(value, written)).toPrecision(DIGITS));
  return `${shown} ${written.text}`;
}
