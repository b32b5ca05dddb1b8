/** The C as it will be written, lit where it says the block that is selected. */
import { useEffect, useRef, useState } from 'react';
import { useSession, useWorkbench } from '../workbench.ts';
import { blockOf, isWithin, markOf } from './beats.tsx';
import type { ShownFile } from './ship.worker.ts';

export function CText({ files }: { readonly files: readonly ShownFile[] }) {
  const { session } = useWorkbench();
  const mark = useSession((state) => state.mark);
  const [shown, show] = useState(0);
  const list = useRef<HTMLOListElement>(null);
  const lit = blockOf(mark);
  const file = files[shown] ?? files[0];
  // biome-ignore lint/correctness/useExhaustiveDependencies: another block or file brings its lines into view
  useEffect(() => {
    list.current?.querySelector('.lit')?.scrollIntoView({ block: 'center' });
  }, [lit, shown]);
  return (
    <section className="c_text" aria-label="The C">
      <h2>
        C
        {files.map((one, i) => (
          <button key={one.name} type="button" className="written" aria-pressed={i === shown} onClick={() => show(i)}>
            {one.name}
          </button>
        ))}
      </h2>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keys */}
      <ol ref={list} tabIndex={0} aria-label={`${file?.name ?? ''}, ${file?.lines.length ?? 0} lines`}>
        {file?.lines.map(({ text, block }, i) => (
          // biome-ignore lint/a11y/useKeyWithClickEvents: the beats select the same blocks by keys
          <li
            // biome-ignore lint/suspicious/noArrayIndexKey: lines are known by their number
            key={i}
            className={isWithin(block, lit) ? 'lit' : undefined}
            title={block === undefined || block === '' ? undefined : block}
            onClick={() => {
              if (block !== undefined && block !== '') session.setState({ mark: markOf(block) });
            }}
          >
            <code>{text === '' ? ' ' : text}</code>
          </li>
        ))}
      </ol>
    </section>
  );
}
