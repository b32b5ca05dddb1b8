/** What the margin shows when the mark is on a port or a line, when several blocks are selected, and when nothing is. */
import { useState } from 'react';
import { parseExpression } from '../../compiler/language/parser.ts';
import { entry, type Quantity } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { commandOf, runCommand } from '../commands.ts';
import { endOf } from '../document/edits.ts';
import { NAME } from '../document/rename.ts';
import { EditedText } from '../parts/edited_text.tsx';
import type { Mark } from '../session.ts';
import { useChecked, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { factsAt } from './fitting.ts';
import { goTo, readersOf } from './going.ts';
import { portWords } from './selected_block.tsx';
import { useScene } from './use_scene.ts';

function Act({ id }: { id: string }) {
  const workbench = useWorkbench();
  const command = commandOf(id);
  if (command === undefined) return null;
  return (
    <button type="button" className="written" onClick={() => runCommand(workbench, id)}>
      {command.name} {command.keys?.[0] !== undefined && <kbd>{command.keys[0]}</kbd>}
    </button>
  );
}

export function SelectedPort({ mark }: { mark: Mark }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const scene = useScene();
  const { block, port } = endOf(mark.at);
  const facts = factsAt(sheet, scope, mark);
  const solved = entry(useChecked().solved, `${scene.path}${block}`);
  const words = facts === undefined ? '' : portWords(facts, solved?.units[port]);
  const source = scene.wires.get(mark.at);
  const ends = mark.on === 'output' ? readersOf(scene, mark.at) : source === undefined ? [] : [source];
  return (
    <>
      <header className="thing_head">
        <span className="thing_name">{port}</span>
        <span className="thing_kind">
          {mark.on} of {block}
        </span>
      </header>
      {words !== '' && <p className="purpose_words">{words}</p>}
      <ul className="ends">
        {ends.map((end) => (
          <li key={end}>
            <button
              type="button"
              onClick={() => goTo(workbench, { on: mark.on === 'output' ? 'input' : 'output', at: end })}
            >
              {mark.on === 'output' ? '→' : '←'} {end}
            </button>
          </li>
        ))}
      </ul>
      <p className="acts">
        <Act id="line.start" />
        {mark.on === 'input' && source !== undefined && <Act id="edit.delete" />}
      </p>
    </>
  );
}

export function SelectedLine({ input }: { input: string }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const scene = useScene();
  const source = scene.wires.get(input);
  return (
    <>
      <header className="thing_head">
        <span className="thing_name">line</span>
      </header>
      <ul className="ends">
        <li>
          from{' '}
          <button type="button" onClick={() => source !== undefined && goTo(workbench, { on: 'output', at: source })}>
            {source}
          </button>
        </li>
        <li>
          to{' '}
          <button type="button" onClick={() => goTo(workbench, { on: 'input', at: input })}>
            {input}
          </button>
        </li>
      </ul>
      <p className="acts">
        <Act id="edit.delete" />
        <Act id="line.tear" />
        {input in sheet.desk.lines && <Act id="line.free" />}
      </p>
    </>
  );
}

export function SeveralBlocks({ names }: { names: readonly string[] }) {
  const workbench = useWorkbench();
  return (
    <>
      <header className="thing_head">
        <span className="thing_name">{names.length} blocks</span>
      </header>
      <ul className="ends">
        {names.map((name) => (
          <li key={name}>
            <button type="button" onClick={() => goTo(workbench, { on: 'block', at: name })}>
              {name}
            </button>
          </li>
        ))}
      </ul>
      <p className="acts">
        <Act id="group.make" />
        <Act id="frame.add" />
        <Act id="edit.copy" />
        <Act id="edit.delete" />
      </p>
    </>
  );
}

/** With nothing marked: the sheet's own quantities with names, for use in settings. */
export function SheetNames() {
  const { document } = useWorkbench();
  const sheet = useSheet();
  const [count, setCount] = useState(0);
  const put = (name: string, value: Quantity | undefined, label: string) =>
    document.change(label, '', (draft) => {
      if (value === undefined) delete draft.names[name];
      else draft.names[name] = value;
      return undefined;
    });
  const change =
    (name: string) =>
    (text: string): true | string => {
      if (text.trim() === '') return put(name, undefined, `take the name ${name} away`) || true;
      const wrong = parseExpression(text).findings.find((finding) => finding.level === 'error');
      if (wrong !== undefined) return sentence(wrong).full;
      put(name, text.trim(), `${name} is ${text.trim()}`);
      return true;
    };
  const add = (text: string): true | string => {
    const [name = '', value = ''] = text.split('=').map((part) => part.trim());
    if (!NAME.test(name) || value === '') return 'Write a name, = and a quantity: stiffness = 1.942 N m.';
    const result = change(name)(value);
    if (result === true) setCount(count + 1);
    return result;
  };
  return (
    <>
      <h2>Quantities with names</h2>
      <dl className="settings">
        {Object.entries(sheet.names).map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>
              <EditedText field={`quantity ${name}`} label={name} value={String(value)} change={change(name)} />
            </dd>
          </div>
        ))}
      </dl>
      <EditedText key={count} field="quantity" label="Another quantity" value="" change={add}>
        <span className="quiet">another: name = quantity</span>
      </EditedText>
    </>
  );
}
