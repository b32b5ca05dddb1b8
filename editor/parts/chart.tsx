/** One chart of traces over the run's time: axes, stairs and lines, the run before behind, the cursor on a layer of its own; the only user of uPlot. */

import { useEffect, useRef } from 'react';
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';

/** How one trace is drawn. */
export interface TraceStyle {
  readonly name: string;
  /** It holds between ticks: drawn as stairs. */
  readonly stepped: boolean;
  /** Which of the eight hues and dashes. */
  readonly hue: number;
  /** SI times 1/factor is shown. */
  readonly factor: number;
}

/** Points of all traces over the stretch in view: seconds, and a column a trace in SI. */
export interface ChartData {
  readonly x: Float64Array;
  readonly y: readonly (Float64Array | undefined)[];
  readonly before: { readonly x: Float64Array; readonly y: readonly (Float64Array | undefined)[] } | undefined;
}

export interface ChartProperties {
  readonly label: string;
  /** Unit of the vertical axis, and of time where it is written under this chart. */
  readonly unit: string;
  readonly timeAxis: boolean;
  readonly traces: readonly TraceStyle[];
  readonly height: number;
  /** Ends of the scale, as shown; undefined: found from what is in view. */
  readonly low: number | undefined;
  readonly high: number | undefined;
  /** Seconds in view. */
  readonly view: readonly [from: number, to: number];
  /** Hands over the data now and whenever there is newer. */
  readonly feed: (listener: (data: ChartData) => void) => () => void;
  /** Hands over where the cursor is, in seconds; undefined: nowhere. */
  readonly cursor: (listener: (seconds: number | undefined) => void) => () => void;
  readonly onSeek: (seconds: number) => void;
  readonly onZoom: (view: readonly [number, number] | undefined) => void;
}

/** Pixels left of every plot, so that all share one time axis. */
export const GUTTER = 78;

/** Dashes by hue, so that colour is never the only sign. */
export const DASHES: readonly (readonly number[])[] = [
  [],
  [7, 3],
  [2, 2],
  [10, 3, 2, 3],
  [4, 4],
  [1, 3],
  [12, 4],
  [6, 2, 2, 2],
];

export function Chart(properties: ChartProperties) {
  const { traces, height, low, high, view, feed, cursor, label, unit, timeAxis } = properties;
  const place = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | undefined>(undefined);
  const latest = useRef(properties);
  latest.current = properties;
  const shape = JSON.stringify([traces, height, low, high, unit, timeAxis]);

  // biome-ignore lint/correctness/useExhaustiveDependencies: `shape` stands for all of which a plot is made
  useEffect(() => {
    const box = place.current;
    if (box === null) return;
    let data: ChartData | undefined;
    const make = () => {
      plot.current?.destroy();
      plot.current = makePlot(box, latest);
      if (data !== undefined) fill(plot.current, data, latest.current);
      line();
    };
    let at: number | undefined;
    const line = () => moveCursor(plot.current, at);
    make();
    const unfeed = feed((fresh) => {
      data = fresh;
      if (plot.current !== undefined) fill(plot.current, fresh, latest.current);
      line();
    });
    const uncursor = cursor((seconds) => {
      at = seconds;
      line();
    });
    const watch = new ResizeObserver(() => {
      const width = Math.floor(box.clientWidth);
      if (plot.current !== undefined && width > 0 && width !== plot.current.width) {
        plot.current.setSize({ width, height });
        line();
      }
    });
    watch.observe(box);
    const dark = matchMedia('(prefers-color-scheme: dark)');
    dark.addEventListener('change', make);
    const themed = new MutationObserver(make);
    themed.observe(document.documentElement, { attributeFilter: ['data-theme'] });
    return () => {
      unfeed();
      uncursor();
      watch.disconnect();
      themed.disconnect();
      dark.removeEventListener('change', make);
      plot.current?.destroy();
      plot.current = undefined;
    };
  }, [shape, feed, cursor]);

  const [from, to] = view;
  useEffect(() => {
    plot.current?.setScale('x', { min: from, max: to });
  }, [from, to]);

  return <div className="plot" ref={place} data-label={label} />;
}

function makePlot(box: HTMLDivElement, latest: { readonly current: ChartProperties }): uPlot {
  const { traces, height, timeAxis, unit, view } = latest.current;
  const colours = resolveColours(box, traces);
  const axis = (): uPlot.Axis => ({
    stroke: colours.ink,
    font: '12px "DejaVu Sans", sans-serif',
    labelFont: '12px "DejaVu Sans", sans-serif',
    grid: { stroke: colours.hair, width: 1 },
    ticks: { stroke: colours.hair, width: 1, size: 4 },
  });
  const series = (style: TraceStyle, i: number, before: boolean): uPlot.Series => {
    const paths = style.stepped ? uPlot.paths.stepped?.({ align: 1 }) : uPlot.paths.linear?.();
    const stroke = colours.traces[i] ?? colours.ink;
    return {
      stroke: before ? `color-mix(in srgb, ${stroke} 55%, transparent)` : stroke,
      width: 1,
      dash: before ? [3, 3] : [...(DASHES[style.hue % DASHES.length] ?? [])],
      points: { show: false },
      ...(paths === undefined ? {} : { paths }),
    };
  };
  const options: uPlot.Options = {
    width: Math.max(120, Math.floor(box.clientWidth)),
    height,
    legend: { show: false },
    padding: [8, 10, timeAxis ? 0 : 4, 0],
    cursor: { points: { show: false }, x: false, y: false, drag: { x: true, y: false, setScale: false } },
    select: { show: true, left: 0, top: 0, width: 0, height: 0 },
    scales: {
      x: { time: false, auto: false, min: view[0], max: view[1] },
      y: { auto: false, min: 0, max: 1 },
    },
    axes: [
      {
        ...axis(),
        size: timeAxis ? 26 : 0,
        ...(timeAxis ? { label: 'time, s', labelSize: 16, gap: 3 } : { show: true, values: [] }),
      },
      {
        ...axis(),
        size: GUTTER - 16,
        label: unit === '' ? ' ' : unit,
        labelSize: 16,
        gap: 4,
        values: (_, ticks) => ticks.map(tickWords),
      },
    ],
    series: [
      {},
      ...traces.map((style, i) => series(style, i, true)),
      ...traces.map((style, i) => series(style, i, false)),
    ],
    hooks: {
      setSelect: [
        (plot) => {
          const { left, width } = plot.select;
          if (width < 4) return;
          latest.current.onZoom([plot.posToVal(left, 'x'), plot.posToVal(left + width, 'x')]);
          plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
        },
      ],
      ready: [(plot) => addCursor(plot, latest)],
    },
  };
  return new uPlot(
    options,
    [[], ...traces.map(() => []), ...traces.map(() => [])] as unknown as uPlot.AlignedData,
    box,
  );
}

/** The colours of the present theme, as a canvas takes them. */
function resolveColours(
  box: HTMLElement,
  traces: readonly TraceStyle[],
): { ink: string; hair: string; traces: string[] } {
  const probe = document.createElement('span');
  box.append(probe);
  const resolve = (variable: string): string => {
    probe.style.color = `var(${variable})`;
    return getComputedStyle(probe).color;
  };
  const found = {
    ink: resolve('--ink'),
    hair: resolve('--chart-grid'),
    traces: traces.map(({ hue }) => resolve(`--trace-${(hue % 8) + 1}`)),
  };
  probe.remove();
  return found;
}

/** Puts the data in: one time for both runs, gaps where there is no number. */
function fill(plot: uPlot, data: ChartData, properties: ChartProperties): void {
  const { traces } = properties;
  const shown = (values: Float64Array | undefined, length: number, factor: number): (number | null)[] =>
    Array.from({ length }, (_, i) => {
      const value = values?.[i];
      return value === undefined || !Number.isFinite(value) ? null : value / factor;
    });
  const { x, before } = data;
  const columns = traces.map(({ factor }, i) => shown(data.y[i], x.length, factor));
  const old = traces.map(({ factor }, i) =>
    shown(before !== undefined && before.x.length === x.length ? before.y[i] : undefined, x.length, factor),
  );
  plot.batch(() => {
    plot.setData([[...x], ...old, ...columns] as uPlot.AlignedData, false);
    const [min, max] = scaleOf(plot, properties);
    plot.setScale('y', { min, max });
    plot.setScale('x', { min: properties.view[0], max: properties.view[1] });
  });
}

/** The vertical scale: what is asked for, else what is in view with a little room, a flat line in the middle. */
function scaleOf(plot: uPlot, { low, high }: ChartProperties): [number, number] {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const column of plot.data.slice(1))
    for (const value of column)
      if (typeof value === 'number') {
        if (value < least) least = value;
        if (value > most) most = value;
      }
  if (least > most) [least, most] = [0, 1];
  const room = most > least ? (most - least) * 0.08 : Math.abs(most) * 0.1 || 1;
  return [low ?? least - room, high ?? most + room];
}

function tickWords(value: number): string {
  if (value === 0) return '0';
  const size = Math.abs(value);
  const text =
    size >= 1e5 || size < 1e-3 ? value.toExponential(1).replace('e+', 'e') : String(Number(value.toPrecision(6)));
  return text.replaceAll('-', '−');
}

/** The cursor's own layer: a line, wide enough to be taken hold of; a click anywhere puts it there. */
function addCursor(plot: uPlot, latest: { readonly current: ChartProperties }): void {
  const line = document.createElement('div');
  line.className = 'chart_cursor';
  plot.over.append(line);
  const seek = (event: PointerEvent | MouseEvent) => {
    const { left } = plot.over.getBoundingClientRect();
    latest.current.onSeek(plot.posToVal(event.clientX - left, 'x'));
  };
  line.addEventListener('mousedown', (event) => event.stopPropagation());
  line.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return;
    event.stopPropagation();
    line.setPointerCapture(event.pointerId);
  });
  line.addEventListener('pointermove', (event) => {
    if (line.hasPointerCapture(event.pointerId)) seek(event);
  });
  let pressed: number | undefined;
  plot.over.addEventListener('pointerdown', (event) => {
    pressed = event.button === 0 ? event.clientX : undefined;
  });
  plot.over.addEventListener('click', (event) => {
    if (pressed !== undefined && Math.abs(event.clientX - pressed) < 4 && event.detail < 2) seek(event);
  });
  plot.over.addEventListener('dblclick', () => latest.current.onZoom(undefined));
}

function moveCursor(plot: uPlot | undefined, seconds: number | undefined): void {
  const line = plot?.over.querySelector<HTMLElement>('.chart_cursor');
  if (plot === undefined || line === null || line === undefined) return;
  const left = seconds === undefined ? -1 : plot.valToPos(seconds, 'x');
  line.hidden = !(left >= -0.5 && left <= plot.over.clientWidth + 0.5);
  line.style.transform = `translateX(${left}px)`;
}
