/** One recorded run of a sheet: what it changes before compiling, what it does by hand, how long it goes. */

import { type Compiled, type CompileOptions, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { wholePeriods } from '../../compiler/language/quantity.ts';
import { entry, type Nudge, type Run, type SettingValue, type Sheet } from '../../compiler/sheet/sheet.ts';
import { type Bench, type Column, type Engine, type Event, openBench } from './bench.ts';
import { type Judged, judge, namesExpected } from './expectations.ts';

export interface RunRequest extends CompileOptions {
  /** One of the sheet's runs; without it, the sheet as it stands. */
  readonly run?: string;
  /** How long, instead of the run's own. */
  readonly for?: SettingValue;
  /** Settings put before compiling, on top of the run's. */
  readonly set?: Readonly<Record<string, SettingValue>>;
  /** Recorded, instead of the run's own list. */
  readonly record?: readonly string[];
  /** Record every other value there is too, sayings included, after those asked for. */
  readonly everything?: boolean;
  /** Ports that may be nudged by hand; their hooks come after the run's own. */
  readonly hooks?: readonly string[];
  readonly engine?: Engine;
}

export interface RunResult {
  readonly compiled: Compiled;
  readonly ticks: number;
  readonly columns: readonly Column[];
  /** Row after row of `columns`. */
  readonly rows: Float64Array;
  readonly plantError: number;
  readonly judged: readonly Judged[];
}

const DEFAULT_LENGTH = '10 s';
const TICK_LIMIT = 100_000_000;

/** The sheet with settings put; `block.setting`, deeper for blocks in groups. */
export function withSettings(sheet: Sheet, set: Readonly<Record<string, SettingValue>>, findings: Finding[]): Sheet {
  const blocks = { ...sheet.blocks };
  for (const [key, value] of Object.entries(set)) {
    const dot = key.indexOf('.');
    const name = key.slice(0, dot);
    const block = dot < 0 ? undefined : entry(blocks, name);
    if (block === undefined) {
      findings.push({
        id: 'unknown_place',
        level: 'error',
        at: { path: key },
        facts: { name: dot < 0 ? key : name, nearest: '' },
      });
      continue;
    }
    blocks[name] = { ...block, set: { ...block.set, [key.slice(dot + 1)]: value } };
  }
  return { ...sheet, blocks };
}

/** Everything a run needs before its first tick. */
export interface Prepared {
  readonly compiled: Compiled;
  readonly bench: Bench;
  readonly ticks: number;
  readonly run: Run | undefined;
  /** The run's nudges as events, and the port of each hook. */
  readonly events: readonly Event[];
  readonly hooks: readonly string[];
}

/** Compiles a sheet for a run and opens its bench; undefined after findings were reported. */
export async function prepareRun(
  sheet: Sheet,
  request: RunRequest,
  findings: Finding[],
): Promise<Prepared | undefined> {
  const run = request.run === undefined ? undefined : entry(sheet.runs, request.run);
  if (request.run !== undefined && run === undefined) {
    const known = Object.keys(sheet.runs).join(', ');
    findings.push({ id: 'unknown_run', level: 'error', at: { path: '' }, facts: { name: request.run, known } });
    return undefined;
  }
  const changed = withSettings(sheet, { ...run?.set, ...request.set }, findings);
  const found = compile(changed, request);
  findings.push(...found.findings);
  const compiled = found.value;
  if (compiled === undefined || findings.some((finding) => finding.level === 'error')) return undefined;
  const where = request.run === undefined ? '' : `runs.${request.run}`;
  const { values, tick } = compiled.resolved;
  const length = values.seconds(request.for ?? run?.for ?? DEFAULT_LENGTH);
  if (length === undefined || length < 0 || length / tick > TICK_LIMIT) {
    findings.push({
      id: 'bad_length',
      level: 'error',
      at: { path: where },
      facts: { value: String(request.for ?? run?.for) },
    });
    return undefined;
  }
  const hooks: string[] = [];
  const events = scriptEvents(run?.nudges ?? {}, compiled, hooks, where, findings);
  hooks.push(...(request.hooks ?? []));
  const record = request.record ?? run?.record ?? [];
  const expected = Object.entries(run?.expect ?? {}).flatMap(([name, text]) =>
    namesExpected(text, `${where}.expect.${name}`, findings),
  );
  const bench = await openBench(
    compiled,
    {
      engine: request.engine ?? 'wasm',
      record: [...new Set([...record, ...expected])],
      hooks,
      events,
      everything: request.everything ?? false,
      open: request.everything ?? false,
      ...(run?.seed === undefined ? {} : { seed: run.seed }),
    },
    findings,
  );
  if (findings.some((finding) => finding.level === 'error')) return undefined;
  return { compiled, bench, ticks: wholePeriods(length, tick), run, events, hooks };
}

/** Runs to the end; undefined after findings were reported. */
export async function runSheet(sheet: Sheet, request: RunRequest, findings: Finding[]): Promise<RunResult | undefined> {
  const prepared = await prepareRun(sheet, request, findings);
  if (prepared === undefined) return undefined;
  const { compiled, bench, ticks, run } = prepared;
  const rows = bench.advance(ticks);
  const judged = judge(run?.expect ?? {}, compiled, bench.columns, rows, findings);
  return { compiled, ticks, columns: bench.columns, rows, plantError: bench.plantError, judged };
}

/** Nudges as events on ticks. */
function scriptEvents(
  nudges: Readonly<Record<string, Nudge>>,
  compiled: Compiled,
  hooks: string[],
  where: string,
  findings: Finding[],
): Event[] {
  const events: Event[] = [];
  const { values, tick } = compiled.resolved;
  for (const [name, nudge] of Object.entries(nudges)) {
    const place = `${where}.nudges.${name}`;
    const at = values.seconds(nudge.at);
    if (at === undefined) {
      findings.push({ id: 'bad_time', level: 'error', at: { path: place }, facts: { value: String(nudge.at) } });
      continue;
    }
    const begin = wholePeriods(at, tick);
    if ('setting' in nudge) {
      if (compiled.sizing.has(nudge.setting)) {
        findings.push({ id: 'sets_a_length', level: 'error', at: { path: place }, facts: { name: nudge.setting } });
        continue;
      }
      events.push({ tick: begin, do: 'set', setting: nudge.setting, value: nudge.to });
      continue;
    }
    const hook = hooks.length;
    hooks.push(nudge.port);
    const amount = 'add' in nudge ? values.seconds(nudge.add) : putAmount(nudge.to, compiled);
    if (amount === undefined) {
      findings.push({
        id: 'bad_amount',
        level: 'error',
        at: { path: place },
        facts: { value: String('add' in nudge ? nudge.add : nudge.to) },
      });
      continue;
    }
    events.push({ tick: begin, do: 'hook', hook, mode: 'add' in nudge ? 1 : 2, amount });
    if (nudge.for === undefined) continue;
    const length = values.seconds(nudge.for);
    if (length === undefined) {
      findings.push({ id: 'bad_time', level: 'error', at: { path: place }, facts: { value: String(nudge.for) } });
      continue;
    }
    events.push({ tick: wholePeriods(at + length, tick), do: 'hook', hook, mode: 0, amount: 0 });
  }
  return events;
}

function putAmount(to: number | string | boolean, compiled: Compiled): number | 'held' | undefined {
  if (to === 'nan') return Number.NaN;
  if (to === 'held') return 'held';
  if (typeof to === 'boolean') return to ? 1 : 0;
  return compiled.resolved.values.seconds(to);
}
