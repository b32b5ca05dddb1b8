/** `emit`: the controller as C, in one flat folder. */

import { join } from 'node:path';
import { cFields, emitC } from '../../../compiler/c/emit.ts';
import { emitSelfcheck } from '../../../compiler/c/selfcheck.ts';
import type { Finding } from '../../../compiler/findings.ts';
import type { Real } from '../../../compiler/ir/program.ts';
import { selfcheckReference } from '../../bench/selfcheck.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import { isAnswer, openDesign } from '../design.ts';
import { makeFolder, writeText } from '../files.ts';

export interface EmitArguments {
  readonly to: string;
  readonly target: string;
  readonly number?: Real;
  readonly selfcheck?: string;
}

/** What C can be made for. */
const TARGETS = ['plain'];

export async function emit(file: string, given: EmitArguments): Promise<Answer> {
  if (!TARGETS.includes(given.target)) {
    throw new Refusal(`--target ${given.target} is not known; known is ${TARGETS.join(', ')}`);
  }
  const design = openDesign(file, given.number);
  if (isAnswer(design)) return design;
  const { controller } = design.compiled;
  const files = emitC(controller, {
    name: design.options.name,
    purpose: design.sheet.title,
    tick: String(design.sheet.tick),
  });
  if (given.selfcheck !== undefined) {
    const findings: Finding[] = [];
    const request = { ...design.options, number: design.compiled.number, run: given.selfcheck };
    const reference = await selfcheckReference(design.sheet, design.compiled, request, findings);
    if (reference === undefined)
      return refusedBy(
        file,
        findings.filter((finding) => finding.level === 'error'),
      );
    files.push(emitSelfcheck(controller, reference, { name: design.options.name }));
  }
  const fields = cFields(controller);
  makeFolder(given.to);
  for (const { name, text } of files) writeText(join(given.to, name), text);
  const names = files.map(({ name }) => name);
  return {
    status: 0,
    data: {
      files: names,
      memoryBytes: fields.bytes.m,
      inputs: fields.in.map((field) => field.name),
      outputs: fields.out.map((field) => field.name),
    },
    text: [...names.map((name) => join(given.to, name)), `${fields.bytes.m} bytes of memory`].join('\n'),
  };
}
