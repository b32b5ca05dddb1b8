/** The margin: the thing the mark is on with all that can be set of it, and below it the findings with their repairs. */
import type { Finding } from '../../compiler/findings.ts';
import { placeText } from '../../compiler/findings.ts';
import { sentence } from '../../compiler/wording.ts';
import { groundOf } from '../document/edits.ts';
import { blockOf } from '../session.ts';
import { useChecked, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { BrokenFile } from './broken_file.tsx';
import { goToFinding, keyOf, markOf, repair, shownFindings } from './findings_walk.ts';
import { GroupFacts } from './group_facts.tsx';
import { SelectedBlock } from './selected_block.tsx';
import { SelectedLine, SelectedPort, SeveralBlocks, SheetNames } from './selected_thing.tsx';

export function Margin() {
  const mark = useSession((session) => session.mark);
  const selection = useSession((session) => session.selection);
  const broken = useSession((session) => session.broken);
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const block = mark === undefined ? undefined : blockOf(mark);
  const known = block === '' || (block !== undefined && groundOf(sheet, scope)?.blocks[block] !== undefined);
  return (
    <>
      {broken !== undefined && <BrokenFile broken={broken} />}
      <section className="thing" aria-label="Selected">
        {selection.length > 1 ? (
          <SeveralBlocks names={selection} />
        ) : mark === undefined || !known ? (
          scope === '' ? (
            <SheetNames />
          ) : (
            <GroupFacts scope={scope} />
          )
        ) : mark.on === 'block' ? (
          <SelectedBlock key={mark.at} name={mark.at} />
        ) : mark.on === 'line' ? (
          <SelectedLine input={mark.at} />
        ) : (
          <SelectedPort mark={mark} />
        )}
      </section>
      <Findings />
    </>
  );
}

function Findings() {
  const checked = useChecked();
  const sheet = useSheet();
  const findings = shownFindings(checked.findings, sheet);
  const silenced = checked.findings.length - findings.length;
  return (
    <section className="findings" aria-label="Findings" aria-busy={checked.busy}>
      <h2>
        {findings.length === 0
          ? 'Nothing found'
          : findings.length === 1
            ? 'One finding'
            : `${findings.length} findings`}
        {silenced > 0 && <small>, {silenced} silenced</small>}
      </h2>
      {checked.failed !== undefined && <p className="finding_words">{checked.failed}</p>}
      <ol>
        {findings.map((finding) => (
          <FindingItem key={keyOf(finding)} finding={finding} />
        ))}
      </ol>
    </section>
  );
}

const LEVELS = { error: ['▲', 'Error'], warning: ['△', 'Warning'], advice: ['○', 'Advice'] } as const;

function FindingItem({ finding }: { finding: Finding }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const here = useSession((session) => session.finding === keyOf(finding));
  const [sign, level] = LEVELS[finding.level];
  return (
    <li
      className="finding"
      data-level={finding.level}
      data-here={here || undefined}
      data-finding-at={markOf(sheet, scope, finding) === undefined ? undefined : finding.at.path}
    >
      <button type="button" className="finding_words" onClick={() => goToFinding(workbench, finding)}>
        <span className="level" role="img" aria-label={level}>
          {sign}
        </span>
        <b>{placeText(finding.at)}</b> {sentence(finding).full}
      </button>
      {finding.notes?.map((note) => (
        <p key={note.text} className="note_words">
          {placeText(note.at)}: {note.text}
        </p>
      ))}
      {finding.repair !== undefined && (
        <button type="button" className="written repair" onClick={() => repair(workbench, finding)}>
          {finding.repair.label}
        </button>
      )}
    </li>
  );
}
