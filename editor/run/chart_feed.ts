/** Brings the traces in view from the bench's thread: one question out at a time, for all charts together. */

import type { ChartData } from '../parts/chart.tsx';
import type { BenchClient } from '../work/bench.ts';
import type { Stretch } from '../work/trace.ts';

/** Milliseconds between two pictures. */
const PACE = 66;
const EMPTY = new Float64Array();

type LaneData = readonly (readonly Stretch[] | undefined)[];

export interface ChartFeed {
  /** The stretch in view in ticks, and how many pixels it is wide. */
  look(from: number, to: number, width: number): void;
  traces(names: readonly string[]): (listener: (data: ChartData) => void) => () => void;
  lanes(names: readonly string[]): (listener: (lanes: LaneData) => void) => () => void;
  stop(): void;
}

interface Drawn {
  readonly x: Float64Array;
  readonly y: ReadonlyMap<string, Float64Array | undefined>;
}

/** A feed of these names; their traces are kept while it lasts. */
export function createFeed(bench: BenchClient, values: readonly string[], logic: readonly string[]): ChartFeed {
  const forget = bench.keep([...values, ...logic]);
  let view = { from: 0, to: 0, width: 0 };
  let now: Drawn = { x: EMPTY, y: new Map() };
  let before: Drawn | undefined;
  let lanes: ReadonlyMap<string, readonly Stretch[] | undefined> = new Map();
  let busy = false;
  let stale = false;
  let stopped = false;
  let oldView = '';
  let again: ReturnType<typeof setTimeout> | undefined;
  const listeners = new Set<() => void>();

  const ask = async () => {
    const { facts, opening } = bench.state();
    if (busy || stopped || facts === undefined || view.width <= 0) {
      stale = true;
      return;
    }
    busy = true;
    stale = false;
    const range = { from: view.from, to: view.to, buckets: Math.max(1, Math.floor(view.width)) };
    const { tick } = facts;
    const bring = async (earlier: boolean): Promise<Drawn> => {
      const { x, y } = await bench.range({ ...range, names: values, earlier });
      return { x: x.map((at) => at * tick), y: new Map(values.map((name, i) => [name, y[i]])) };
    };
    try {
      now = await bring(false);
      const key = JSON.stringify([range, opening]);
      if (key !== oldView) {
        before = await bring(true);
        oldView = key;
      }
      const found = logic.length === 0 ? [] : await bench.lanes({ ...range, names: logic });
      lanes = new Map(logic.map((name, i) => [name, found[i]]));
      for (const listener of listeners) listener();
    } catch {
      oldView = '';
    }
    again = setTimeout(() => {
      busy = false;
      if (stale) void ask();
    }, PACE);
  };
  let head = -1;
  const quiet = bench.onNow((at) => {
    if (at.head === head) return;
    head = at.head;
    void ask();
  });

  const subscribe = (write: () => void) => {
    listeners.add(write);
    write();
    return () => listeners.delete(write);
  };
  return {
    look(from, to, width) {
      if (view.from === from && view.to === to && view.width === width) return;
      view = { from, to, width };
      void ask();
    },
    traces: (names) => (listener) => {
      const stop = subscribe(() =>
        listener({
          x: now.x,
          y: names.map((name) => now.y.get(name)),
          before: before === undefined ? undefined : { x: before.x, y: names.map((name) => before?.y.get(name)) },
        }),
      );
      return () => void stop();
    },
    lanes: (names) => (listener) => {
      const stop = subscribe(() => listener(names.map((name) => lanes.get(name))));
      return () => void stop();
    },
    stop() {
      stopped = true;
      clearTimeout(again);
      quiet();
      forget();
    },
  };
}
