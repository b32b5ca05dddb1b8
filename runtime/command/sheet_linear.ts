/** What the linear verbs share: a sheet compiled for analysis, and what is held as the command line says it. */

import { type SheetModel, sheetModel } from '../../compiler/linear/sheet_model.ts';
import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import { type Answer, Refusal, refusedBy } from './answer.ts';
import { settingValue } from './arguments.ts';
import { isAnswer, openDesign } from './design.ts';

/** Ports and values as the arguments of a linear verb say them. */
export interface SheetArguments {
  readonly from: readonly string[];
  readonly to: readonly string[];
  readonly cut: readonly string[];
  readonly hold: readonly string[];
}

/** The linear model of a sheet in 64 bits, or the answer why there is none. What 32 bits lose is `check`'s to say. */
export function openModel(file: string, given: SheetArguments): SheetModel | Answer {
  const design = openDesign(file, 'f64');
  if (isAnswer(design)) return design;
  const hold = Object.fromEntries(given.hold.map(heldArgument));
  const { value, findings } = sheetModel(design.compiled, { ...given, hold });
  return value ?? refusedBy(file, findings);
}

/** `PORT=EXPR`: what is held at the point of rest. */
function heldArgument(text: string): readonly [port: string, value: string | number | boolean] {
  const equals = text.indexOf('=');
  const port = text.slice(0, equals).trim();
  const value: SettingValue | undefined = equals < 1 ? undefined : settingValue(text.slice(equals + 1).trim());
  if (value === undefined || value === '' || typeof value === 'object')
    throw new Refusal(`--hold ${text} says no value; write --hold PORT=VALUE, such as --hold body.lean=0`);
  return [port, value];
}
