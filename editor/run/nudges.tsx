/** Disturbances: the run's own, to be given now; and any by hand, which may be kept in the run afterwards. */

import { useState } from 'react';
import type { Nudge } from '../../compiler/sheet/sheet.ts';
import { freshName } from '../document/edits.ts';
import { say } from '../session.ts';
import type { HandNudge, Notch } from '../work/bench_messages.ts';
import { timeWords } from '../work/value_words.ts';
import { useBench, useSheet, useWorkbench, type Workbench } from '../workbench.ts';

export function Nudges() {
  const workbench = useWorkbench();
  const { run, facts, notches } = useBench();
  const sheet = useSheet();
  const own = Object.entries((run === undefined ? undefined : sheet.runs[run])?.nudges ?? {});
  if (facts === undefined) return null;
  return (
    <section className="nudges" aria-label="Nudges">
      <h2>Nudges</h2>
      <ul>
        {own.map(([name, nudge]) => (
          <li key={name}>
            <b>{name.replaceAll('_', ' ')}</b>{' '}
            <span className="quiet">
              at {String(nudge.at)}: {facts.nudges.find((one) => one.name === name)?.words}
            </span>
            {'port' in nudge && (
              <button type="button" className="written" onClick={() => workbench.bench.nudge(withoutTime(nudge))}>
                now
              </button>
            )}
          </li>
        ))}
      </ul>
      <ByHand />
      {notches.length > 0 && (
        <ol className="notches" aria-label="Done by hand">
          {notches.slice(-6).map((notch, i) => (
            // biome-ignore lint/suspicious/noArrayIndexKey: what was done by hand only ever grows at its end
            <li key={i}>
              <span className="quiet">{timeWords(notch.tick * facts.tick, facts.tick)} s</span> {notch.words}
              {run !== undefined && (
                <button
                  type="button"
                  className="written"
                  title={`Makes it a nudge of ${run}`}
                  onClick={() => keep(workbench, run, notch)}
                >
                  keep
                </button>
              )}
            </li>
          ))}
        </ol>
      )}
    </section>
  );
}

function withoutTime(nudge: Extract<Nudge, { readonly port: string }>): HandNudge {
  const { at: _, ...rest } = nudge;
  return rest;
}

/** Writes what was done by hand into the run, at its tick. */
function keep({ document, session }: Workbench, run: string, notch: Notch): void {
  const base = `by_hand_${notch.name.replaceAll(/[^A-Za-z0-9]+/g, '_')}`;
  const done = document.change(`keep ${notch.words} in ${run}`, 'run', (sheet) => {
    const found = sheet.runs[run];
    if (found === undefined) return undefined;
    const nudges = { ...found.nudges };
    nudges[freshName(base, (name) => Object.hasOwn(nudges, name))] = notch.nudge as (typeof nudges)[string];
    found.nudges = nudges;
    return undefined;
  });
  if (done) say(session, `${run.replaceAll('_', ' ')} does it by itself from its next start on.`);
}

const WAYS = [
  ['add', 'add'],
  ['put', 'put to'],
  ['held', 'hold as it is'],
  ['nan', 'break: not a number'],
] as const;

type Way = (typeof WAYS)[number][0];

/** A nudge made up on the spot. */
function ByHand() {
  const { bench } = useWorkbench();
  const { facts } = useBench();
  const [port, setPort] = useState('');
  const [way, setWay] = useState<Way>('add');
  const [amount, setAmount] = useState('');
  const [length, setLength] = useState('50 ms');
  const known = [...(facts?.values.map(({ name }) => name) ?? []), ...Object.keys(facts?.aliases ?? {})];
  const wrong =
    port.trim() === ''
      ? 'Choose what to nudge: an input or output, as block.port.'
      : !known.includes(port.trim())
        ? `There is no ${port.trim()} in this run.`
        : amount.trim() === '' && (way === 'add' || way === 'put')
          ? 'Say by how much, with its unit.'
          : undefined;
  const give = () => {
    const text = amount.trim();
    const truth = { yes: true, true: true, no: false, false: false }[text];
    const what = way === 'add' ? { add: text } : { to: way === 'put' ? (truth ?? text) : way };
    bench.nudge({ port: port.trim(), ...what, ...(length.trim() === '' ? {} : { for: length.trim() }) });
  };
  return (
    <form
      className="by_hand"
      aria-label="Nudge by hand"
      onSubmit={(event) => {
        event.preventDefault();
        if (wrong === undefined) give();
      }}
    >
      <input
        list="ports_to_nudge"
        aria-label="What is nudged"
        placeholder="block.port"
        value={port}
        onChange={({ target }) => setPort(target.value)}
      />
      <datalist id="ports_to_nudge">
        {known
          .filter((name) => !/\.(say|left)\d+$|\.mode$/.test(name))
          .map((name) => (
            <option key={name} value={name} />
          ))}
      </datalist>
      <select
        aria-label="How"
        value={way}
        onChange={({ target }) => setWay(WAYS.find(([one]) => one === target.value)?.[0] ?? 'add')}
      >
        {WAYS.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
      {(way === 'add' || way === 'put') && (
        <input
          aria-label="By how much"
          placeholder="2.5 N m"
          value={amount}
          onChange={({ target }) => setAmount(target.value)}
        />
      )}
      <label>
        for{' '}
        <input
          aria-label="How long"
          placeholder="to the end"
          value={length}
          onChange={({ target }) => setLength(target.value)}
        />
      </label>
      <button type="submit" className="written" aria-disabled={wrong !== undefined} title={wrong ?? 'At the next tick'}>
        now
      </button>
    </form>
  );
}
