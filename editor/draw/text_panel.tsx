/** The place where a block text is edited, beside the drawing; its editor is loaded when it is first wanted. */
import { lazy, Suspense, useEffect } from 'react';
import { focusPaper } from '../focus.ts';
import { Contained } from '../parts/contained.tsx';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { plainWords } from './shelf_items.ts';

const BlockText = lazy(async () => ({ default: (await import('./block_text.tsx')).BlockText }));

export function TextPanel() {
  const { session } = useWorkbench();
  const name = useSession((state) => state.text);
  const { shelf } = useSheet();
  const gone = name !== undefined && typeof shelf[name] !== 'string';
  useEffect(() => {
    if (gone) session.setState({ text: undefined });
  }, [gone, session]);
  if (name === undefined || gone) return null;
  const leave = () => {
    session.setState({ text: undefined });
    focusPaper();
  };
  return (
    <aside className="help text_panel" aria-label={`Text of ${name}`}>
      <header>
        <h2>{plainWords(name)}</h2>
        <button type="button" aria-label="Close the text" onClick={leave}>
          ×
        </button>
      </header>
      <Contained what="The text editor">
        <Suspense fallback={<p className="quiet">Loading the text editor …</p>}>
          <BlockText key={name} name={name} />
        </Suspense>
      </Contained>
    </aside>
  );
}
