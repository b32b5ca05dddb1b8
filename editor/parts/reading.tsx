/** A value of the run on screen: digits and unit, written outside React, with a small trace beside it where it is wanted. */

import { useEffect, useRef } from 'react';
import type { Value } from '../work/readings.ts';
import { wordsOf } from '../work/readings.ts';
import { useBench, useSheet, useWorkbench } from '../workbench.ts';

interface Properties {
  /** A port, memory or state. */
  readonly name: string;
  readonly className?: string;
  /** Its unit stands elsewhere. */
  readonly bare?: boolean;
}

/** The value at the tick looked at. */
export function Reading({ name, className, bare }: Properties) {
  const { bench } = useWorkbench();
  const { desk } = useSheet();
  const chosen = desk.show[name];
  const digits = useRef<HTMLSpanElement>(null);
  const unit = useRef<HTMLSpanElement>(null);
  useEffect(() => {
    const write = (value: Value) => {
      const words = wordsOf(value, chosen);
      if (digits.current !== null) {
        digits.current.textContent = words.text;
        digits.current.dataset.known = String(value.facts !== undefined && value.numbers !== undefined);
        digits.current.dataset.old = String(ageOf(value) > 0);
        digits.current.title = ageWords(ageOf(value));
      }
      if (unit.current !== null) unit.current.textContent = bare === true ? '' : words.unit;
    };
    return bench.readings.register(name, write);
  }, [bench, name, chosen, bare]);
  return (
    <span className={`reading ${className ?? ''}`}>
      <span className="digits" ref={digits} />
      <span className="unit" ref={unit} />
    </span>
  );
}

/** `3 ticks old`; empty for a value of this tick. */
export function ageWords(age: number): string {
  return age === 0 ? '' : age === 1 ? 'one tick old' : `${age} ticks old`;
}

/** Ticks since a value could change: a slow block's output is held meanwhile. */
export function ageOf({ facts, tick }: Value): number {
  if (facts === undefined || facts.every <= 1 || tick < facts.phase) return 0;
  return (tick - facts.phase) % facts.every;
}

const WIDTH = 48;
const HEIGHT = 14;
/** How much of the past a slip's trace shows, in seconds. */
const PAST = 2;
/** Milliseconds between two of its pictures. */
const PACE = 100;

/** A slip: the value and the last two seconds of it. */
export function Slip({ name }: { name: string }) {
  return (
    <span className="slip">
      <Sparkline name={name} />
      <Reading name={name} />
    </span>
  );
}

function Sparkline({ name }: { name: string }) {
  const { bench } = useWorkbench();
  const { opening } = useBench();
  const path = useRef<SVGPathElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another opening has other traces
  useEffect(() => {
    const forget = bench.keep([name]);
    let busy = false;
    let stopped = false;
    let again: ReturnType<typeof setTimeout> | undefined;
    const show = async () => {
      const { facts } = bench.state();
      const { tick } = bench.now();
      if (facts === undefined || busy || stopped) return;
      busy = true;
      const from = Math.max(0, tick + 1 - Math.round(PAST / facts.tick));
      try {
        const { y } = await bench.range({ names: [name], from, to: tick + 1, buckets: WIDTH / 2 });
        path.current?.setAttribute('d', sparkPath(y[0]));
      } catch {
        path.current?.setAttribute('d', '');
      }
      again = setTimeout(() => {
        busy = false;
        if (bench.now().tick !== tick) void show();
      }, PACE);
    };
    void show();
    const quiet = bench.onNow(() => void show());
    return () => {
      stopped = true;
      clearTimeout(again);
      forget();
      quiet();
    };
  }, [bench, name, opening]);
  return (
    <svg className="sparkline" width={WIDTH} height={HEIGHT} aria-hidden="true">
      <path ref={path} />
    </svg>
  );
}

function sparkPath(values: Float64Array | undefined): string {
  if (values === undefined || values.length < 2) return '';
  const numbers = [...values].filter(Number.isFinite);
  const [low, high] = [Math.min(...numbers), Math.max(...numbers)];
  const span = high > low ? high - low : 1;
  let pen = 'M';
  return [...values]
    .map((value, i) => {
      if (!Number.isFinite(value)) {
        pen = 'M';
        return '';
      }
      const x = (i / (values.length - 1)) * (WIDTH - 2) + 1;
      const y = HEIGHT - 2 - ((value - low) / span) * (HEIGHT - 4) - (high > low ? 0 : (HEIGHT - 4) / 2);
      const text = `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
      pen = 'L';
      return text;
    })
    .join('');
}
