/** The run as one strip, the same in every view: which run, at what pace, where it is, and what happened on the way. */

import { useEffect, useRef } from 'react';
import { commandOf, runCommand } from '../commands.ts';
import { PACES, usualRun } from '../work/bench.ts';
import type { RunFacts } from '../work/bench_messages.ts';
import { timeWords } from '../work/value_words.ts';
import { useBench, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { paceWords } from './run_commands.ts';
import './run.css';

export function Rail() {
  const workbench = useWorkbench();
  const { bench } = workbench;
  const { doing, pace, facts } = useBench();
  return (
    <div className="rail_row">
      <RunChoice />
      <button type="button" className="written run_button" onClick={() => runCommand(workbench, 'run.toggle')}>
        {doing === 'playing' ? 'Pause' : doing === 'ended' ? 'Run again' : 'Run'} <kbd>Ctrl ↵</kbd>
      </button>
      <label className="pace">
        pace{' '}
        <select value={String(pace)} {...chosenBy((value) => bench.setPace(Number(value)))}>
          {PACES.map((one) => (
            <option key={one} value={String(one)}>
              {Number.isFinite(one) ? `${paceWords(one)} ×` : paceWords(one)}
            </option>
          ))}
        </select>
      </label>
      <Strip facts={facts} />
      <Where facts={facts} />
      <span className="rail_ticks">
        <RailButton id="run.back">‹</RailButton>
        <span aria-hidden="true">tick</span>
        <RailButton id="run.tick">›</RailButton>
        <RailButton id="run.reset">⇤</RailButton>
      </span>
      <Trouble />
    </div>
  );
}

function RailButton({ id, children }: { id: string; children: string }) {
  const workbench = useWorkbench();
  const command = commandOf(id);
  if (command === undefined) return null;
  return (
    <button
      type="button"
      aria-label={command.name}
      title={`${command.name} (${command.keys?.[0]})`}
      onClick={() => runCommand(workbench, id)}
    >
      {children}
    </button>
  );
}

let byPointer = false;

/** A choice by pointer gives the keys back to the commands; one by keys stays where it is. */
function chosenBy(choose: (value: string) => void) {
  return {
    onPointerDown: () => {
      byPointer = true;
    },
    onKeyDown: () => {
      byPointer = false;
    },
    onChange: ({ target }: React.ChangeEvent<HTMLSelectElement>) => {
      choose(target.value);
      if (byPointer) target.blur();
    },
  };
}

/** Which of the sheet's runs. */
function RunChoice() {
  const { bench } = useWorkbench();
  const { run } = useBench();
  const sheet = useSheet();
  const { runs } = sheet;
  const names = Object.keys(runs).sort();
  if (names.length === 0) return <span className="quiet">as it stands</span>;
  return (
    <select
      className="run_choice"
      aria-label="Run"
      value={run ?? usualRun(sheet) ?? ''}
      {...chosenBy((value) => bench.choose(value))}
    >
      {names.map((name) => (
        <option key={name} value={name}>
          {name.replaceAll('_', ' ')}
        </option>
      ))}
    </select>
  );
}

/** Why it cannot run, or that it is the run of a sheet that is no more. */
function Trouble() {
  const { bench } = useWorkbench();
  const { status, findings, failed, changesAgo, doing, opening } = useBench();
  const lost = useSession((session) => session.lost);
  if (status === 'refused') {
    const errors = findings.filter((finding) => finding.level === 'error').length;
    return (
      <p className="rail_note" data-level="fault" role="status">
        ▲ {failed ?? `It cannot run: ${errors === 1 ? 'one error stands' : `${errors} errors stand`} in the margin.`}
      </p>
    );
  }
  if (lost && opening <= 1 && doing === 'paused' && bench.now().head === 0)
    return (
      <p className="rail_note" role="status">
        The run went with the page it was in; the sheet is as it was left. Run goes through it again.
      </p>
    );
  if (changesAgo === 0) return null;
  return (
    <p className="rail_note" role="status">
      run of an earlier sheet, {changesAgo === 1 ? 'one change' : `${changesAgo} changes`} ago
      <button type="button" className="written" onClick={() => bench.reset()}>
        Take the sheet as it is
      </button>
    </p>
  );
}

/** The strip itself: a slider over the ticks that have been run. */
function Strip({ facts }: { facts: RunFacts | undefined }) {
  const { bench } = useWorkbench();
  const { notches, moments, verdicts, doing } = useBench();
  const strip = useRef<HTMLDivElement>(null);
  const track = useRef<HTMLDivElement>(null);
  const last = Math.max(1, (facts?.ticks ?? 1) - 1);
  const place = (tick: number) => `${(100 * Math.min(tick, last)) / last}%`;
  useEffect(() => {
    const write = () => {
      const { head, tick } = bench.now();
      const element = strip.current;
      if (element === null || track.current === null) return;
      element.style.setProperty('--head', String(Math.max(0, head - 1) / last));
      element.style.setProperty('--cursor', String(Math.max(0, tick) / last));
      element.setAttribute('aria-valuenow', String(Math.max(0, tick)));
      element.setAttribute(
        'aria-valuetext',
        facts === undefined || tick < 0
          ? 'nothing has run yet'
          : `${timeWords(tick * facts.tick, facts.tick)} s, tick ${tick} of ${facts.ticks}`,
      );
    };
    write();
    return bench.onNow(write);
  }, [bench, facts, last]);
  const seekTo = (event: React.PointerEvent) => {
    const box = track.current?.getBoundingClientRect();
    if (box !== undefined && box.width > 0) bench.seek(((event.clientX - box.left) / box.width) * last);
  };
  return (
    <div
      className="strip"
      ref={strip}
      role="slider"
      tabIndex={0}
      aria-label="Time of the run"
      aria-valuemin={0}
      aria-valuemax={last}
      aria-valuenow={0}
      aria-disabled={facts === undefined}
      data-doing={doing}
      onPointerDown={(event) => {
        if (event.button !== 0) return;
        event.currentTarget.setPointerCapture(event.pointerId);
        seekTo(event);
      }}
      onPointerMove={(event) => {
        if (event.currentTarget.hasPointerCapture(event.pointerId)) seekTo(event);
      }}
      onKeyDown={(event) => {
        const to = keySeek(event.key, event.shiftKey, bench.now().tick, bench.now().head, last);
        if (to === undefined) return;
        event.preventDefault();
        event.stopPropagation();
        bench.seek(to);
      }}
    >
      <div className="strip_track" ref={track}>
        <span className="strip_run" />
        {facts?.nudges.map(({ name, from, until, words }) => (
          <span key={name} title={`${name.replaceAll('_', ' ')}: ${words}`}>
            {until !== undefined && (
              <span
                className="strip_span"
                style={{ left: place(from), width: `${(100 * (Math.min(until, last) - from)) / last}%` }}
              />
            )}
            <span className="strip_mark" style={{ left: place(from) }}>
              ▲
            </span>
          </span>
        ))}
        {notches.map(({ tick, is, words }, index) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: what was done by hand only ever grows at its end
          <span key={index} className="strip_notch" data-is={is} style={{ left: place(tick) }} title={words} />
        ))}
        {moments
          .filter(({ trip }) => trip)
          .map(({ tick, block, mode }) => (
            <span
              key={`${block} ${tick}`}
              className="strip_mark"
              data-level="fault"
              style={{ left: place(tick) }}
              title={`${block} ${mode}`}
            >
              ⚑
            </span>
          ))}
        {verdicts
          .filter(({ is, tick }) => is === 'fails' && tick !== undefined)
          .map(({ name, tick = 0 }) => (
            <span
              key={name}
              className="strip_mark"
              data-level="fault"
              style={{ left: place(tick) }}
              title={`${name.replaceAll('_', ' ')} fails`}
            >
              ✕
            </span>
          ))}
        <span className="strip_cursor" />
      </div>
    </div>
  );
}

/** Where a key on a slider over time goes; undefined: nowhere. */
export function keySeek(key: string, shift: boolean, tick: number, head: number, length: number): number | undefined {
  const page = Math.max(1, Math.round(length / 20));
  const by: Readonly<Record<string, number>> = {
    ArrowRight: shift ? 10 : 1,
    ArrowUp: shift ? 10 : 1,
    ArrowLeft: shift ? -10 : -1,
    ArrowDown: shift ? -10 : -1,
    PageUp: page,
    PageDown: -page,
  };
  if (key === 'Home') return 0;
  if (key === 'End') return head - 1;
  const step = by[key];
  return step === undefined ? undefined : tick + step;
}

/** Time and tick, written as they come. */
function Where({ facts }: { facts: RunFacts | undefined }) {
  const { bench } = useWorkbench();
  const time = useRef<HTMLSpanElement>(null);
  const tick = useRef<HTMLSpanElement>(null);
  useEffect(() => {
    const write = () => {
      const now = bench.now();
      const at = Math.max(0, now.tick);
      if (time.current !== null)
        time.current.textContent = facts === undefined ? '–' : `${timeWords(at * facts.tick, facts.tick)} s`;
      if (tick.current !== null) tick.current.textContent = now.tick < 0 ? 'tick –' : `tick ${now.tick}`;
    };
    write();
    return bench.onNow(write);
  }, [bench, facts]);
  return (
    <span className="where">
      <span className="where_time" ref={time} />
      <span className="where_tick" ref={tick} />
    </span>
  );
}
