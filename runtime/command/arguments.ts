/** Argument texts that mean more than a text. */

import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import { Refusal } from './answer.ts';

/** A comma list of names. */
export function wordList(text: string): readonly string[] {
  const words: string[] = [];
  let word = '';
  let depth = 0;
  // A comma inside brackets belongs to an element's index, as in `a.M[1,2]`.
  for (const letter of `${text},`) {
    if (letter === '[') depth++;
    if (letter === ']') depth--;
    if (letter === ',' && depth <= 0) {
      if (word.trim() !== '') words.push(word.trim());
      word = '';
    } else word += letter;
  }
  return words;
}

/** `block.setting=value`: the value is a number, an expression with units, a word, true or false, or an array. */
export function settingArgument(text: string): readonly [path: string, value: SettingValue] {
  const equals = text.indexOf('=');
  const path = text.slice(0, equals).trim();
  const value = text.slice(equals + 1).trim();
  if (equals < 1 || value === '' || !/^\w+(\.\w+)+$/.test(path)) {
    throw new Refusal(`--set ${text} says no setting; write --set block.setting=value, such as --set outer.gain=0.4`);
  }
  return [path, settingValue(value)];
}

/** A text as a sheet would hold it. */
export function settingValue(text: string): SettingValue {
  if (text === 'true' || text === 'false') return text === 'true';
  if (text.startsWith('[')) {
    try {
      const value = JSON.parse(text) as SettingValue;
      if (isSetting(value)) return value;
    } catch {
      // Not JSON: an expression such as [1, 2 m].
    }
    return text;
  }
  return quantityArgument(text);
}

/** A number as a number, anything else as an expression. */
export function quantityArgument(text: string): number | string {
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text) && Number.isFinite(Number(text)) ? Number(text) : text;
}

function isSetting(value: unknown): value is SettingValue {
  if (Array.isArray(value)) return value.every(isSetting);
  return typeof value === 'number' || typeof value === 'string' || typeof value === 'boolean';
}
