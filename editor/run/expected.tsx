/** What a run must satisfy: how each sentence stands, where it was decided, and the sentences themselves to be changed. */

import { parseExpectation } from '../../compiler/language/parser.ts';
import type { Run as SheetRun } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { freshName } from '../document/edits.ts';
import type { Draft } from '../document/sheet.ts';
import { EditedText } from '../parts/edited_text.tsx';
import type { Verdict } from '../work/bench_messages.ts';
import { timeWords } from '../work/value_words.ts';
import { useBench, useSheet, useWorkbench } from '../workbench.ts';

const SIGNS: Readonly<Record<Verdict['is'], readonly [sign: string, words: string]>> = {
  open: ['·', 'not decided yet'],
  holds: ['✓', 'holds'],
  fails: ['✕', 'fails'],
};

export function Expected() {
  const { document } = useWorkbench();
  const { run, verdicts } = useBench();
  const sheet = useSheet();
  const expect = Object.entries((run === undefined ? undefined : sheet.runs[run])?.expect ?? {});
  if (run === undefined || sheet.runs[run] === undefined) return null;
  const change = (label: string, write: (expected: Record<string, string>) => void) =>
    document.change(label, 'run', (draft) => {
      const found: Draft<SheetRun> | undefined = draft.runs[run];
      if (found === undefined) return undefined;
      const expected = { ...found.expect };
      write(expected);
      found.expect = expected;
      return undefined;
    });
  const put = (name: string, text: string): true | string => {
    const typed = text.trim();
    if (typed === '') {
      change(`expect ${name} no more`, (expected) => delete expected[name]);
      return true;
    }
    const { value, findings } = parseExpectation(typed);
    const wrong = findings.find((finding) => finding.level === 'error');
    if (value === undefined || wrong !== undefined)
      return wrong === undefined
        ? 'It reads: a condition, then always or once, then from and until if wanted.'
        : sentence(wrong).full;
    change(`expect ${typed}`, (expected) => {
      expected[name] = typed;
    });
    return true;
  };
  const fresh = freshName('expected', (name) => expect.some(([known]) => known === name));
  return (
    <section className="expected" aria-label="Expected">
      <h2>Expected</h2>
      <ul>
        {expect.map(([name, text]) => (
          <Row key={name} name={name} text={text} verdict={verdicts.find((one) => one.name === name)} put={put} />
        ))}
        <li>
          <EditedText
            field={`expect ${run}.${fresh}`}
            className="quiet"
            label="Expect something more"
            value=""
            change={(text) => (text.trim() === '' ? true : put(fresh, text))}
          >
            expect something more …
          </EditedText>
        </li>
      </ul>
    </section>
  );
}

interface RowProperties {
  readonly name: string;
  readonly text: string;
  readonly verdict: Verdict | undefined;
  readonly put: (name: string, text: string) => true | string;
}

function Row({ name, text, verdict, put }: RowProperties) {
  const { bench } = useWorkbench();
  const { run, facts } = useBench();
  const [sign, words] = SIGNS[verdict?.is ?? 'open'];
  const tick = verdict?.tick;
  return (
    <li data-is={verdict?.is ?? 'open'}>
      <span className="verdict" role="img" aria-label={words}>
        {sign}
      </span>
      <span className="expected_words">
        <b>{name.replaceAll('_', ' ')}</b>{' '}
        <EditedText field={`expect ${run}.${name}`} label={name} value={text} change={(typed) => put(name, typed)} />
      </span>
      {tick !== undefined && facts !== undefined && (
        <button
          type="button"
          title={`Look at tick ${tick}`}
          aria-label={`${name} ${words} at ${timeWords(tick * facts.tick, facts.tick)} s: look there`}
          onClick={() => bench.seek(tick)}
        >
          {timeWords(tick * facts.tick, facts.tick)} s ▸
        </button>
      )}
    </li>
  );
}
