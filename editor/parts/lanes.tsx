/** Logic and modes over the run's time, as lanes with words in them; they share their time axis with the charts. */

import { useEffect, useRef, useState } from 'react';
import type { Stretch } from '../work/trace.ts';
import { GUTTER } from './chart.tsx';

export interface Lane {
  readonly name: string;
  /** Words of a mode; empty for logic. */
  readonly modes: readonly string[];
}

interface Properties {
  readonly lanes: readonly Lane[];
  /** Ticks in view. */
  readonly view: readonly [from: number, to: number];
  readonly feed: (listener: (lanes: readonly (readonly Stretch[] | undefined)[]) => void) => () => void;
  /** Hands over the tick looked at; −1: none. */
  readonly cursor: (listener: (tick: number) => void) => () => void;
  readonly onSeek: (tick: number) => void;
}

/** Pixels of one lane, and right of the plots. */
const HEIGHT = 26;
const RIGHT = 10;
/** Words narrower than this a letter are left out. */
const LETTER = 7;

export function Lanes({ lanes, view, feed, cursor, onSeek }: Properties) {
  const [stretches, setStretches] = useState<readonly (readonly Stretch[] | undefined)[]>([]);
  const [width, setWidth] = useState(0);
  const place = useRef<HTMLDivElement>(null);
  const line = useRef<HTMLDivElement>(null);
  const [from, to] = view;
  useEffect(() => feed(setStretches), [feed]);
  useEffect(() => {
    const box = place.current;
    if (box === null) return;
    const watch = new ResizeObserver(() => setWidth(box.clientWidth));
    watch.observe(box);
    return () => watch.disconnect();
  }, []);
  useEffect(
    () =>
      cursor((tick) => {
        if (line.current === null) return;
        line.current.hidden = tick < from || tick > to;
        line.current.style.left = `${(100 * (tick - from)) / Math.max(1, to - from)}%`;
      }),
    [cursor, from, to],
  );
  const scale = width / Math.max(1, to - from);
  const x = (tick: number) => (Math.max(from, Math.min(to, tick)) - from) * scale;
  return (
    <div className="lanes" style={{ paddingRight: RIGHT }}>
      <div className="lane_names" style={{ width: GUTTER }} aria-hidden="true">
        {lanes.map(({ name }) => (
          <span key={name} title={name}>
            {name.replace(/^.*\./, '').replaceAll('_', ' ')}
          </span>
        ))}
      </div>
      <div
        className="lane_plot"
        ref={place}
        style={{ height: lanes.length * HEIGHT }}
        onPointerDown={(event) => {
          if (event.button !== 0) return;
          event.currentTarget.setPointerCapture(event.pointerId);
          onSeek(tickAt(event, from, to));
        }}
        onPointerMove={(event) => {
          if (event.currentTarget.hasPointerCapture(event.pointerId)) onSeek(tickAt(event, from, to));
        }}
      >
        <svg width={width} height={lanes.length * HEIGHT} aria-hidden="true">
          {lanes.map((lane, row) => (
            <g key={lane.name} transform={`translate(0 ${row * HEIGHT})`}>
              <path className="lane_base" d={`M0 ${HEIGHT - 0.5}H${width}`} />
              <LanePicture lane={lane} stretches={stretches[row] ?? []} x={x} />
            </g>
          ))}
        </svg>
        <div className="chart_cursor lane_cursor" ref={line} hidden />
      </div>
    </div>
  );
}

function tickAt(event: React.PointerEvent, from: number, to: number): number {
  const { left, width } = event.currentTarget.getBoundingClientRect();
  return Math.floor(from + ((event.clientX - left) / Math.max(1, width)) * (to - from));
}

interface PictureProperties {
  readonly lane: Lane;
  readonly stretches: readonly Stretch[];
  readonly x: (tick: number) => number;
}

function LanePicture({ lane, stretches, x }: PictureProperties) {
  if (lane.modes.length === 0) {
    const level = (value: number) => (value === 0 ? HEIGHT - 6.5 : 6.5);
    const path = stretches.map(({ from, to, value }, i) => `${i === 0 ? 'M' : 'L'}${x(from)} ${level(value)}H${x(to)}`);
    return (
      <>
        {stretches
          .filter(({ value }) => value !== 0)
          .map(({ from, to }) => (
            <rect key={from} className="lane_yes" x={x(from)} y={6.5} width={x(to) - x(from)} height={HEIGHT - 13} />
          ))}
        <path className="lane_line" d={path.join('')} />
      </>
    );
  }
  return stretches.map(({ from, to, value }) => {
    const word = lane.modes[value] ?? String(value);
    const [left, right] = [x(from), x(to)];
    return (
      <g key={from}>
        <path className="lane_line" d={`M${left} 3V${HEIGHT - 3}`} />
        {right - left > word.length * LETTER && (
          <text className={/trip/.test(word) ? 'lane_trip' : 'lane_word'} x={left + 6} y={HEIGHT / 2 + 4}>
            {word}
          </text>
        )}
      </g>
    );
  });
}
