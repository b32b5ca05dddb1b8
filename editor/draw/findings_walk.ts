/** Going from finding to finding, and making their repairs. */
import type { Finding } from '../../compiler/findings.ts';
import { applyEdits } from '../../compiler/sheet/edits.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { endOf, groundOf } from '../document/edits.ts';
import { blockOf, type Mark, say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { goToPath } from './copies.ts';
import { goTo } from './going.ts';

/** Tells findings apart, also across checks. */
export function keyOf(finding: Finding): string {
  return `${finding.id} ${finding.at.path} ${finding.at.text ?? ''} ${finding.at.line ?? ''}`;
}

/** The findings that are not silenced, errors first, then by place. */
export function shownFindings(findings: readonly Finding[], sheet: Sheet): Finding[] {
  const rank = { error: 0, warning: 1, advice: 2 };
  return findings
    .filter((finding) => !Object.hasOwn(sheet.silenced, `${finding.id} ${finding.at.path}`))
    .sort((a, b) => rank[a.level] - rank[b.level] || (a.at.path < b.at.path ? -1 : a.at.path > b.at.path ? 1 : 0));
}

/** The thing on the present paper a finding is about, if it is on it. */
export function markOf(sheet: Sheet, scope: string, finding: Finding): Mark | undefined {
  const { block, port } = endOf(finding.at.path);
  const name = block === '' ? port : block;
  const place = groundOf(sheet, scope);
  if (place === undefined || !Object.hasOwn(place.blocks, name)) return undefined;
  return { on: 'block', at: name };
}

export function nextFinding(workbench: Workbench, by: 1 | -1): void {
  const { checker, document, session } = workbench;
  const findings = shownFindings(checker.latest().findings, document.sheet());
  const here = findings.findIndex((finding) => keyOf(finding) === session.getState().finding);
  const next =
    findings[here < 0 ? (by === 1 ? 0 : findings.length - 1) : (here + by + findings.length) % findings.length];
  if (next !== undefined) goToFinding(workbench, next);
}

export function goToFinding(workbench: Workbench, finding: Finding): void {
  const { document, session } = workbench;
  const mark = markOf(document.sheet(), session.getState().scope, finding);
  if (mark !== undefined) goTo(workbench, mark);
  else if (!goToPath(workbench, finding.at.path)) goToPath(workbench, endOf(finding.at.path).block);
  session.setState({ finding: keyOf(finding) });
  say(session, `${finding.level}: ${sentence(finding).full}`);
}

/** Makes one of a finding's repairs, as one step with the repair's own name. */
export function repair({ document, session }: Workbench, finding: Finding, chosen = finding.repair): void {
  if (chosen === undefined) return;
  const { label, edits } = chosen;
  document.change(label, `/${finding.at.path}`, (draft) => {
    const mended = applyEdits(document.sheet(), edits);
    Object.assign(draft, mended);
    return undefined;
  });
  say(session, `Mended: ${label}.`);
}

/** The repair of the finding gone to, or else of one at the mark. */
export function repairHere(workbench: Workbench): (() => void) | undefined {
  const { checker, document, session } = workbench;
  const { finding: key, mark, scope } = session.getState();
  const findings = shownFindings(checker.latest().findings, document.sheet()).filter(
    (finding) => finding.repair !== undefined,
  );
  const meant =
    findings.find((finding) => keyOf(finding) === key) ??
    findings.find((finding) => mark !== undefined && markOf(document.sheet(), scope, finding)?.at === blockOf(mark));
  return meant === undefined ? undefined : () => repair(workbench, meant);
}
