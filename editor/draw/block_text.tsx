/** A block text of one's own, edited where it is used: the text stays as it is typed, also while it is broken. */
import { parseBlock } from '../../compiler/language/parser.ts';
import { sentence } from '../../compiler/wording.ts';
import { useSheet, useWorkbench } from '../workbench.ts';

export function BlockTextStrip({ name }: { name: string }) {
  const { document } = useWorkbench();
  const text = useSheet().shelf[name];
  if (typeof text !== 'string') return null;
  const { findings } = parseBlock(text, name);
  return (
    <section className="block_text" aria-label={`Text of ${name}`}>
      <textarea
        aria-label={`Text of ${name}`}
        rows={Math.min(24, text.split('\n').length + 1)}
        spellCheck={false}
        value={text}
        onChange={(event) => {
          const typed = event.target.value;
          document.change(
            `edit the text of ${name}`,
            '',
            (sheet) => {
              sheet.shelf[name] = typed;
              return undefined;
            },
            `text ${name}`,
          );
        }}
      />
      <ol>
        {findings.map((finding) => (
          <li key={`${finding.id} ${finding.at.line} ${finding.at.column}`}>
            <b>line {finding.at.line}: </b>
            {sentence(finding).full}
          </li>
        ))}
      </ol>
    </section>
  );
}
