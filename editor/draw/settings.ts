/** The settings of a block: what each is, what it is put to, and whether what was typed will do. */
import { parseExpression } from '../../compiler/language/parser.ts';
import { printExpression } from '../../compiler/language/print.ts';
import type { Expression, UnitExpression } from '../../compiler/language/syntax.ts';
import { sameDimension, unitOf } from '../../compiler/language/units.ts';
import { walk } from '../../compiler/language/walk.ts';
import type { BlockOnSheet, SettingValue, Sheet } from '../../compiler/sheet/sheet.ts';
import { entry } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { textOf } from './shelf_items.ts';

export interface SettingFacts {
  readonly name: string;
  /** What it is for. */
  readonly about: string;
  readonly kind: 'quantity' | 'bool' | 'word' | 'text' | 'texts';
  /** A change recompiles; refused while a board runs. */
  readonly build: boolean;
  readonly words: readonly string[];
  readonly unit: UnitExpression | undefined;
  /** What the block's text says, as text. */
  readonly otherwise: string;
  /** `above 0`, `from 1 to 6`. */
  readonly bounds: string;
}

export function settingsOf(sheet: Sheet, block: BlockOnSheet): SettingFacts[] {
  const text = textOf(sheet, block.is);
  if (text === undefined) return groupSettings(sheet, block);
  const bounds = (of: {
    above: Expression | undefined;
    below: Expression | undefined;
    from: Expression | undefined;
    to: Expression | undefined;
  }) =>
    (['above', 'below', 'from', 'to'] as const)
      .flatMap((word) => (of[word] === undefined ? [] : [`${word} ${printExpression(of[word])}`]))
      .join(' ');
  const settings = text.settings.map(
    (one): SettingFacts => ({
      name: one.name,
      about: one.words ?? '',
      kind: one.type.base === 'bool' ? 'bool' : 'quantity',
      build: false,
      words: [],
      unit: one.type.unit,
      otherwise: printExpression(one.value),
      bounds: bounds(one.bounds),
    }),
  );
  const builds = text.builds.map(
    (one): SettingFacts => ({
      name: one.name,
      about: one.purpose ?? '',
      kind: one.type === 'int' ? 'quantity' : one.type,
      build: true,
      words: one.words,
      unit: undefined,
      otherwise: one.value.kind === 'word' ? one.value.word : printExpression(one.value),
      bounds: bounds(one.bounds),
    }),
  );
  return [...settings, ...builds];
}

/** Of a group: the settings that were put from outside, by dotted path. */
function groupSettings(sheet: Sheet, block: BlockOnSheet): SettingFacts[] {
  const group = entry(sheet.shelf, block.is);
  if (typeof group !== 'object') return [];
  return Object.keys(block.set ?? {}).map((name) => ({
    name,
    about: '',
    kind: 'quantity',
    build: false,
    words: [],
    unit: undefined,
    otherwise: '',
    bounds: '',
  }));
}

/** What a setting is put to, as it would be typed. */
export function settingText(block: BlockOnSheet, setting: SettingFacts): string {
  const value = block.set?.[setting.name];
  return value === undefined ? setting.otherwise : valueText(value);
}

export function valueText(value: SettingValue): string {
  if (typeof value === 'object') {
    const rows = value.map((row) => (typeof row === 'object' ? row.map(valueText).join(', ') : valueText(row)));
    return `[${rows.join(value.some((row) => typeof row === 'object') ? '; ' : ', ')}]`;
  }
  return String(value);
}

/** What typed text puts a setting to, or a sentence that says why it will not do. Empty text takes the block's own. */
export function readSetting(setting: SettingFacts, text: string): { value: SettingValue | undefined } | string {
  const typed = text.trim();
  if (typed === '') return { value: undefined };
  if (setting.kind === 'word')
    return setting.words.includes(typed) ? { value: typed } : `${setting.name} is one of ${setting.words.join(', ')}.`;
  if (setting.kind === 'bool') {
    const truth = { true: true, yes: true, false: false, no: false }[typed];
    return truth === undefined ? `${setting.name} is yes or no.` : { value: truth };
  }
  if (setting.kind === 'text') return { value: typed };
  if (setting.kind === 'texts')
    return {
      value: typed
        .replace(/^\[|\]$/g, '')
        .split(',')
        .map((one) => one.trim()),
    };
  const { value, findings } = parseExpression(typed);
  const wrong = findings.find((finding) => finding.level === 'error');
  if (value === undefined || wrong !== undefined)
    return wrong === undefined ? 'I cannot read this.' : sentence(wrong).full;
  return unitTrouble(setting, value) ?? { value: stored(value, typed) };
}

/** What a quantity typed in another unit is in the setting's own: `30 deg ▸ 0.5236 rad`; undefined where there is nothing to convert. */
export function conversionOf(setting: SettingFacts, text: string): string | undefined {
  const parsed = parseExpression(text).value;
  const wanted = setting.unit === undefined ? undefined : unitOf(setting.unit);
  if (parsed === undefined || wanted === undefined || 'unknown' in wanted || Object.keys(wanted.letters).length > 0)
    return undefined;
  const sign = parsed.kind === 'unary' && parsed.op === '-' ? -1 : 1;
  const number = parsed.kind === 'unary' ? parsed.arg : parsed;
  if (number.kind !== 'number' || number.unit === undefined) return undefined;
  const given = unitOf(number.unit);
  if ('unknown' in given || given.factor === wanted.factor) return undefined;
  // A number with a unit has its value in SI already.
  const value = Number(((sign * number.value) / wanted.factor).toPrecision(4));
  return `${number.unit.text} ▸ ${String(value).replace('-', '−')} ${setting.unit?.text}`;
}

/** Numbers are stored as numbers, arrays as arrays, all else as it was typed. */
function stored(expression: Expression, typed: string): SettingValue {
  if (expression.kind !== 'matrix') return plainNumber(expression) ?? typed;
  const rows = expression.rows.map((row) => row.map((cell) => plainNumber(cell) ?? printExpression(cell)));
  return rows.every((row) => row.length === 1) ? rows.flat() : rows;
}

function plainNumber(expression: Expression): number | undefined {
  if (expression.kind === 'number' && expression.unit === undefined) return expression.value;
  if (
    expression.kind === 'unary' &&
    expression.op === '-' &&
    expression.arg.kind === 'number' &&
    expression.arg.unit === undefined
  )
    return -expression.arg.value;
  return undefined;
}

/** A single number with a unit that cannot be this setting's; products and names are left to the compiler. */
function unitTrouble(setting: SettingFacts, expression: Expression): string | undefined {
  const wanted = setting.unit === undefined ? undefined : unitOf(setting.unit);
  if (wanted === undefined || 'unknown' in wanted || Object.keys(wanted.letters).length > 0) return undefined;
  const number = expression.kind === 'unary' ? expression.arg : expression;
  let trouble: string | undefined;
  if (number.kind === 'number')
    walk(number, (inner) => {
      if (inner.kind !== 'number' || inner.unit === undefined) return;
      const given = unitOf(inner.unit);
      if ('unknown' in given)
        trouble = `I do not know the unit ${given.unknown}${given.nearest.length > 0 ? `; did you mean ${given.nearest.join(' or ')}?` : '.'}`;
      else if (!sameDimension(given.dimension, wanted.dimension))
        trouble = `${setting.name} is in ${setting.unit?.text ?? 'no unit'}; ${inner.unit.text} is something else.`;
    });
  return trouble;
}
