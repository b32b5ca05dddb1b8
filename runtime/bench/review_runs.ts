/** What is wrong with a sheet's runs, found without running them: names that are not there, sentences that do not read. */

import type { Compiled } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { findReadable } from '../../compiler/stages/readable.ts';
import { unknownName } from './bench.ts';
import { namesExpected } from './expectations.ts';

/** Findings at level `warning`: a sheet compiles without its runs. */
export function reviewRuns(compiled: Compiled): Finding[] {
  const findings: Finding[] = [];
  for (const [name, run] of Object.entries(compiled.sheet.runs)) {
    const where = `runs.${name}`;
    const look = (port: string, place: string): void => {
      const found = findReadable(compiled, port);
      if ('nearest' in found) findings.push(unknownName(place, port, found.nearest));
    };
    for (const port of run.record ?? []) look(port, `${where}.record`);
    for (const [key, text] of Object.entries(run.expect ?? {}))
      for (const port of namesExpected(text, `${where}.expect.${key}`, findings)) look(port, `${where}.expect.${key}`);
    for (const [key, nudge] of Object.entries(run.nudges ?? {}))
      look('setting' in nudge ? nudge.setting : nudge.port, `${where}.nudges.${key}`);
  }
  return findings.map((finding) => ({ ...finding, level: 'warning' }));
}
