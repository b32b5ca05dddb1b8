/** The bench's own thread: runs go on in slices short enough that whatever is asked is heard at once. */

import { library } from '../../blocks/library.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { Ask, Doing, Opening, Tell } from './bench_messages.ts';
import { drawLanes, drawRange, LiveRun } from './live_run.ts';

/** Milliseconds a run may go on before messages are heard. */
const SLICE = 8;
/** Ticks run before the clock is looked at. */
const STRIDE = 64;
/** Milliseconds between two tellings. */
const TELLING = 33;

let run: LiveRun | undefined;
/** The run before this one, to be drawn behind it. */
let earlier: LiveRun | undefined;
let doing: Doing = 'paused';
let pace = 1;
/** Where paced running began: a moment of our time, and the tick then. */
let base = { at: 0, tick: 0 };
/** A run that is gone through again to this tick, and what it did before. */
let replay: { readonly to: number; readonly after: Doing } | undefined;
/** The tick looked at; undefined: the newest. */
let cursor: number | undefined;
let watch: { readonly number: number; readonly names: readonly string[] } = { number: 0, names: [] };
let nudged: readonly string[] = [];
let lastTold = 0;
let marksTold = '';
let waiting: ReturnType<typeof setTimeout> | undefined;
/** Messages are answered one after the other, whole. */
let queue: Promise<void> = Promise.resolve();

const soon = new MessageChannel();
soon.port1.onmessage = () => step();

function tell(message: Tell, transfer: Transferable[] = []): void {
  self.postMessage(message, { transfer });
}

self.onmessage = ({ data }: MessageEvent<Ask>) => {
  queue = queue
    .then(() => answer(data))
    .catch((error: unknown) => {
      doing = 'paused';
      tell({ say: 'refused', number: 'number' in data ? data.number : 0, findings: [], failed: String(error) });
    });
};

async function answer(ask: Ask): Promise<void> {
  switch (ask.do) {
    case 'open':
      return open(ask.number, ask.opening);
    case 'play':
      pace = ask.pace;
      cursor = undefined;
      return go('playing');
    case 'pause':
      return go('paused');
    case 'tick':
      go('paused');
      cursor = undefined;
      run?.advance(1);
      return tellAll();
    case 'seek':
      cursor = ask.tick;
      return tellValues();
    case 'set':
      if (run?.set(ask.setting, ask.value, ask.sheet) === false) tell({ say: 'cannot_set', setting: ask.setting });
      return tellMarks();
    case 'nudge': {
      if (run === undefined) return;
      if (!run.nudged.includes(ask.nudge.port)) await reopen([...nudged, ask.nudge.port]);
      const done = run.nudge(ask.nudge);
      if (done !== true) tell({ say: 'cannot_nudge', why: done });
      return tellMarks();
    }
    case 'keep':
      if (run?.keepTraces(ask.names) === true) goAgain(run);
      return;
    case 'watch':
      watch = { number: ask.number, names: ask.names };
      tellWatched();
      return tellValues();
    case 'range': {
      const from = ask.range.earlier === true ? earlier : run;
      const { x, y } = from === undefined ? { x: new Float64Array(), y: [] } : drawRange(from, ask.range);
      const buffers = [x, ...y].flatMap((numbers) => (numbers === undefined ? [] : [numbers.buffer]));
      return tell({ say: 'range', number: ask.number, x, y }, buffers);
    }
    case 'lanes': {
      const from = ask.range.earlier === true ? earlier : run;
      return tell({ say: 'lanes', number: ask.number, lanes: from === undefined ? [] : drawLanes(from, ask.range) });
    }
    case 'table': {
      const text = (await run?.table(ask.names, ask.bits, breath)) ?? '';
      return tell({ say: 'table', number: ask.number, text });
    }
  }
}

async function open(number: number, opening: Opening): Promise<void> {
  doing = 'paused';
  replay = undefined;
  cursor = undefined;
  const findings: Finding[] = [];
  const opened = await LiveRun.open(opening, library, nudged, findings);
  if (opened === undefined) {
    run = undefined;
    return tell({ say: 'refused', number, findings, failed: undefined });
  }
  if (run !== undefined && run.head > 0) earlier = run;
  run = opened;
  marksTold = '';
  tell({ say: 'opened', number, facts: opened.facts, before: earlier !== undefined });
  tellWatched();
  await tellAll();
}

/** Opens the present run with more ports that hands may act on, and goes through it to where it is. */
async function reopen(ports: readonly string[]): Promise<void> {
  if (run === undefined) return;
  const findings: Finding[] = [];
  const opened = await LiveRun.open({ ...run.opening, kept: [...run.kept] }, library, ports, findings);
  if (opened === undefined) return;
  nudged = ports;
  const to = run.head;
  opened.takeOver(run);
  run = opened;
  while (run.head < to) {
    run.advance(STRIDE);
    await breath();
  }
}

let lastBreath = 0;

/** Lets other things happen when a slice is over. */
async function breath(): Promise<void> {
  if (performance.now() - lastBreath < SLICE) return;
  await new Promise((resolve) => setTimeout(resolve));
  lastBreath = performance.now();
}

function goAgain(again: LiveRun): void {
  replay ??= { to: again.head, after: doing };
  again.rewind();
  doing = 'replaying';
  soon.port2.postMessage(undefined);
}

function go(to: 'playing' | 'paused'): void {
  if (run === undefined) return;
  if (replay !== undefined) {
    replay = { ...replay, after: to };
    return;
  }
  doing = run.ended ? 'ended' : to;
  base = { at: performance.now(), tick: run.head };
  if (doing === 'playing') soon.port2.postMessage(undefined);
  void tellAll();
}

/** One slice of running. */
function step(): void {
  clearTimeout(waiting);
  if (run === undefined || (doing !== 'playing' && doing !== 'replaying')) return;
  const began = performance.now();
  const seconds = ((began - base.at) / 1000) * pace;
  const due = replay?.to ?? Math.min(run.facts.ticks, base.tick + Math.floor(seconds / run.facts.tick));
  while (run.head < due && performance.now() - began < SLICE) run.advance(Math.min(STRIDE, due - run.head));
  const late = run.head < due;
  if (replay === undefined && late) base = { at: performance.now(), tick: run.head };
  if (replay !== undefined && !late) {
    doing = replay.after;
    replay = undefined;
    base = { at: performance.now(), tick: run.head };
  }
  if (run.ended) doing = 'ended';
  const goesOn = doing === 'playing' || doing === 'replaying';
  if (!goesOn || performance.now() - lastTold >= TELLING) void tellAll();
  if (!goesOn) return;
  if (late) soon.port2.postMessage(undefined);
  else waiting = setTimeout(step, Math.max(4, Math.min(16, (run.facts.tick * 1000) / pace)));
}

async function tellAll(): Promise<void> {
  lastTold = performance.now();
  if (run === undefined) return;
  tellMarks();
  tell({ say: 'progress', head: run.head, doing });
  await tellValues();
}

function tellMarks(): void {
  if (run === undefined) return;
  const { notches, moments, coarse } = run;
  const verdicts = run.verdicts();
  const key = JSON.stringify([notches.length, notches.at(-1)?.nudge, moments.length, verdicts, coarse]);
  if (key === marksTold) return;
  marksTold = key;
  tell({ say: 'marks', notches, moments, verdicts, coarse });
}

function tellWatched(): void {
  const { number, names } = watch;
  tell({ say: 'watched', number, facts: names.map((name) => run?.watched(name)?.facts) });
}

async function tellValues(): Promise<void> {
  if (run === undefined) return;
  const { number, names } = watch;
  const tick = Math.min(cursor ?? run.head - 1, run.head - 1);
  const row = await run.rowAt(tick);
  if (row === undefined) return tell({ say: 'values', number, tick, values: undefined });
  const numbers: number[] = [];
  for (const name of names) {
    const place = run.watched(name)?.place;
    if (place !== undefined) numbers.push(...row.subarray(place.column, place.column + place.count));
  }
  const values = Float64Array.from(numbers);
  tell({ say: 'values', number, tick, values }, [values.buffer]);
}
