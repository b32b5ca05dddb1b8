/** `margins --vary`: what becomes of a sheet's loop when a setting is a little more or less than it says. */

import { type Member, worstOf } from '../../../compiler/linear/bands.ts';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import { type Answer, Refusal } from '../answer.ts';
import { isAnswer } from '../design.ts';
import { figures } from '../figures.ts';
import { type Analysis, modelOf, openAnalysis, type SheetArguments } from '../sheet_linear.ts';

/** Where a band is looked at, as parts of its half width. */
const PLACES = [-1, -0.5, 0, 0.5, 1];

/** A setting and how far it may be off, as a part of it. */
export interface Variation {
  readonly setting: string;
  readonly part: number;
}

/** `block.setting=±20%`. */
export function variationArgument(text: string): Variation {
  const [, setting, percent] = /^\s*(\w+(?:\.\w+)+)\s*=\s*(?:±|\+-|\+\/-)?\s*(\d+(?:\.\d+)?)\s*%\s*$/.exec(text) ?? [];
  const part = Number(percent) / 100;
  if (setting === undefined || !(part > 0 && part < 1))
    throw new Refusal(`--vary ${text} says no band; write --vary 'block.setting=±20%', between 0 and 100 %`);
  return { setting, part };
}

/** The members of every band and the worst of all, or the answer why one of them has no margins. */
export function bandsOf(
  open: Analysis,
  cuts: readonly string[],
  given: Pick<SheetArguments, 'hold' | 'set'>,
  varied: readonly Variation[],
) {
  const members: Member[] = [];
  for (const { setting, part } of varied) {
    const nominal = numberOf(open, setting);
    for (const place of PLACES) {
      const factor = 1 + place * part;
      const changed = openAnalysis(open.file, { hold: given.hold, set: [...given.set, [setting, nominal * factor]] });
      if (isAnswer(changed)) return changed;
      const [cut = ''] = cuts;
      const model = modelOf(changed, { from: [cut], to: [cut], cut: cuts });
      if (isAnswer(model)) return model;
      members.push({ name: setting, factor, margins: sheetMargins(model) });
    }
  }
  return { members, worst: worstOf(members) };
}

/** What the bands say, for people. */
export function bandText({ members, worst }: Exclude<ReturnType<typeof bandsOf>, Answer>): string[] {
  const lines = members.map(({ name, factor, margins }) => {
    const phase = margins.phaseMargins.map((degrees) => `${degrees.toFixed(1)}°`).join(', ') || 'no crossover';
    const state = margins.closedLoopUnstable === 0 ? `modulus margin ${figures(margins.modulusMargin)}` : 'unstable';
    return `  ${name} × ${figures(factor)}: ${phase}, ${state}`;
  });
  return ['with a setting a little off', ...lines, `  the worst is ${worst.name} × ${figures(worst.factor)}`];
}

function numberOf(open: Analysis, setting: string): number {
  const dot = setting.lastIndexOf('.');
  const numbers = open.compiled.resolved.instances
    .get(setting.slice(0, dot))
    ?.settings.get(setting.slice(dot + 1))?.numbers;
  const [number] = numbers ?? [];
  if (number === undefined || numbers?.length !== 1 || number === 0 || !Number.isFinite(number))
    throw new Refusal(
      `--vary: ${setting} is no setting with one number other than 0; name one, such as inner.lead.gain`,
    );
  return number;
}
