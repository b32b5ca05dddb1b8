/** What the linear verbs share: a sheet compiled for analysis, and what is held as the command line says it. */

import { type Compiled, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { type SheetModel, sheetModel } from '../../compiler/linear/sheet_model.ts';
import type { SheetRequest } from '../../compiler/linear/sheet_request.ts';
import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import { withSettings } from '../bench/run.ts';
import { type Answer, Refusal, refusedBy } from './answer.ts';
import { settingValue } from './arguments.ts';
import { isAnswer, openSheet } from './design.ts';
import { figures } from './figures.ts';

/** Ports and values as the arguments of a linear verb say them. */
export interface SheetArguments {
  readonly from: readonly string[];
  readonly to: readonly string[];
  readonly cut: readonly string[];
  readonly hold: readonly string[];
  /** Settings put before compiling. */
  readonly set: readonly (readonly [path: string, value: SettingValue])[];
}

/** A sheet compiled in 64 bits, and what is held; what 32 bits lose is `check`'s to say. */
export interface Analysis {
  readonly file: string;
  readonly compiled: Compiled;
  readonly hold: SheetRequest['hold'];
}

/** Opens a sheet for analysis, or answers why not. */
export function openAnalysis(file: string, given: Pick<SheetArguments, 'hold' | 'set'>): Analysis | Answer {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const changes: Finding[] = [];
  const sheet = withSettings(open.sheet, Object.fromEntries(given.set), changes);
  const design = compile(sheet, { ...open.options, number: 'f64' });
  const wrong = [...changes, ...design.findings].filter(({ level }) => level === 'error');
  if (design.value === undefined || wrong.length > 0) return refusedBy(file, wrong);
  return { file, compiled: design.value, hold: Object.fromEntries(given.hold.map(heldArgument)) };
}

/** The linear model of a sheet, or the answer why there is none. */
export function openModel(file: string, given: SheetArguments): SheetModel | Answer {
  const open = openAnalysis(file, given);
  return isAnswer(open) ? open : modelOf(open, given);
}

/** The linear model between ports, or the answer why there is none. */
export function modelOf(
  { file, compiled, hold }: Analysis,
  ports: Pick<SheetArguments, 'from' | 'to' | 'cut'>,
): SheetModel | Answer {
  const { value, findings } = sheetModel(compiled, { from: ports.from, to: ports.to, cut: ports.cut, hold });
  return value ?? refusedBy(file, findings);
}

/** What was taken for granted, for people: the plant's point of rest, modes, and what several rates mean. */
export function groundsOf({ rest, assumed, samples, plant, heldWires }: SheetModel): string[] {
  const still = rest.filter(({ name }) => plant.includes(name)).map(({ name, value }) => `${name} = ${figures(value)}`);
  return [
    ...(still.length === 0 ? [] : [`about the point of rest ${still.join(', ')}`]),
    ...Object.entries(assumed).map(([name, mode]) => `${name} is taken as ${mode}`),
    'noise and the steps of sensors are left out; limits, gates and friction act as they stand at rest',
    ...heldWires.map(
      (wire) => `${wire} is cut inside the plant and held from tick to tick: only nearly what the wire does`,
    ),
    ...(samples === 1
      ? []
      : ['several rates: responses are those at the frequency itself, stability is that of a whole period']),
  ];
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
