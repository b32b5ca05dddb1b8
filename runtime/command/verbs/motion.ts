/** `motion`: derives equations of motion from a model's energies, and writes them as a plant block. */

import { basename } from 'node:path';
import { compile } from '../../../compiler/compile.ts';
import { printExpression } from '../../../compiler/language/print.ts';
import { equationsOfMotion } from '../../../compiler/linear/motion.ts';
import { balances, plantBlock } from '../../../compiler/linear/motion_block.ts';
import { MAX_MODEL_LENGTH, readEnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { blankSheet } from '../../../compiler/sheet/sheet.ts';
import { type Answer, findingsData, messagesOf, Refusal, refusedBy } from '../answer.ts';
import { readText, writeText } from '../files.ts';

/** The block is compiled before it is handed out. `to` is the file it is written to; without it the block is printed. */
export function motion(file: string, { to }: { readonly to?: string }): Answer {
  const model = readEnergyModel(readText(file, MAX_MODEL_LENGTH));
  if (model.value === undefined) return refusedBy(file, model.findings);
  if (to !== undefined && basename(to) !== `${model.value.name}.block`)
    throw new Refusal(`a block's file is called after it; write --to ${model.value.name}.block, in any folder`, to);
  const { value, findings } = equationsOfMotion(model.value);
  if (value === undefined) return refusedBy(file, findings);
  const block = plantBlock(value, model.value);
  const { name } = model.value;
  const alone = { ...blankSheet(), shelf: { [name]: block }, blocks: { [name]: { is: name } } };
  const compiled = compile(alone, { library: new Map() });
  if (compiled.value === undefined)
    return refusedBy(
      file,
      compiled.findings.filter(({ level }) => level === 'error'),
    );
  const equations = balances(value).map(printExpression);
  if (to !== undefined) writeText(to, block);
  return {
    status: 0,
    data: { equations, block, findings: findingsData(findings) },
    text: to === undefined ? block.trimEnd() : [...equations, `written to ${to}`].join('\n'),
    messages: messagesOf(file, findings),
  };
}
