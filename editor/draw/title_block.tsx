/** The title block, bottom right as on a drawing: title, tick, number, schedule; each entry is edited there. */
import { parseExpression } from '../../compiler/language/parser.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';

const NUMBERS = { f32: '32 bits', f64: '64 bits' } as const;
const SCHEDULES = { single: 'single', layered: 'layered' } as const;
const OVERRUNS = { skip: 'skip', trip: 'trip' } as const;
const OUTPUTS = { at_once: 'at once', next_tick: 'next tick' } as const;

export function TitleBlock() {
  const { document } = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const put = <K extends keyof Sheet>(key: K, value: Sheet[K]) =>
    document.change(`${String(key)}: ${String(value)}`, '', (draft) => {
      Object.assign(draft, { [key]: value });
      return undefined;
    });
  const tick = (text: string): true | string => {
    const { value, findings } = parseExpression(text);
    const wrong = findings.find((finding) => finding.level === 'error');
    if (wrong !== undefined) return sentence(wrong).full;
    if (value === undefined) return 'The tick is a time: 5 ms.';
    put('tick', text.trim());
    return true;
  };
  return (
    <dl className="title_block">
      <div className="title_entry">
        <dt>title</dt>
        <dd>
          <EditedText
            field="title"
            label="Title"
            value={sheet.title}
            change={(text) => {
              put('title', text.trim());
              return true;
            }}
          >
            {sheet.title === '' ? 'untitled' : sheet.title}
          </EditedText>
          {scope !== '' && <em>, inside {scope}</em>}
        </dd>
      </div>
      <div>
        <dt>tick</dt>
        <dd>
          <EditedText field="tick" label="Tick" value={String(sheet.tick)} change={tick} />
        </dd>
      </div>
      <Chosen name="number" words={NUMBERS} value={sheet.number} choose={(value) => put('number', value)} />
      <Chosen name="schedule" words={SCHEDULES} value={sheet.schedule} choose={(value) => put('schedule', value)} />
      {sheet.schedule === 'layered' && (
        <Chosen name="overrun" words={OVERRUNS} value={sheet.overrun} choose={(value) => put('overrun', value)} />
      )}
      <Chosen name="outputs" words={OUTPUTS} value={sheet.outputs} choose={(value) => put('outputs', value)} />
    </dl>
  );
}

interface ChosenProperties<T extends string> {
  readonly name: string;
  readonly words: Readonly<Record<T, string>>;
  readonly value: T;
  readonly choose: (value: T) => void;
}

function Chosen<T extends string>({ name, words, value, choose }: ChosenProperties<T>) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>
        <select aria-label={name} value={value} onChange={(event) => choose(event.target.value as T)}>
          {Object.entries<string>(words).map(([key, word]) => (
            <option key={key} value={key}>
              {word}
            </option>
          ))}
        </select>
      </dd>
    </div>
  );
}
