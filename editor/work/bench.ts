/** Asks the bench's thread: opens runs, plays, steps and seeks them, changes them by hand, and keeps what it tells. */

import type { Finding } from '../../compiler/findings.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import type { Beside } from '../document/beside.ts';
import type { Ask, Doing, HandNudge, Moment, Notch, Range, RunFacts, Tell, Verdict } from './bench_messages.ts';
import { createReadings, type Readings } from './readings.ts';
import { compareSheets } from './sheet_changes.ts';
import type { Stretch } from './trace.ts';

export const PACES = [1 / 20, 1 / 5, 1, 5, Number.POSITIVE_INFINITY] as const;

/** What is known of the run, but for where it is. */
export interface BenchState {
  readonly status: 'closed' | 'opening' | 'open' | 'refused';
  /** The run chosen; undefined: the sheet as it stands. */
  readonly run: string | undefined;
  readonly facts: RunFacts | undefined;
  /** Why it could not be opened. */
  readonly findings: readonly Finding[];
  readonly failed: string | undefined;
  readonly doing: Doing;
  readonly pace: number;
  readonly notches: readonly Notch[];
  readonly moments: readonly Moment[];
  readonly verdicts: readonly Verdict[];
  /** Before this tick traces are kept coarsely, to spare memory; 0: nowhere. */
  readonly coarse: number;
  /** How many changes ago the sheet was the one that runs; 0: it is. */
  readonly changesAgo: number;
  /** Counts openings and goings again: what was drawn of the run before is old. */
  readonly opening: number;
  /** A run before this one is drawn behind it. */
  readonly before: boolean;
}

/** Where the run is. */
export interface Now {
  /** Ticks that have been run. */
  readonly head: number;
  /** The tick looked at; −1 before the first. */
  readonly tick: number;
}

/** Traces over a stretch, as uPlot and lanes take them. */
export interface DrawnRange {
  readonly x: Float64Array;
  readonly y: readonly (Float64Array | undefined)[];
}

export interface BenchClient {
  state(): BenchState;
  subscribe(listener: () => void): () => void;
  now(): Now;
  /** Hears of every new tick, at most thirty times a second. */
  onNow(listener: (now: Now) => void): () => void;
  readonly readings: Readings;
  /** Opens a run of the present sheet at its start, if it is not open. */
  ready(): void;
  /** Chooses a run and opens it. */
  choose(run: string | undefined): void;
  /** Other files stand beside the sheet: a run that has not begun is opened with them. */
  besideChanged(): void;
  /** Back to the start, with the sheet as it is now. */
  reset(): void;
  /** Runs on, or holds; a run that is over starts anew. */
  toggle(): void;
  pause(): void;
  setPace(pace: number): void;
  /** A tick on or back. */
  step(by: 1 | -1): void;
  /** Looks at a tick. */
  seek(tick: number): void;
  nudge(nudge: HandNudge): void;
  /** Keeps the traces of these names while the answer has not been called. */
  keep(names: readonly string[]): () => void;
  range(range: Range): Promise<DrawnRange>;
  lanes(range: Range): Promise<readonly (readonly Stretch[] | undefined)[]>;
  /** The values of these names as comma-separated lines. */
  table(names: readonly string[], bits: boolean): Promise<string>;
}

/** What a bench needs to know of the rest. */
export interface Surroundings {
  sheet(): Sheet;
  name(): string;
  /** Files beside the sheet. */
  beside(): Beside;
  /** Hears of every change of the sheet; `whole`: it is another sheet. */
  onSheet(listener: (whole: boolean) => void): void;
  say(text: string, urgent: boolean): void;
}

const CLOSED: BenchState = {
  status: 'closed',
  run: undefined,
  facts: undefined,
  findings: [],
  failed: undefined,
  doing: 'paused',
  pace: 1,
  notches: [],
  moments: [],
  verdicts: [],
  coarse: 0,
  changesAgo: 0,
  opening: 0,
  before: false,
};

/** How long, in milliseconds, a sheet must rest before a run at its start is opened anew. */
const REST = 200;

export function createBench(around: Surroundings): BenchClient {
  let state = CLOSED;
  let now: Now = { head: 0, tick: -1 };
  /** The sheet the run was opened from, with the settings put since. */
  let sheet: Sheet | undefined;
  let worker: Worker | undefined;
  let number = 0;
  let follows = true;
  let opening = 0;
  let playWhenOpen = false;
  let stepWhenOpen = false;
  let resting: ReturnType<typeof setTimeout> | undefined;
  let saidOf: { moments: number; ended: boolean } = { moments: 0, ended: false };
  const listeners = new Set<() => void>();
  const nowListeners = new Set<(now: Now) => void>();
  const kept = new Map<object, readonly string[]>();
  const answers = new Map<number, (tell: Tell) => void>();

  const put = (change: Partial<BenchState>) => {
    state = { ...state, ...change };
    for (const listener of listeners) listener();
  };
  const putNow = (change: Partial<Now>) => {
    const next = { ...now, ...change };
    if (next.head === now.head && next.tick === now.tick) return;
    now = next;
    for (const listener of nowListeners) listener(now);
  };
  const post = (ask: Ask) => {
    worker ??= start();
    worker.postMessage(ask);
  };
  const readings = createReadings((which, names) => {
    if (worker !== undefined) post({ do: 'watch', number: which, names });
    watched = { number: which, names };
  });
  let watched: { readonly number: number; readonly names: readonly string[] } = { number: 0, names: [] };

  /** Ends the thread; whoever waits for an answer hears that there is none. */
  const stop = () => {
    worker?.terminate();
    worker = undefined;
    const waiting = [...answers.values()];
    answers.clear();
    for (const answer of waiting) answer({ say: 'refused', number: 0, findings: [], failed: 'stopped' });
    readings.nothing();
  };
  const start = (): Worker => {
    const made = new Worker(new URL('./bench.worker.ts', import.meta.url), { type: 'module' });
    made.onmessage = ({ data }: MessageEvent<Tell>) => hear(data);
    made.onerror = () => {
      stop();
      put({ ...CLOSED, run: state.run, pace: state.pace, status: 'refused', failed: 'The bench stopped; run again.' });
    };
    made.postMessage({ do: 'watch', ...watched } satisfies Ask);
    return made;
  };

  const open = () => {
    clearTimeout(resting);
    sheet = around.sheet();
    const { run } = state;
    const chosen = run !== undefined && Object.hasOwn(sheet.runs, run) ? run : usualRun(sheet);
    opening = number += 1;
    follows = true;
    saidOf = { moments: 0, ended: false };
    put({ status: 'opening', doing: 'paused', run: chosen, changesAgo: 0, findings: [], failed: undefined });
    const names = [...new Set([...kept.values()].flat())];
    post({
      do: 'open',
      number: opening,
      opening: { sheet, name: around.name(), beside: around.beside(), run: chosen, kept: names },
    });
  };

  const hear = (told: Tell) => {
    switch (told.say) {
      case 'opened':
        if (told.number !== opening) return;
        now = { head: 0, tick: -1 };
        put({ status: 'open', facts: told.facts, before: told.before, doing: 'paused', opening: state.opening + 1 });
        for (const listener of nowListeners) listener(now);
        if (playWhenOpen) play();
        else if (stepWhenOpen) post({ do: 'tick' });
        stepWhenOpen = false;
        return;
      case 'refused':
        if (told.number !== opening) return;
        playWhenOpen = false;
        stepWhenOpen = false;
        readings.nothing();
        put({ status: 'refused', facts: undefined, findings: told.findings, failed: told.failed, doing: 'paused' });
        return;
      case 'progress':
        if (told.doing !== state.doing) put({ doing: told.doing });
        putNow({ head: told.head });
        return speak();
      case 'marks':
        return put({ notches: told.notches, moments: told.moments, verdicts: told.verdicts, coarse: told.coarse });
      case 'watched':
        return readings.watched(told.number, told.facts);
      case 'values':
        readings.values(told.number, told.tick, told.values);
        return putNow({ tick: told.tick });
      case 'cannot_set':
        put({ changesAgo: Math.max(1, state.changesAgo) });
        return;
      case 'cannot_nudge':
        return around.say(told.why, true);
      default:
        answers.get(told.number)?.(told);
        answers.delete(told.number);
    }
  };

  /** Says trips at once and how a run ended. */
  const speak = () => {
    const { moments, verdicts, facts, doing } = state;
    for (const { block, mode, trip, tick } of moments.slice(saidOf.moments))
      if (trip && doing !== 'replaying')
        around.say(`${block} ${mode} at ${(tick * (facts?.tick ?? 0)).toFixed(3)} s.`, true);
    const ended = doing === 'ended';
    if (ended && !saidOf.ended && verdicts.length > 0) {
      const failed = verdicts.filter(({ is }) => is === 'fails').map(({ name }) => name.replaceAll('_', ' '));
      around.say(
        failed.length === 0
          ? 'The run is over; all that was expected holds.'
          : `The run is over; fails: ${failed.join(', ')}.`,
        false,
      );
    }
    saidOf = { moments: moments.length, ended };
  };

  const play = () => {
    playWhenOpen = false;
    follows = true;
    post({ do: 'play', pace: state.pace });
  };

  /** Asks for something that has an answer. */
  const asking = <K extends Tell['say']>(
    ask: (number: number) => Ask,
    say: K,
  ): Promise<Extract<Tell, { readonly say: K }>> =>
    new Promise((resolve, reject) => {
      number += 1;
      const own = number;
      answers.set(own, (told) => {
        if (told.say === say) resolve(told as Extract<Tell, { readonly say: K }>);
        else reject(new Error(`The bench answered ${told.say} to ${say}.`));
      });
      post(ask(own));
    });

  around.onSheet((whole) => {
    if (whole) {
      stop();
      clearTimeout(resting);
      now = { head: 0, tick: -1 };
      put({ ...CLOSED, pace: state.pace, opening: state.opening + 1 });
      for (const listener of nowListeners) listener(now);
      return;
    }
    if (state.status === 'closed' || sheet === undefined) return;
    const next = around.sheet();
    const { settings, same } = compareSheets(sheet, next);
    if (now.head === 0 && state.doing === 'paused') {
      if (same && settings.length === 0 && sheet.runs === next.runs) return;
      clearTimeout(resting);
      resting = setTimeout(open, REST);
      return;
    }
    if (!same) return put({ changesAgo: state.changesAgo + 1 });
    if (state.changesAgo > 0) put({ changesAgo: 0 });
    for (const { setting, value } of settings) post({ do: 'set', setting, value, sheet: next });
    sheet = next;
  });

  return {
    state: () => state,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    now: () => now,
    onNow(listener) {
      nowListeners.add(listener);
      return () => nowListeners.delete(listener);
    },
    readings,
    ready() {
      if (state.status === 'closed') open();
    },
    choose(run) {
      put({ run });
      open();
    },
    besideChanged() {
      if (state.status === 'closed' || now.head > 0) return;
      clearTimeout(resting);
      resting = setTimeout(open, REST);
    },
    reset() {
      playWhenOpen = false;
      open();
    },
    toggle() {
      if (state.status === 'open' && state.doing === 'playing') return post({ do: 'pause' });
      if (state.status === 'open' && state.doing !== 'ended' && !(now.head === 0 && state.changesAgo > 0))
        return play();
      playWhenOpen = true;
      if (state.status !== 'opening') open();
    },
    pause: () => {
      if (state.doing === 'playing') post({ do: 'pause' });
    },
    setPace(pace) {
      put({ pace });
      if (state.doing === 'playing') post({ do: 'play', pace });
    },
    step(by) {
      if (state.status !== 'open') {
        stepWhenOpen = by === 1;
        if (state.status !== 'opening') open();
        return;
      }
      const at = now.tick + by;
      if (at >= now.head) {
        follows = true;
        post({ do: 'tick' });
      } else if (at >= 0) this.seek(at);
    },
    seek(tick) {
      if (state.status !== 'open' || now.head === 0) return;
      if (state.doing === 'playing') post({ do: 'pause' });
      const at = Math.max(0, Math.min(now.head - 1, Math.round(tick)));
      follows = at === now.head - 1;
      putNow({ tick: at });
      post({ do: 'seek', tick: follows ? undefined : at });
    },
    nudge(nudge) {
      if (state.status === 'open') post({ do: 'nudge', nudge });
    },
    keep(names) {
      const key = {};
      kept.set(key, names);
      if (state.status === 'open') post({ do: 'keep', names });
      return () => void kept.delete(key);
    },
    range: (range) => asking((own) => ({ do: 'range', number: own, range }), 'range'),
    lanes: async (range) => (await asking((own) => ({ do: 'lanes', number: own, range }), 'lanes')).lanes,
    table: async (names, bits) => (await asking((own) => ({ do: 'table', number: own, names, bits }), 'table')).text,
  };
}

/** The run a sheet is shown with: of the sheet as it stands, and the one of which most is expected. */
export function usualRun(sheet: Sheet): string | undefined {
  const weight = (name: string) => {
    const run = sheet.runs[name];
    return Object.keys(run?.expect ?? {}).length - (Object.keys(run?.set ?? {}).length > 0 ? 1000 : 0);
  };
  const names = Object.keys(sheet.runs).sort();
  return names.reduce<string | undefined>(
    (best, name) => (best === undefined || weight(name) > weight(best) ? name : best),
    undefined,
  );
}
