/** `/`: one search for blocks to add, things on the sheet, settings, commands and help, in a strip under the bar. */
import { useEffect, useMemo, useRef, useState } from 'react';
import { focusPaper } from './focus.ts';
import { type FoundThing, findThings } from './found.ts';
import type { Finding } from './session.ts';
import { say } from './session.ts';
import { useHistory, useSession, useWorkbench } from './workbench.ts';

const HEADINGS: Readonly<Record<FoundThing['group'], string>> = {
  add: 'Add',
  'on the sheet': 'On the sheet',
  setting: 'Settings',
  command: 'Commands',
};

export function Find() {
  const asked = useSession((session) => session.find);
  return asked === undefined ? null : <Strip asked={asked} />;
}

function Strip({ asked }: { asked: Finding }) {
  const workbench = useWorkbench();
  const state = useHistory();
  const [here, setHere] = useState(0);
  const input = useRef<HTMLInputElement>(null);
  const list = useRef<HTMLDivElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: what can be found changes with the sheet
  const things = useMemo(() => grouped(findThings(workbench, asked)), [workbench, asked, state]);
  useEffect(() => input.current?.focus(), []);
  useEffect(() => {
    list.current?.querySelector('[aria-selected="true"]')?.scrollIntoView({ block: 'nearest' });
  });
  const close = () => {
    workbench.session.setState({ find: undefined });
    focusPaper();
  };
  const choose = (thing: FoundThing | undefined) => {
    if (thing === undefined) return;
    if (thing.not !== undefined) return say(workbench.session, thing.not);
    close();
    thing.run();
  };
  const onKeyDown = (event: React.KeyboardEvent) => {
    const last = things.length - 1;
    if (event.key === 'Escape') close();
    else if (event.key === 'Enter') choose(things[here]);
    else if (event.key === 'ArrowDown') setHere(Math.min(last, here + 1));
    else if (event.key === 'ArrowUp') setHere(Math.max(0, here - 1));
    else if (event.key === 'PageDown') setHere(Math.min(last, here + 8));
    else if (event.key === 'PageUp') setHere(Math.max(0, here - 8));
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  return (
    <search className="find">
      <input
        ref={input}
        role="combobox"
        aria-label={asked.from === undefined ? 'Find' : `Find a block that fits ${asked.from.at}`}
        aria-expanded="true"
        aria-controls="found"
        aria-activedescendant={things[here] === undefined ? undefined : optionId(things[here])}
        placeholder={asked.from === undefined ? 'a block, a name, a setting, a command' : `what fits ${asked.from.at}`}
        value={asked.text}
        onChange={(event) => {
          setHere(0);
          workbench.session.setState({ find: { ...asked, text: event.target.value } });
        }}
        onKeyDown={onKeyDown}
        onBlur={(event) => {
          if (event.relatedTarget instanceof Node && list.current?.contains(event.relatedTarget)) return;
          workbench.session.setState({ find: undefined });
        }}
      />
      <div id="found" role="listbox" aria-label="Found" ref={list}>
        {things.map((thing, index) => (
          <div
            key={thing.key}
            id={optionId(thing)}
            role="option"
            tabIndex={-1}
            aria-selected={index === here}
            aria-disabled={thing.not !== undefined}
            data-heading={things[index - 1]?.group === thing.group ? undefined : HEADINGS[thing.group]}
            onPointerDown={(event) => event.preventDefault()}
            onClick={() => choose(thing)}
            onKeyDown={onKeyDown}
          >
            <strong>{thing.name}</strong> <span>{thing.not ?? thing.about}</span>
            {thing.keys !== undefined && <kbd>{thing.keys}</kbd>}
          </div>
        ))}
        {things.length === 0 && <p className="quiet">Nothing goes by that name.</p>}
      </div>
    </search>
  );
}

/** Keeps each kind together, the kinds in the order of their best match. */
function grouped(things: readonly FoundThing[]): FoundThing[] {
  const kinds = [...new Set(things.map((thing) => thing.group))];
  return kinds.flatMap((kind) => things.filter((thing) => thing.group === kind));
}

function optionId({ key }: FoundThing): string {
  return `found_${key.replaceAll(' ', '_')}`;
}
