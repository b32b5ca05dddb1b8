/** Help: every command with its keys, by where they act, straight from the one table; beside the drawing, not over it. */
import { useEffect, useRef } from 'react';
import { COMMANDS, type Command } from './commands.ts';
import { MadeFrom } from './made_from.tsx';
import { useWorkbench } from './workbench.ts';

const GROUPS: readonly { readonly title: string; readonly holds: (command: Command) => boolean }[] = [
  { title: 'On the paper', holds: ({ region }) => region === 'paper' },
  { title: 'Everywhere', holds: ({ region }) => region !== 'paper' },
];

/** What is done so often that it comes first. */
const WAYS: readonly (readonly [what: string, pointer: string, keys: string])[] = [
  ['add a block', 'double-click the paper, or drag a card from the shelf line', '/ its name Enter'],
  ['wire', 'drag from port to port; or tap a port, then a port', 'w on a port, then a number or a name'],
  ['set a value', 'click it and type', 'Enter goes into the card, Tab to the next, Escape out'],
  ['move', 'drag', 'm, arrows, Enter'],
  ['go along', 'wheel pans, Ctrl and wheel zooms', '→ ← along lines, ↑ ↓ between ports and branches'],
  ['select several', 'drag a box', 'Space, or Shift and arrows'],
  ['delete, the line heals', 'Delete', 'Delete; Shift leaves the gap'],
  ['insert on a line', 'drop a card on it', '/ its name Enter, with the mark on the line'],
];

export function Help() {
  const { session } = useWorkbench();
  const close = useRef<HTMLButtonElement>(null);
  useEffect(() => close.current?.focus(), []);
  const leave = () => session.setState({ help: false });
  return (
    <aside
      className="help"
      aria-label="Help"
      onKeyDown={(event) => {
        if (event.key !== 'Escape') return;
        event.preventDefault();
        leave();
      }}
    >
      <header>
        <h2>How things are done</h2>
        <button type="button" ref={close} aria-label="Close help" onClick={leave}>
          ×
        </button>
      </header>
      <table>
        <thead>
          <tr>
            <th scope="col">to</th>
            <th scope="col">by pointer</th>
            <th scope="col">by keys</th>
          </tr>
        </thead>
        <tbody>
          {WAYS.map(([what, pointer, keys]) => (
            <tr key={what}>
              <th scope="row">{what}</th>
              <td>{pointer}</td>
              <td>{keys}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {GROUPS.map(({ title, holds }) => (
        <section key={title}>
          <h2>{title}</h2>
          <dl>
            {COMMANDS.filter((command) => command.keys !== undefined && holds(command)).map(
              ({ id, name, about, keys }) => (
                <div key={id}>
                  <dt>
                    {keys?.map((key) => (
                      <kbd key={key}>{key}</kbd>
                    ))}
                  </dt>
                  <dd>
                    <b>{name}.</b> {about}
                  </dd>
                </div>
              ),
            )}
          </dl>
        </section>
      ))}
      <MadeFrom />
    </aside>
  );
}
