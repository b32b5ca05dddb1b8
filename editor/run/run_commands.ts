/** Commands of the bench: run, hold, ticks, marks, pace, the table of a run, charts and pins of what the mark is on. */

import type { Sheet } from '../../compiler/sheet/sheet.ts';
import type { Command } from '../commands.ts';
import { freshName } from '../document/edits.ts';
import { hand } from '../document/files.ts';
import type { Draft } from '../document/sheet.ts';
import { say } from '../session.ts';
import { PACES } from '../work/bench.ts';
import { timeWords } from '../work/value_words.ts';
import type { Workbench } from '../workbench.ts';
import { panelsOf } from './panels.ts';

const hasRun = ({ bench }: Workbench): true | string =>
  bench.now().head > 0 || 'Nothing has run yet: Ctrl+Enter runs the sheet.';

/** Goes to the next thing that happened after the cursor, or before it, and says it. */
function goToMark(workbench: Workbench, way: 1 | -1): void {
  const { bench, session } = workbench;
  const { facts, notches, moments, verdicts } = bench.state();
  if (facts === undefined) return;
  const { tick, head } = bench.now();
  const marks = [
    ...facts.nudges.map(({ name, from, words }) => ({ tick: from, words: `${name}: ${words}` })),
    ...notches.map((notch) => ({ tick: notch.tick, words: notch.words })),
    ...moments.map(({ tick: at, block, mode }) => ({ tick: at, words: `${block} ${mode}` })),
    ...verdicts.flatMap((one) =>
      one.tick === undefined ? [] : [{ tick: one.tick, words: `${one.name.replaceAll('_', ' ')} ${one.is}` }],
    ),
  ]
    .filter((mark) => mark.tick < head && (way === 1 ? mark.tick > tick : mark.tick < tick))
    .sort((a, b) => (a.tick - b.tick) * way);
  const next = marks[0];
  if (next === undefined) {
    say(session, `Nothing is marked ${way === 1 ? 'after' : 'before'} this.`);
    return;
  }
  bench.seek(next.tick);
  say(session, `${timeWords(next.tick * facts.tick, facts.tick)} s: ${next.words}`);
}

function changePace({ bench, session }: Workbench, by: 1 | -1): void {
  const at = PACES.indexOf(bench.state().pace as (typeof PACES)[number]);
  const next = PACES[Math.max(0, Math.min(PACES.length - 1, at + by))];
  if (next === undefined) return;
  bench.setPace(next);
  say(session, `Pace: ${paceWords(next)}.`);
}

export function paceWords(pace: number): string {
  if (!Number.isFinite(pace)) return 'as fast as possible';
  return pace < 1 ? `1/${Math.round(1 / pace)}` : String(pace);
}

/** What the table of a run holds: what the run records, and what the charts show. */
export function tableNames({ bench, document }: Workbench): string[] {
  const charted = Object.values(document.sheet().desk.charts).flatMap((chart) => chart.traces);
  const recorded = bench.state().facts?.record ?? [];
  return recorded.length > 0 ? [...recorded] : [...new Set(charted)];
}

/** Hands over the run so far as comma-separated values; `bits`: real numbers as raw patterns. */
export async function exportTable(workbench: Workbench, bits: boolean): Promise<void> {
  const { bench, journal, session } = workbench;
  const text = await bench.table(tableNames(workbench), bits);
  const sheet = journal.status().kept?.name ?? 'sheet';
  const name = `${[sheet, bench.state().run].filter((part) => part !== undefined).join('_')}.csv`;
  hand(name, new Blob([text], { type: 'text/csv' }));
  say(session, `Handed over ${name}.`);
}

/** The output the mark is on; of a block with one output, that one. */
function markedOutput({ session, scene }: Workbench): string | undefined {
  const { mark, scope } = session.getState();
  if (mark === undefined || scope !== '') return undefined;
  const { ports, wires } = scene();
  if (mark.on === 'output') return mark.at;
  if (mark.on === 'input' || mark.on === 'line') return wires.get(mark.at);
  const outputs = [...ports.values()].filter(({ card, direction }) => card === mark.at && direction === 'out');
  return outputs.length === 1 ? outputs[0]?.name : undefined;
}

const onOutput = (workbench: Workbench): true | string =>
  workbench.document.locked() ??
  (markedOutput(workbench) !== undefined || 'Go to an output on the sheet, or to a line, first.');

/** Puts an output on a chart of its own, or takes it off every chart; charts that stood by themselves are kept as they are. */
export function turnChart({ document, session, bench }: Workbench, port: string): void {
  const sheet = document.sheet();
  const { charts } = sheet.desk;
  const charted = Object.values(charts).some((chart) => chart.traces.includes(port));
  const standing = Object.keys(charts).length > 0 ? [] : panelsOf(sheet, bench.state().facts);
  const label = charted ? `take ${port} off the charts` : `chart ${port}`;
  document.change(label, session.getState().view === 'run' ? 'run' : '', (draft) => {
    for (const { traces, lanes } of standing)
      addChart(
        draft,
        [...traces, ...lanes].map(({ name }) => name),
      );
    if (charted) takeOff(draft, port);
    else addChart(draft, [port]);
    return undefined;
  });
}

function addChart(sheet: Draft<Sheet>, traces: string[]): void {
  const { charts } = sheet.desk;
  const name = freshName((traces[0] ?? 'chart').replaceAll('.', '_'), (taken) => Object.hasOwn(charts, taken));
  const order = 1 + Math.max(0, ...Object.values(charts).map((chart) => chart.order ?? 0));
  charts[name] = { traces, order, title: traces.join(', ') };
}

function takeOff(sheet: Draft<Sheet>, port: string): void {
  for (const [name, chart] of Object.entries(sheet.desk.charts)) {
    chart.traces = chart.traces.filter((trace) => trace !== port);
    if (chart.traces.length === 0) delete sheet.desk.charts[name];
  }
}

/** Keeps an output's value on the paper, or takes it away. */
export function turnPin({ document }: Workbench, port: string): void {
  const pinned = Object.hasOwn(document.sheet().desk.pins, port);
  document.change(`${pinned ? 'unpin' : 'pin'} ${port}`, '', (sheet) => {
    if (pinned) delete sheet.desk.pins[port];
    else sheet.desk.pins[port] = {};
    return undefined;
  });
}

export const RUN_COMMANDS: readonly Command[] = [
  {
    id: 'run.toggle',
    name: 'Run or pause',
    about: 'Runs the sheet on the bench at the pace of the rail, or holds it where it is.',
    keys: ['Ctrl+Enter'],
    inText: true,
    can: () => true,
    run: ({ bench }) => bench.toggle(),
  },
  {
    id: 'run.tick',
    name: 'One tick on',
    about: 'Looks at the next tick; at the newest one it runs a tick more.',
    keys: ['.'],
    can: () => true,
    run: ({ bench }) => bench.step(1),
  },
  {
    id: 'run.back',
    name: 'One tick back',
    about: 'Looks at the tick before.',
    keys: [','],
    can: hasRun,
    run: ({ bench }) => bench.step(-1),
  },
  {
    id: 'run.reset',
    name: 'Back to the start',
    about: 'Opens the run anew with the sheet as it is now; the run so far stays behind it, dashed.',
    keys: ['Ctrl+Shift+Enter'],
    can: () => true,
    run: ({ bench }) => bench.reset(),
  },
  {
    id: 'run.next_mark',
    name: 'Next mark of the run',
    about: 'Moves the cursor to the next nudge, change, trip or decided expectation.',
    keys: ['Ctrl+.'],
    can: hasRun,
    run: (workbench) => goToMark(workbench, 1),
  },
  {
    id: 'run.mark_before',
    name: 'Mark before',
    about: 'Moves the cursor back to the nudge, change, trip or decided expectation before it.',
    keys: ['Ctrl+,'],
    can: hasRun,
    run: (workbench) => goToMark(workbench, -1),
  },
  {
    id: 'run.faster',
    name: 'Faster pace',
    about: 'The next faster pace of the rail.',
    can: () => true,
    run: (workbench) => changePace(workbench, 1),
  },
  {
    id: 'run.slower',
    name: 'Slower pace',
    about: 'The next slower pace of the rail: a machine that falls in half a second cannot be watched at 1.',
    can: () => true,
    run: (workbench) => changePace(workbench, -1),
  },
  {
    id: 'run.table',
    name: 'Hand over the run as a table',
    about: 'Comma-separated values of what the run records, in full decimals, to the last tick run.',
    can: hasRun,
    run: (workbench) => void exportTable(workbench, false),
  },
  {
    id: 'run.table_bits',
    name: 'Hand over the run as a table of bits',
    about: 'As the table, with real numbers as raw IEEE 754 patterns, to compare bit for bit.',
    can: hasRun,
    run: (workbench) => void exportTable(workbench, true),
  },
  {
    id: 'run.chart',
    name: 'Chart this output',
    about: 'Puts the output the mark is on on a chart, or takes it off the charts.',
    keys: ['c'],
    region: 'paper',
    can: onOutput,
    run: (workbench) => {
      const port = markedOutput(workbench);
      if (port !== undefined) turnChart(workbench, port);
    },
  },
  {
    id: 'run.pin',
    name: 'Pin the value of this output',
    about: 'Keeps the value of the output the mark is on on the paper, or takes it away.',
    keys: ['p'],
    region: 'paper',
    can: onOutput,
    run: (workbench) => {
      const port = markedOutput(workbench);
      if (port !== undefined) turnPin(workbench, port);
    },
  },
];
