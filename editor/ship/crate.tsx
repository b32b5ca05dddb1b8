/** The crate: what leaves, in which numbers, with which proof, beside the cautions; the download is a button held for a second. */
import { useEffect, useRef, useState } from 'react';
import { useStore } from 'zustand';
import type { Real } from '../../compiler/ir/program.ts';
import { useBench, useSheet, useWorkbench } from '../workbench.ts';
import { downloadC, exported, prove } from './export.ts';
import { CAUTIONS } from './readme.ts';
import type { Made } from './ship.worker.ts';

const HOLD = 1000;

export function Crate({ made }: { readonly made: Made }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const bench = useBench();
  const { name, chosen, run, proof, busy } = useStore(exported);
  const runs = Object.keys(sheet.runs);
  const chosenRun = [run, bench.run, runs[0]].find((one) => one !== undefined && runs.includes(one));
  const operations = made.beats.reduce((sum, beat) => sum + beat.operations, 0);
  return (
    <section className="crate" aria-label="Crate">
      <h2>Crate</h2>
      <dl>
        <dt>target</dt>
        <dd>plain C99</dd>
        <dt>
          <label htmlFor="crate_number">number</label>
        </dt>
        <dd>
          <select
            id="crate_number"
            value={chosen ?? sheet.number}
            onChange={(event) => exported.setState({ chosen: event.target.value as Real })}
          >
            <option value="f32">32 bits</option>
            <option value="f64">64 bits</option>
          </select>
        </dd>
        <dt>memory</dt>
        <dd>{made.memoryBytes} bytes</dd>
        <dt>work</dt>
        <dd>{operations} operations at most</dd>
        <dt>fields in</dt>
        <dd>{made.inputs.join(', ') || 'none'}</dd>
        <dt>fields out</dt>
        <dd>{made.outputs.join(', ') || 'none'}</dd>
        {chosenRun !== undefined && (
          <>
            <dt>
              <label htmlFor="crate_run">self-check of</label>
            </dt>
            <dd>
              <select
                id="crate_run"
                value={chosenRun}
                onChange={(event) => exported.setState({ run: event.target.value, proof: undefined })}
              >
                {runs.map((one) => (
                  <option key={one} value={one}>
                    {one.replaceAll('_', ' ')}
                  </option>
                ))}
              </select>
            </dd>
            <dt>same bits</dt>
            <dd aria-live="polite">
              {proof === undefined ? (
                <button type="button" disabled={busy} onClick={() => void prove(workbench, chosenRun)}>
                  {busy ? 'comparing…' : 'compare'}
                </button>
              ) : (
                `${proof.same ? '✓' : '✕ not'} ${proof.ticks.toLocaleString('en')} ticks × ${proof.values} values: interpreter and WebAssembly here; the self-check compares your compiler`
              )}
            </dd>
          </>
        )}
      </dl>
      <h3>Cautions</h3>
      <ul className="cautions">
        {CAUTIONS.map((caution) => (
          <li key={caution}>{caution}</li>
        ))}
      </ul>
      <HeldButton disabled={busy} onHeld={() => void downloadC(workbench, chosenRun)}>
        I have read them: download {name}.zip
      </HeldButton>
    </section>
  );
}

/** A button that acts when it was held for a second, by pointer or by key. */
function HeldButton(properties: {
  readonly disabled: boolean;
  readonly onHeld: () => void;
  readonly children: React.ReactNode;
}) {
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined);
  const [held, hold] = useState(false);
  const stop = () => {
    clearTimeout(timer.current);
    timer.current = undefined;
    hold(false);
  };
  const start = () => {
    if (timer.current !== undefined || properties.disabled) return;
    hold(true);
    timer.current = setTimeout(() => {
      stop();
      properties.onHeld();
    }, HOLD);
  };
  useEffect(() => () => clearTimeout(timer.current), []);
  return (
    <button
      type="button"
      className={held ? 'held_button is_held' : 'held_button'}
      disabled={properties.disabled}
      aria-describedby="held_words"
      onPointerDown={start}
      onPointerUp={stop}
      onPointerLeave={stop}
      onKeyDown={(event) => {
        if (event.key === 'Enter' || event.key === ' ') start();
      }}
      onKeyUp={stop}
      onBlur={stop}
    >
      {properties.children}
      <small id="held_words">hold for a second</small>
    </button>
  );
}
