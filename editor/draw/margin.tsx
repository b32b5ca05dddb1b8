/** The margin: the thing the mark is on with all that can be set of it, and below it the findings with their repairs. */
import type { Finding } from '../../compiler/findings.ts';
import { placeText } from '../../compiler/findings.ts';
import { sentence } from '../../compiler/wording.ts';
import { groundOf } from '../document/edits.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { blockOf } from '../session.ts';
import { useChecked, useSession, useSheet, useWorkbench, type Workbench } from '../workbench.ts';
import { BesideFiles } from './beside_files.tsx';
import { BrokenFile } from './broken_file.tsx';
import { goToFinding, keyOf, markOf, repair, shownFindings } from './findings_walk.ts';
import { GroupFacts } from './group_facts.tsx';
import { SelectedBlock } from './selected_block.tsx';
import { SelectedLine, SelectedPort, SeveralBlocks, SheetNames } from './selected_thing.tsx';
import { plainWords } from './shelf_items.ts';
import { Why } from './why.tsx';

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
        <Why />
        {selection.length > 1 ? (
          <SeveralBlocks names={selection} />
        ) : mark === undefined || !known ? (
          scope === '' ? (
            <>
              <SheetNames />
              <BesideFiles />
            </>
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
  const workbench = useWorkbench();
  const checked = useChecked();
  const sheet = useSheet();
  const findings = shownFindings(checked.findings, sheet);
  const silenced = Object.entries(sheet.silenced);
  return (
    <section className="findings" aria-label="Findings" aria-busy={checked.busy}>
      <h2>
        {findings.length === 0
          ? 'Nothing found'
          : findings.length === 1
            ? 'One finding'
            : `${findings.length} findings`}
      </h2>
      {checked.failed !== undefined && <p className="finding_words">{checked.failed}</p>}
      <ol>
        {findings.map((finding) => (
          <FindingItem key={keyOf(finding)} finding={finding} />
        ))}
      </ol>
      {silenced.length > 0 && (
        <details className="silenced">
          <summary>
            {silenced.length === 1 ? 'One is left as it is' : `${silenced.length} are left as they are`}
          </summary>
          <dl>
            {silenced.map(([key, reason]) => (
              <div key={key}>
                <dt>{key.replace(/^\S+ ?/, '') || 'sheet'}</dt>
                <dd>
                  {plainWords(key.replace(/ .*$/, ''))}: {reason}{' '}
                  <button type="button" className="written" onClick={() => silence(workbench, key, undefined)}>
                    look again
                  </button>
                </dd>
              </div>
            ))}
          </dl>
        </details>
      )}
    </section>
  );
}

/** Leaves a finding as it is, for a reason, or looks at it again. */
function silence({ document }: Workbench, key: string, reason: string | undefined): void {
  const label = reason === undefined ? `look at ${key} again` : `leave ${key} as it is`;
  document.change(label, `/${key.replace(/^\S+ ?/, '')}`, (sheet) => {
    if (reason === undefined) delete sheet.silenced[key];
    else sheet.silenced[key] = reason;
    return undefined;
  });
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
      {[finding.repair, finding.otherwise].map(
        (way) =>
          way !== undefined && (
            <button
              key={way.label}
              type="button"
              className="written repair"
              onClick={() => repair(workbench, finding, way)}
            >
              {way.label}
            </button>
          ),
      )}
      {finding.level !== 'error' && (
        <EditedText
          field={`silence ${keyOf(finding)}`}
          className="leave"
          label="Leave it as it is, because"
          value=""
          change={(reason) => {
            if (reason.trim() === '') return 'Say why, for whoever reads this next.';
            silence(workbench, `${finding.id} ${finding.at.path}`, reason.trim());
            return true;
          }}
        >
          leave it, because …
        </EditedText>
      )}
    </li>
  );
}
