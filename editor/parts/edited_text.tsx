/** Text that becomes a field while it is edited, and says in a sentence why what was typed will not do; nothing typed is lost. */
import { useEffect, useRef, useState } from 'react';
import { focusPaper } from '../focus.ts';
import { useSession, useWorkbench } from '../workbench.ts';

interface Properties {
  /** Names the field among all fields; its draft is kept under it. */
  readonly field: string;
  readonly value: string;
  readonly label: string;
  readonly className?: string;
  /** Several lines. */
  readonly long?: boolean;
  /** Takes the text, or says why not. */
  readonly change: (text: string) => true | string;
  /** What is shown while it is not edited, if not the value. */
  readonly children?: React.ReactNode;
  /** It lies on the paper, which is one tab stop: its keys go there by Enter. */
  readonly onPaper?: true;
  /** Goes on to the next or previous field. */
  readonly onTab?: (back: boolean) => void;
}

export function EditedText(properties: Properties) {
  const { field, value, label, className, children, onPaper } = properties;
  const { session } = useWorkbench();
  const editing = useSession((state) => state.editing === field);
  const draft = useSession((state) => state.drafts[field]);
  if (editing) return <Editor {...properties} start={draft ?? value} />;
  return (
    <button
      type="button"
      tabIndex={onPaper === true ? -1 : undefined}
      className={`blank ${className ?? ''}`}
      data-draft={draft === undefined ? undefined : true}
      title={draft === undefined ? undefined : `Half-typed: ${draft}`}
      onClick={() => session.setState({ editing: field })}
    >
      <span className="unseen">{label}: </span>
      {children ?? (value === '' ? '…' : value)}
    </button>
  );
}

/** The field itself, focused and selected; Enter takes it, Escape leaves it, leaving it otherwise takes it if it will do. */
function Editor({ field, start, value, label, className, long, change, onTab }: Properties & { start: string }) {
  const { session, journal } = useWorkbench();
  const [wrong, setWrong] = useState<string | undefined>();
  const [text, setText] = useState(start);
  const input = useRef<HTMLInputElement & HTMLTextAreaElement>(null);
  const done = useRef(false);
  useEffect(() => {
    input.current?.focus();
    input.current?.select();
  }, []);
  useEffect(() => {
    const later = setTimeout(() => keep(text === value ? undefined : text), 150);
    return () => clearTimeout(later);
  });
  const keep = (draft: string | undefined) => {
    if (done.current) return;
    const { [field]: old, ...others } = session.getState().drafts;
    if (old === draft) return;
    session.setState({ drafts: draft === undefined ? others : { ...others, [field]: draft } });
    journal.draft(field, draft);
  };
  const leave = (back: boolean) => {
    keep(undefined);
    done.current = true;
    session.setState(({ editing }) => (editing === field ? { editing: undefined } : {}));
    if (back) focusPaper();
  };
  const take = (back: boolean): boolean => {
    const result = text === value ? true : change(text);
    if (result === true) leave(back);
    else setWrong(result);
    return result === true;
  };
  const onKeyDown = (event: React.KeyboardEvent) => {
    if (event.key === 'Enter' && !event.ctrlKey && !event.altKey && !(long === true && event.shiftKey)) take(true);
    else if (event.key === 'Escape') leave(true);
    else if (event.key === 'Tab' && onTab !== undefined) {
      if (take(false)) onTab(event.shiftKey);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };
  const shared = {
    ref: input,
    value: text,
    'aria-label': label,
    'aria-invalid': wrong !== undefined,
    'aria-describedby': wrong === undefined ? undefined : `wrong ${field}`,
    onChange: (event: React.ChangeEvent<HTMLInputElement | HTMLTextAreaElement>) => {
      setText(event.target.value);
      setWrong(undefined);
    },
    onKeyDown,
    onBlur: () => {
      if (done.current) return;
      const result = text === value ? true : change(text);
      if (result === true) leave(false);
      else {
        keep(text);
        session.setState(({ editing }) => (editing === field ? { editing: undefined } : {}));
      }
    },
  };
  return (
    <span className={`edited nodrag nopan ${className ?? ''}`}>
      {long === true ? <textarea {...shared} rows={3} /> : <input {...shared} size={Math.max(4, text.length + 1)} />}
      {wrong !== undefined && (
        <span className="wrong" role="alert" id={`wrong ${field}`}>
          {wrong}
        </span>
      )}
    </span>
  );
}
