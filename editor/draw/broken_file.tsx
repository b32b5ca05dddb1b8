/** A file that cannot be read: its text with what is wrong, to be mended here; the sheet that was open stays as it was. */
import { useState } from 'react';
import { sentence } from '../../compiler/wording.ts';
import type { BrokenFile as Broken } from '../document/files.ts';
import { hand, openText } from '../document/files.ts';
import { useWorkbench } from '../workbench.ts';

export function BrokenFile({ broken }: { broken: Broken }) {
  const workbench = useWorkbench();
  const [text, setText] = useState(broken.text);
  return (
    <section className="broken" aria-label="File that cannot be read">
      <h2>{broken.name} cannot be read</h2>
      <ol>
        {broken.findings.map((finding) => (
          <li key={`${finding.id} ${finding.at.line} ${finding.at.path}`}>
            {finding.at.line !== undefined && <b>line {finding.at.line}: </b>}
            {sentence(finding).full}
          </li>
        ))}
      </ol>
      <textarea
        aria-label="Text of the file"
        rows={14}
        spellCheck={false}
        value={text}
        onChange={(event) => setText(event.target.value)}
      />
      <p>
        <button type="button" className="written" onClick={() => void openText(workbench, broken.name, text)}>
          Read it again
        </button>
        <button type="button" className="written" onClick={() => hand(`${broken.name}.sheet.json`, new Blob([text]))}>
          Download the text
        </button>
        <button type="button" className="written" onClick={() => workbench.session.setState({ broken: undefined })}>
          Put it away
        </button>
      </p>
    </section>
  );
}
