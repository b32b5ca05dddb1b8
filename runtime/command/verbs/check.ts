/** `check`: compiles a sheet and says what was found. */

import { compile } from '../../../compiler/compile.ts';
import { reviewRuns } from '../../bench/review_runs.ts';
import { type Answer, findingsData, hasErrors, messagesOf } from '../answer.ts';
import { isAnswer, openSheet } from '../design.ts';

export function check(file: string): Answer {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const compiled = compile(open.sheet, open.options);
  const findings = [...compiled.findings, ...(compiled.value === undefined ? [] : reviewRuns(compiled.value))];
  const count = (level: string) => findings.filter((finding) => finding.level === level).length;
  return {
    status: hasErrors(findings) ? 1 : 0,
    data: { findings: findingsData(findings) },
    text: `${plural(count('error'), 'error')}, ${plural(count('warning'), 'warning')}, ${count('advice')} advice`,
    messages: messagesOf(file, findings),
  };
}

function plural(count: number, thing: string): string {
  return `${count} ${thing}${count === 1 ? '' : 's'}`;
}
