/** `bench`: every run of a sheet, and whether what it expects came true. */

import type { Finding } from '../../../compiler/findings.ts';
import { shortest } from '../../../compiler/language/quantity.ts';
import type { Judged } from '../../bench/expectations.ts';
import { runSheet } from '../../bench/run.ts';
import { type Answer, findingsData, hasErrors, messagesOf } from '../answer.ts';
import { isAnswer, type OpenSheet, openSheet } from '../design.ts';

interface Verdict {
  readonly name: string;
  /** How many expectations came true, and the names of those that did not. */
  readonly passed: number;
  readonly failed: readonly string[];
}

export async function bench(file: string): Promise<Answer> {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const runs: Verdict[] = [];
  const text: string[] = [];
  const messages: string[] = [];
  const errors: Finding[] = [];
  for (const name of Object.keys(open.sheet.runs).sort()) {
    const { verdict, lines, said, findings } = await judgeRun(open, name);
    runs.push(verdict);
    text.push(...lines);
    messages.push(...said);
    errors.push(...findings);
  }
  const passed = runs.reduce((sum, run) => sum + run.passed, 0);
  const failed = runs.reduce((sum, run) => sum + run.failed.length, 0);
  text.push(`${passed} passed, ${failed} failed`);
  const status = failed > 0 || hasErrors(errors) ? 1 : 0;
  return { status, data: { runs, findings: findingsData(errors) }, text: text.join('\n'), messages };
}

async function judgeRun(open: OpenSheet, name: string) {
  const found: Finding[] = [];
  const result = await runSheet(open.sheet, { ...open.options, run: name }, found);
  const judged = new Map((result?.judged ?? []).map((one) => [one.name, one]));
  const expected = Object.entries(open.sheet.runs[name]?.expect ?? {}).sort();
  const tick = result?.compiled.resolved.tick ?? 0;
  const lines: string[] = [];
  const said: string[] = [];
  const failed: string[] = [];
  for (const [expectation, words] of expected) {
    const one = judged.get(expectation);
    lines.push(`${one?.holds === true ? 'passed' : 'FAILED'}  ${name}.${expectation}: ${words}`);
    if (one?.holds === true) continue;
    failed.push(expectation);
    if (one !== undefined) said.push(`${open.file}: runs.${name}.expect.${expectation}: ${failure(one, tick)}`);
  }
  const findings = found.filter((finding) => finding.level === 'error');
  said.push(...messagesOf(open.file, findings));
  return { verdict: { name, passed: expected.length - failed.length, failed }, lines, said, findings };
}

function failure({ tick, text }: Judged, period: number): string {
  const when = tick === undefined ? 'it never comes true' : `it fails at ${shortest(tick * period)} s, tick ${tick}`;
  return `${when}: ${text}; look at the run from there, or change what is expected`;
}
