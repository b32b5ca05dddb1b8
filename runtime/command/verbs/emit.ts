/** `emit`: the controller as C for a target, in one flat folder. */

import { dirname, join } from 'node:path';
import { cFields } from '../../../compiler/c/emit.ts';
import { mostNumbers } from '../../../compiler/c/reference.ts';
import { emitTarget, namedFor, type Target } from '../../../compiler/c/targets/target.ts';
import { targets } from '../../../compiler/c/targets/targets.ts';
import type { Finding } from '../../../compiler/findings.ts';
import type { Real } from '../../../compiler/ir/program.ts';
import { sheetHash } from '../../../compiler/sheet/identity.ts';
import { selfcheckReference } from '../../bench/selfcheck.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import { type Design, isAnswer, openDesign } from '../design.ts';
import { makeFolder, writeText } from '../files.ts';

export interface EmitArguments {
  readonly to: string;
  readonly target: string;
  readonly number?: Real;
  readonly selfcheck?: string;
}

export async function emit(file: string, given: EmitArguments): Promise<Answer> {
  const target = targetNamed(given.target);
  const design = openDesign(file, given.number);
  if (isAnswer(design)) return design;
  const { controller, number, resolved } = design.compiled;
  if (!target.numbers.includes(number)) {
    const known = target.numbers.join(', ');
    throw new Refusal(`--target ${target.name} has no ${number}; emit with --number ${known}`);
  }
  const findings: Finding[] = [];
  const check = given.selfcheck === undefined ? undefined : await checkOf(design, given.selfcheck, target, findings);
  if (given.selfcheck !== undefined && check === undefined)
    return refusedBy(
      file,
      findings.filter((finding) => finding.level === 'error'),
    );
  const { sheet } = design;
  const files = emitTarget(target, {
    name: design.options.name,
    title: sheet.title,
    program: controller,
    tick: { text: String(sheet.tick), seconds: resolved.tick },
    outputs: sheet.outputs,
    sheetHash: await sheetHash(sheet),
    ...(check === undefined ? {} : { check }),
  });
  const fields = cFields(namedFor(target, controller), ['tick'], target.alignment);
  makeFolder(given.to);
  for (const { name, text } of files) {
    const path = join(given.to, name);
    makeFolder(dirname(path));
    writeText(path, text);
  }
  const names = files.map(({ name }) => name);
  return {
    status: 0,
    data: {
      files: names,
      target: target.name,
      memoryBytes: fields.bytes.m,
      inputs: fields.in.map((field) => field.name),
      outputs: fields.out.map((field) => field.name),
    },
    text: [...names.map((name) => join(given.to, name)), `${fields.bytes.m} bytes of memory`].join('\n'),
  };
}

function targetNamed(name: string): Target {
  const target = targets.find((one) => one.name === name);
  if (target !== undefined) return target;
  throw new Refusal(`--target ${name} is not known; known is ${targets.map((one) => one.name).join(', ')}`);
}

/** What a run makes of the exported program; undefined after findings were reported. */
async function checkOf(design: Design, run: string, target: Target, findings: Finding[]) {
  const request = { ...design.options, number: design.compiled.number, run };
  const most = target.eachNumber ? mostNumbers : 0;
  const reference = await selfcheckReference(design.sheet, design.compiled, request, findings, most);
  return reference === undefined ? undefined : { run, reference };
}
