/** Why a gate is shut: its mode, each of its reasons and trips as it stands at the tick looked at, and what the logic before it says. */

import { useEffect, useRef, useState } from 'react';
import { goToPath } from '../draw/copies.ts';
import type { GateFacts, GateRow, SayingFacts } from '../work/bench_messages.ts';
import './gate_rows.css';
import { type Readings, sentenceOf, type Value } from '../work/readings.ts';
import { useBench, useSheet, useWorkbench, type Workbench } from '../workbench.ts';

/** How one row stands. `unknown`: nothing was recorded yet. */
type Standing = 'good' | 'bad' | 'unknown';

/** A trip that does not trip is an empty diamond, as on the card: a tick beside `fallen` would say that it has fallen. */
const signOf = (standing: Standing, { stops }: GateRow): string =>
  ({ good: stops ? '◇' : '✓', bad: '✕', unknown: '·' })[standing];

/** The rows of the gate at a path; nothing before a run is open. */
export function GateRows({ path }: { path: string }) {
  const gate = useBench().facts?.gates.find((one) => one.path === path);
  if (gate === undefined) return null;
  return <Rows gate={gate} />;
}

function Rows({ gate }: { gate: GateFacts }) {
  const workbench = useWorkbench();
  const names = namesOf(gate);
  const values = useReadings(names);
  const mode = values(`${gate.path}.mode`);
  const word = mode.numbers === undefined ? undefined : gate.modes[mode.numbers[0] ?? 0];
  const said = active(gate.sayings, values)[0];
  const live = gate.live === undefined ? undefined : values(gate.live).numbers?.[0] === 1;
  return (
    <div className="gate_rows" data-mode={word}>
      <p className="gate_mode">
        <b>{word ?? 'not recorded'}</b>
        {said !== undefined && <Said saying={said} values={values} without={word} />}
      </p>
      <ul aria-label={`What ${gate.path} waits for`}>
        {gate.rows.map((row) => (
          <Row
            key={row.name}
            row={row}
            values={values}
            counts={live === undefined || live === row.stops}
            go={() => goToBlock(workbench, row.block)}
          />
        ))}
      </ul>
    </div>
  );
}

interface RowProperties {
  readonly row: GateRow;
  readonly values: (name: string) => Value;
  /** It decides now: reasons before the gate lets through, trips from then on. */
  readonly counts: boolean;
  readonly go: () => void;
}

function Row({ row, values, counts, go }: RowProperties) {
  const value = values(row.port);
  const truth = value.numbers === undefined ? undefined : value.numbers[0] === 1;
  const standing: Standing = truth === undefined ? 'unknown' : truth === row.stops ? 'bad' : 'good';
  const why = standing === 'bad' && counts ? nearest(active(row.sayings, values)) : [];
  return (
    <li data-standing={standing} data-idle={!counts || undefined}>
      <button type="button" onClick={go} title={`Go to ${row.block}`}>
        <span className="gate_sign" role="img" aria-label={words(standing, row)}>
          {signOf(standing, row)}
        </span>
        <span className="gate_name">{row.name.replaceAll('_', ' ')}</span>
        <small>
          {[row.stops ? tripWords[standing] : '', standing === 'bad' && !counts ? 'does not count now' : '']
            .filter(Boolean)
            .join(', ')}
        </small>
      </button>
      {why.map((saying) => (
        <Said key={saying.when} saying={saying} values={values} without={undefined} />
      ))}
    </li>
  );
}

const tripWords: Readonly<Record<Standing, string>> = { good: 'trip, clear', bad: 'trip', unknown: 'trip' };

function words(standing: Standing, row: GateRow): string {
  if (standing === 'unknown') return 'not recorded';
  if (row.stops) return standing === 'bad' ? 'trips' : 'does not trip';
  return standing === 'bad' ? 'does not hold' : 'holds';
}

interface SaidProperties {
  readonly saying: SayingFacts;
  readonly values: (name: string) => Value;
  /** A word that stands before it already. */
  readonly without: string | undefined;
}

function Said({ saying, values, without }: SaidProperties) {
  const { show } = useSheet().desk;
  const text = saying.words.replaceAll(/\{(\w+)\}/g, (_, name: string) => {
    const port = saying.names[name];
    return port === undefined ? name : sentenceOf(values(port), show[port]);
  });
  const left = saying.left === undefined ? undefined : values(saying.left).numbers?.[0];
  const shown = without !== undefined && text.startsWith(`${without}: `) ? text.slice(without.length + 2) : text;
  return (
    <span className="gate_said">
      {shown}
      {left !== undefined && Number.isFinite(left) && left > 0 && <b> {left.toFixed(2)} s left</b>}
    </span>
  );
}

/** Sayings whose condition holds. */
function active(sayings: readonly SayingFacts[], values: (name: string) => Value): SayingFacts[] {
  return sayings.filter((saying) => values(saying.when).numbers?.[0] === 1);
}

/** Of sayings, those nearest to who asks. */
function nearest(sayings: readonly SayingFacts[]): SayingFacts[] {
  const depth = Math.min(...sayings.map((saying) => saying.depth));
  return sayings.filter((saying) => saying.depth === depth);
}

function namesOf({ path, live, rows, sayings }: GateFacts): string[] {
  const said = [...sayings, ...rows.flatMap((row) => row.sayings)];
  return [
    `${path}.mode`,
    ...(live === undefined ? [] : [live]),
    ...rows.map((row) => row.port),
    ...said.flatMap(({ when, left, names }) => [when, ...(left === undefined ? [] : [left]), ...Object.values(names)]),
  ];
}

/** Values by name, for the few things on screen whose shape depends on them; at the pace of text. */
function useReadings(names: readonly string[]): (name: string) => Value {
  const { readings } = useWorkbench().bench;
  const [, redraw] = useState(0);
  const key = names.join('\n');
  const drawn = useRef('');
  drawn.current = textOf(readings, names);
  useEffect(() => {
    let waiting = false;
    const stops = key.split('\n').map((name) =>
      readings.register(name, () => {
        if (waiting) return;
        waiting = true;
        queueMicrotask(() => {
          waiting = false;
          if (textOf(readings, key.split('\n')) !== drawn.current) redraw((count) => count + 1);
        });
      }),
    );
    return () => {
      for (const stop of stops) stop();
    };
  }, [readings, key]);
  return (name) => readings.now(name);
}

function textOf(readings: Readings, names: readonly string[]): string {
  return names.map((name) => readings.now(name).numbers?.join() ?? '').join('\n');
}

/** Goes to a block, into the groups it stands in. */
function goToBlock(workbench: Workbench, path: string): void {
  goToPath(workbench, path);
}
