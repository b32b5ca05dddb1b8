/** The charts of the bench, one under the other over one time axis, each with its readout at the cursor. */

import { useEffect, useMemo, useRef, useState } from 'react';
import { Chart, DASHES, GUTTER } from '../parts/chart.tsx';
import { EditedText } from '../parts/edited_text.tsx';
import { Lanes } from '../parts/lanes.tsx';
import { Reading } from '../parts/reading.tsx';
import { factsByName } from '../work/facts_by_name.ts';
import { sentenceOf } from '../work/readings.ts';
import { canShow, shownAs, timeWords } from '../work/value_words.ts';
import { useBench, useSheet, useWorkbench } from '../workbench.ts';
import { type ChartFeed, createFeed } from './chart_feed.ts';
import { type Panel, panelsOf } from './panels.ts';
import { keySeek } from './rail.tsx';
import { exportTable, turnChart } from './run_commands.ts';

/** Least pixels of a plot, and those of the time axis. */
const LEAST = 108;
const AXIS = 42;
/** Under this width the readout stands below its plot, and plots have this height. */
const NARROW = 560;
const NARROW_HEIGHT = 150;
/** Pixels of the readout beside a plot. */
const READOUT = 236;
/** Pixels of a lane, and of a panel around its plot. */
const LANE = 26;
const EDGE = 10;

export function Charts() {
  const workbench = useWorkbench();
  const { bench } = workbench;
  const sheet = useSheet();
  const { facts, opening, before, coarse } = useBench();
  const panels = useMemo(() => panelsOf(sheet, facts), [sheet, facts]);
  const place = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState({ width: 0, height: 0 });
  const [zoom, setZoom] = useState<readonly [number, number] | undefined>();
  const tick = facts?.tick ?? 1;
  const whole: readonly [number, number] = [0, Math.max(1, facts?.ticks ?? 1)];
  const view = zoom ?? whole;

  const values = panels.flatMap((panel) => panel.traces.map((trace) => trace.name));
  const logic = panels.flatMap((panel) => panel.lanes.map((lane) => lane.name));
  const key = JSON.stringify([values, logic]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the names are in the key
  const feed = useMemo(() => createFeed(bench, [...new Set(values)], [...new Set(logic)]), [bench, key]);
  useEffect(() => () => feed.stop(), [feed]);
  const [from, to] = view;
  const narrow = size.width > 0 && size.width < NARROW;
  const plotWidth = Math.max(0, size.width - GUTTER - (narrow ? 0 : READOUT));
  // biome-ignore lint/correctness/useExhaustiveDependencies: a new opening is to be looked at anew
  useEffect(() => feed.look(from, to, plotWidth), [feed, from, to, plotWidth, opening]);
  useEffect(() => {
    const box = place.current;
    if (box === null) return;
    const watch = new ResizeObserver(() => setSize({ width: box.clientWidth, height: box.clientHeight }));
    watch.observe(box);
    return () => watch.disconnect();
  }, []);

  const lastPlot = panels.findLastIndex((panel) => panel.traces.length > 0);
  const heights = heightsOf(panels, narrow ? undefined : size.height, lastPlot);
  const zoomTo = (seconds: readonly [number, number] | undefined) =>
    setZoom(seconds === undefined ? undefined : clampView([seconds[0] / tick, seconds[1] / tick], whole[1]));
  return (
    <section className="charts" aria-label="Charts">
      <header className="charts_head">
        <AddTrace />
        {zoom !== undefined && (
          <button type="button" className="written" onClick={() => setZoom(undefined)}>
            whole run <kbd>0</kbd>
          </button>
        )}
        <span className="charts_key" hidden={coarse === 0}>
          before {timeWords(coarse * tick, tick)} s least and greatest values only, to spare memory
        </span>
        <span className="charts_key" hidden={!before}>
          pale behind: the run before
        </span>
        <button type="button" onClick={() => void exportTable(workbench, false)}>
          Export CSV
        </button>
        <button
          type="button"
          title="Real numbers as raw IEEE 754 patterns"
          onClick={() => void exportTable(workbench, true)}
        >
          as bits
        </button>
      </header>
      <div className="chart_stack" ref={place} data-narrow={narrow || undefined}>
        {facts === undefined && <p className="notice">Run the sheet, and its traces stand here.</p>}
        {facts !== undefined && panels.length === 0 && (
          <p className="notice">
            Nothing is charted yet. Choose a value above, or go to an output on the sheet and press <kbd>c</kbd>.
          </p>
        )}
        {panels.map((panel, i) => (
          <PanelView
            key={panel.chart ?? `recorded ${i}`}
            panel={panel}
            feed={feed}
            view={view}
            timeAxis={i === lastPlot}
            height={heights[i] ?? LEAST}
            onZoom={zoomTo}
            onKey={(pressed) => {
              const zoomed = keyZoom(pressed, view, whole[1], bench.now().tick);
              if (zoomed !== undefined) setZoom(zoomed === 'whole' ? undefined : zoomed);
              return zoomed !== undefined;
            }}
          />
        ))}
      </div>
    </section>
  );
}

/** What the plots share of the height there is; at least a little each. */
function heightsOf(panels: readonly Panel[], available: number | undefined, lastPlot: number): number[] {
  const lanes = panels.reduce((sum, panel) => sum + panel.lanes.length * LANE, 0);
  const titles = panels.filter((panel) => panel.title !== '').length * 18;
  const plots = panels.filter((panel) => panel.traces.length > 0);
  const fixed = plots.reduce((sum, panel) => sum + (panel.height ?? 0), 0);
  const free = plots.filter((panel) => panel.height === undefined).length;
  const room = (available ?? 0) - lanes - titles - fixed - AXIS - panels.length * EDGE - 12;
  const each = available === undefined ? NARROW_HEIGHT : Math.max(LEAST, Math.floor(room / Math.max(1, free)));
  return panels.map((panel, i) => (panel.height ?? each) + (i === lastPlot ? AXIS : 0));
}

interface PanelProperties {
  readonly panel: Panel;
  readonly feed: ChartFeed;
  /** Ticks. */
  readonly view: readonly [number, number];
  readonly timeAxis: boolean;
  readonly height: number;
  readonly onZoom: (seconds: readonly [number, number] | undefined) => void;
  /** A key that zooms; false if it does not. */
  readonly onKey: (key: string) => boolean;
}

function PanelView({ panel, feed, view, timeAxis, height, onZoom, onKey }: PanelProperties) {
  const { bench } = useWorkbench();
  const { facts } = useBench();
  const root = useRef<HTMLDivElement>(null);
  const tick = facts?.tick ?? 1;
  const names = [...panel.traces, ...panel.lanes].map(({ name }) => name);
  const key = JSON.stringify(names);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the names are in the key
  const traces = useMemo(() => feed.traces(panel.traces.map(({ name }) => name)), [feed, key]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the names are in the key
  const lanes = useMemo(() => feed.lanes(panel.lanes.map(({ name }) => name)), [feed, key]);
  const cursor = useMemo(
    () => (listener: (seconds: number | undefined) => void) => {
      const write = () => listener(bench.now().tick < 0 ? undefined : bench.now().tick * tick);
      write();
      return bench.onNow(write);
    },
    [bench, tick],
  );
  const tickCursor = useMemo(
    () => (listener: (at: number) => void) => {
      const write = () => listener(bench.now().tick);
      write();
      return bench.onNow(write);
    },
    [bench],
  );
  useSpoken(root, names, tick);
  const title = panel.title === '' ? names.join(', ') : panel.title;
  return (
    <div className="chart_panel">
      <div
        className="chart_plots"
        ref={root}
        role="slider"
        tabIndex={0}
        aria-label={`Chart ${title}, over time`}
        aria-valuemin={0}
        aria-valuemax={Math.max(0, (facts?.ticks ?? 1) - 1)}
        aria-valuenow={0}
        onKeyDown={(event) => {
          const { tick: at, head } = bench.now();
          const to = keySeek(event.key, event.shiftKey, at, head, facts?.ticks ?? 1);
          if (to === undefined && !onKey(event.key)) return;
          event.preventDefault();
          event.stopPropagation();
          if (to !== undefined) bench.seek(to);
        }}
      >
        {panel.title !== '' && <h3>{panel.title}</h3>}
        {panel.traces.length > 0 && (
          <Chart
            label={title}
            unit={panel.unit}
            timeAxis={timeAxis}
            traces={panel.traces}
            height={height}
            low={panel.low}
            high={panel.high}
            view={[view[0] * tick, view[1] * tick]}
            feed={traces}
            cursor={cursor}
            onSeek={(seconds) => bench.seek(seconds / tick)}
            onZoom={onZoom}
          />
        )}
        {panel.lanes.length > 0 && (
          <Lanes lanes={panel.lanes} view={view} feed={lanes} cursor={tickCursor} onSeek={(at) => bench.seek(at)} />
        )}
      </div>
      <Readout panel={panel} />
    </div>
  );
}

/** The values at the cursor, as a table. */
function Readout({ panel }: { panel: Panel }) {
  const workbench = useWorkbench();
  const rows = [
    ...panel.traces.map(({ name, hue }) => ({ name, hue })),
    ...panel.lanes.map(({ name }) => ({ name, hue: undefined })),
  ];
  return (
    <table className="readout">
      <caption className="unseen">Values at the cursor</caption>
      <tbody>
        {rows.map(({ name, hue }) => (
          <tr key={name}>
            <th scope="row">
              {hue !== undefined && <Swatch hue={hue} />}
              <span title={name}>{name}</span>
            </th>
            <td>
              <Reading name={name} bare={hue !== undefined} />
              {hue !== undefined && <UnitShown name={name} />}
            </td>
            <td>
              {panel.chart !== undefined && (
                <button
                  type="button"
                  aria-label={`Take ${name} off the charts`}
                  onClick={() => turnChart(workbench, name)}
                >
                  ×
                </button>
              )}
            </td>
          </tr>
        ))}
        {panel.missing.map((name) => (
          <tr key={name}>
            <th scope="row">{name}</th>
            <td className="quiet">not recorded</td>
            <td />
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** The unit a value is shown in: typed in place, kept on the desk for every place that shows it. */
function UnitShown({ name }: { name: string }) {
  const { document } = useWorkbench();
  const { facts } = useBench();
  const chosen = useSheet().desk.show[name];
  const value = factsByName(facts, name);
  if (value === undefined) return null;
  const put = (text: string): true | string => {
    const unit = text.trim();
    const can = unit === '' || unit === value.unit ? true : canShow(value.unit, unit);
    if (can !== true) return can;
    document.change(`show ${name} in ${unit === '' ? value.unit : unit}`, 'run', (sheet) => {
      if (unit === '' || unit === value.unit) delete sheet.desk.show[name];
      else sheet.desk.show[name] = unit;
      return undefined;
    });
    return true;
  };
  return (
    <EditedText
      field={`show ${name}`}
      className="unit"
      label={`Unit of ${name}`}
      value={chosen ?? value.unit}
      change={put}
    >
      {shownAs(value, chosen).unit || '\u00a0'}
    </EditedText>
  );
}

/** A trace's own line: hue and dash. */
function Swatch({ hue }: { hue: number }) {
  return (
    <svg className="swatch" width="26" height="8" aria-hidden="true">
      <path
        d="M0 4H26"
        stroke={`var(--trace-${(hue % 8) + 1})`}
        strokeWidth="1.5"
        strokeDasharray={(DASHES[hue % DASHES.length] ?? []).join(' ')}
      />
    </svg>
  );
}

/** Keeps the slider's text: time and values at the cursor, for whoever listens. */
function useSpoken(root: React.RefObject<HTMLDivElement | null>, names: readonly string[], tick: number): void {
  const { bench, document } = useWorkbench();
  const key = names.join('\n');
  useEffect(() => {
    const write = () => {
      const element = root.current;
      if (element === null) return;
      const at = bench.now().tick;
      const { show } = document.sheet().desk;
      const values = key.split('\n').map((name) => `${name} ${sentenceOf(bench.readings.now(name), show[name])}`);
      element.setAttribute('aria-valuenow', String(Math.max(0, at)));
      element.setAttribute(
        'aria-valuetext',
        at < 0 ? 'nothing has run yet' : `${timeWords(at * tick, tick)} s: ${values.join(', ')}`,
      );
    };
    write();
    let waiting = false;
    return bench.onNow(() => {
      if (waiting) return;
      waiting = true;
      setTimeout(() => {
        waiting = false;
        write();
      }, 150);
    });
  }, [bench, document, root, key, tick]);
}

/** Any value of the run, to be charted. */
function AddTrace() {
  const workbench = useWorkbench();
  const { facts } = useBench();
  const [text, setText] = useState('');
  const known = facts?.values ?? [];
  const add = (name: string) => {
    setText(name);
    if (!known.some((value) => value.name === name) && !Object.hasOwn(facts?.aliases ?? {}, name)) return;
    turnChart(workbench, name);
    setText('');
  };
  return (
    <label className="add_trace">
      chart{' '}
      <input
        list="values_of_run"
        placeholder="block.port"
        value={text}
        disabled={facts === undefined}
        onChange={({ target }) => setText(target.value)}
        onKeyDown={(event) => {
          if (event.key === 'Enter') add(text.trim());
        }}
        onInput={({ nativeEvent, currentTarget }) => {
          // A choice from the list comes whole, not letter by letter.
          if ((nativeEvent as InputEvent).inputType === 'insertReplacementText') add(currentTarget.value);
        }}
      />
      <datalist id="values_of_run">
        {known
          .filter(({ name }) => !/\.(say|left)\d+$/.test(name))
          .map(({ name }) => (
            <option key={name} value={name} />
          ))}
      </datalist>
    </label>
  );
}

/** A stretch inside the run, at least two ticks long. */
function clampView([from, to]: readonly [number, number], ticks: number): readonly [number, number] {
  const low = Math.max(0, Math.min(Math.floor(from), ticks - 2));
  return [low, Math.max(low + 2, Math.min(ticks, Math.ceil(to)))];
}

function keyZoom(
  key: string,
  [from, to]: readonly [number, number],
  ticks: number,
  at: number,
): readonly [number, number] | 'whole' | undefined {
  if (key === '0') return 'whole';
  const factor = key === '+' || key === '=' ? 0.5 : key === '-' ? 2 : undefined;
  if (factor === undefined) return undefined;
  const middle = at >= from && at <= to ? at : (from + to) / 2;
  const wide = clampView([middle - (middle - from) * factor, middle + (to - middle) * factor], ticks);
  return wide[0] === 0 && wide[1] === ticks ? 'whole' : wide;
}
