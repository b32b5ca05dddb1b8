/** One run while it is looked at: it goes on by ticks, is changed by hand, keeps traces, and any tick of it can be had again. */

import { type Compiled, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { wholePeriods } from '../../compiler/language/quantity.ts';
import { multiply, nearestDouble, shortestDecimal } from '../../compiler/language/rational.ts';
import { csvLine, valueText } from '../../compiler/sheet/csv.ts';
import type { Nudge, SettingValue, Sheet } from '../../compiler/sheet/sheet.ts';
import { findReadable } from '../../compiler/stages/readable.ts';
import type { Library } from '../../compiler/stages/shelf.ts';
import { type Bench, type Checkpoint, type Event, openBench } from '../../runtime/bench/bench.ts';
import { type Watched as Expectation, watchExpectations } from '../../runtime/bench/expectations.ts';
import { type Prepared, prepareRun } from '../../runtime/bench/run.ts';
import { readerOf } from '../document/beside.ts';
import type { HandNudge, Moment, Notch, Opening, Range, RunFacts, Verdict, Watched } from './bench_messages.ts';
import { factsOf, nudgeWords } from './run_facts.ts';
import { type Drawn, draw, type Stretch, Trace } from './trace.ts';

/** Ticks between two checkpoints at first; doubled when there are too many. */
const FIRST_SPACING = 256;
const MOST_CHECKPOINTS = 128;
/** Stretches of a logic signal drawn at most. */
const MOST_STRETCHES = 2000;
/** Bytes that the traces of a run take at most; as much again is there for the run before it. */
const MOST_BYTES = 128e6;

/** Where the numbers of a watched name stand in a row. */
interface Place {
  readonly column: number;
  readonly count: number;
}

interface Judging {
  readonly expectation: Expectation;
  verdict: Verdict;
}

export class LiveRun {
  readonly opening: Opening;
  readonly facts: RunFacts;
  readonly compiled: Compiled;
  /** Mode changes of guarding blocks. */
  moments: Moment[] = [];
  notches: Notch[] = [];
  traces = new Map<number, Trace>();
  /** Before this tick traces are kept coarsely. */
  coarse = 0;
  /** Names whose traces were asked for. */
  readonly kept = new Set<string>();
  private readonly library: Library;
  private readonly budget: number;
  private readonly bench: Bench;
  private readonly hooks: readonly string[];
  private readonly judging: Judging[];
  private readonly guards: readonly {
    readonly column: number;
    readonly block: string;
    readonly modes: readonly string[];
  }[];
  private readonly index: ReadonlyMap<string, number>;
  private readonly seed: number | undefined;
  /** Everything that happens in this run, by tick. */
  private log: Event[];
  private lastRow: Float64Array | undefined;
  private checkpoints: Checkpoint[] = [];
  private spacing = FIRST_SPACING;
  private walker: Promise<Bench> | undefined;
  /** The walker's past is that of this run still. */
  private walkerFits = true;
  private walkerRow: { readonly tick: number; readonly row: Float64Array } | undefined;

  private constructor(opening: Opening, library: Library, prepared: Prepared, findings: Finding[], budget: number) {
    this.budget = budget;
    this.opening = opening;
    this.library = library;
    this.bench = prepared.bench;
    this.compiled = prepared.compiled;
    this.hooks = prepared.hooks;
    this.log = [...prepared.events];
    this.seed = prepared.run?.seed;
    this.facts = factsOf(prepared, opening.run);
    const { columns } = this.bench;
    this.index = new Map(columns.map((column, i) => [column.name, i]));
    this.judging = watchExpectations(prepared.run?.expect ?? {}, this.compiled, columns, findings).map(
      (expectation) => ({ expectation, verdict: undecided(expectation) }),
    );
    this.guards = this.facts.gates.flatMap(({ path, modes }) => {
      const column = this.index.get(`${path}.mode`);
      return column === undefined ? [] : [{ column, block: path, modes }];
    });
    this.keepTraces(opening.kept);
  }

  /** Opens a run at its start; undefined after findings were reported. `nudged`: ports that hands will act on; `budget`: bytes for traces. */
  static async open(
    opening: Opening,
    library: Library,
    nudged: readonly string[],
    findings: Finding[],
    budget = MOST_BYTES,
  ): Promise<LiveRun | undefined> {
    const own = Object.values(opening.sheet.runs[opening.run ?? '']?.nudges ?? {});
    const hooks = new Set([...own.flatMap((nudge) => ('port' in nudge ? [nudge.port] : [])), ...nudged]);
    const prepared = await prepareRun(
      opening.sheet,
      {
        library,
        name: opening.name,
        files: readerOf(opening.beside),
        everything: true,
        hooks: [...hooks],
        ...(opening.run === undefined ? {} : { run: opening.run }),
      },
      findings,
    );
    return prepared === undefined ? undefined : new LiveRun(opening, library, prepared, findings, budget);
  }

  /** Ticks run so far. */
  get head(): number {
    return this.bench.tick;
  }

  get ended(): boolean {
    return this.head >= this.facts.ticks;
  }

  /** Ports hands can act on already. */
  get nudged(): readonly string[] {
    return this.hooks;
  }

  verdicts(): Verdict[] {
    return this.judging.map(({ verdict }) => verdict);
  }

  /** Back to the start; what was done by hand is done again at its tick. */
  rewind(): void {
    this.bench.restart(this.log);
    this.moments = [];
    this.coarse = 0;
    this.lastRow = undefined;
    for (const one of this.judging) one.verdict = undecided(one.expectation);
    for (const column of this.traces.keys()) this.traces.set(column, this.newTrace(column));
  }

  /** Takes over what was done by hand in another run of the same sheet; both are at their start then. */
  takeOver(other: LiveRun): void {
    this.log = [...other.log];
    this.notches = [...other.notches];
    this.rewind();
  }

  /** Runs at most so many ticks: fewer at the end, and up to the next checkpoint only. */
  advance(most: number): void {
    const next = this.spacing - (this.head % this.spacing);
    const count = Math.min(most, this.facts.ticks - this.head, next);
    if (count <= 0) return;
    const width = this.bench.columns.length;
    const first = this.head;
    const rows = this.bench.advance(count);
    for (let k = 0; k < count; k++) this.see(first + k, rows.subarray(k * width, (k + 1) * width));
    this.lastRow = rows.slice((count - 1) * width);
    if (this.head % this.spacing === 0) this.addCheckpoint();
    this.spareMemory();
    if (this.ended) this.closeJudging();
  }

  /** Past the budget the older half of every trace is kept coarsely: its least and greatest values. */
  private spareMemory(): void {
    const traces = [...this.traces.values()];
    if (traces.reduce((sum, trace) => sum + trace.bytes, 0) <= this.budget) return;
    for (const trace of traces) this.coarse = Math.max(this.coarse, trace.thin());
  }

  /** One row: traces, modes, expectations. */
  private see(tick: number, row: Float64Array): void {
    for (const [column, trace] of this.traces) trace.push(row[column] ?? Number.NaN);
    for (const { column, block, modes } of this.guards) {
      const mode = row[column] ?? 0;
      const before = this.lastMode.get(column);
      if (before !== undefined && before !== mode && tick > 0) {
        const word = modes[mode] ?? '';
        this.moments.push({ tick, block, mode: word, trip: /trip/.test(word) });
      }
      this.lastMode.set(column, mode);
    }
    for (const one of this.judging) judgeRow(one, tick, row);
  }

  private readonly lastMode = new Map<number, number>();

  private closeJudging(): void {
    for (const one of this.judging) {
      if (one.verdict.is !== 'open') continue;
      const holds = one.expectation.mode === 'always' && one.expectation.begin < this.facts.ticks;
      one.verdict = { ...one.verdict, is: holds ? 'holds' : 'fails' };
    }
  }

  private addCheckpoint(): void {
    const last = this.checkpoints.at(-1);
    if (last !== undefined && last.tick >= this.head) return;
    this.checkpoints.push(this.bench.save());
    if (this.checkpoints.length <= MOST_CHECKPOINTS) return;
    this.spacing *= 2;
    this.checkpoints = this.checkpoints.filter(({ tick }) => tick % this.spacing === 0);
  }

  // —— changed by hand ——

  /** Puts a setting from the next tick on; false when it cannot be adjusted while the run goes. Without a value: what the sheet says. */
  set(setting: string, value: SettingValue | undefined, sheet: Sheet): boolean {
    const dot = setting.lastIndexOf('.');
    const [path, name] = [setting.slice(0, dot), setting.slice(dot + 1)];
    const own = this.compiled.resolved.instances.get(path)?.settings.get(name);
    if (own === undefined || this.compiled.sizing.has(setting)) return false;
    let to = value;
    if (to === undefined) {
      const now = compile(sheet, {
        library: this.library,
        name: this.opening.name,
        files: readerOf(this.opening.beside),
      }).value;
      const numbers = now?.resolved.instances.get(path)?.settings.get(name)?.numbers;
      if (numbers === undefined) return false;
      to = numbers.length === 1 ? (numbers[0] ?? 0) : [...numbers];
    }
    const read = this.compiled.resolved.values.read(to);
    if ('id' in read || read.numbers.length !== own.numbers.length) return false;
    this.happen({ tick: this.head, do: 'set', setting, value: to });
    const last = this.notches.at(-1);
    if (last?.tick === this.head && last.is === 'set' && last.name === setting) this.notches.pop();
    this.note('set', setting, { at: this.timeText(this.head), setting, to });
    return true;
  }

  /** Puts a nudge in from the next tick on; its port must be among `nudged`. True, or why not. */
  nudge(nudge: HandNudge): true | string {
    const { values, tick } = this.compiled.resolved;
    const hook = this.hooks.lastIndexOf(nudge.port);
    if (hook < 0) return `${nudge.port} cannot be nudged.`;
    const given = 'add' in nudge ? nudge.add : nudge.to;
    const words: Readonly<Record<string, number | 'held'>> = { held: 'held', nan: Number.NaN };
    const word = 'to' in nudge ? words[String(given)] : undefined;
    const amount = word ?? (typeof given === 'boolean' ? Number(given) : values.seconds(given));
    if (amount === undefined) return `I cannot read the amount ${given}.`;
    const seconds = nudge.for === undefined ? undefined : values.seconds(nudge.for);
    if (nudge.for !== undefined && (seconds === undefined || seconds <= 0))
      return `${nudge.for} is not a time, as 20 ms or 0.5 s are.`;
    this.happen({ tick: this.head, do: 'hook', hook, mode: 'add' in nudge ? 1 : 2, amount });
    if (seconds !== undefined) {
      const end = wholePeriods((values.seconds(this.timeText(this.head)) ?? 0) + seconds, tick);
      this.happen({ tick: end, do: 'hook', hook, mode: 0, amount: 0 });
    }
    this.note('nudge', nudge.port, { at: this.timeText(this.head), ...nudge });
    return true;
  }

  private note(is: Notch['is'], name: string, nudge: Nudge): void {
    this.notches.push({ tick: this.head, is, name, words: nudgeWords(nudge), nudge });
  }

  private happen(event: Event): void {
    this.log.push(event);
    this.bench.add(event);
    this.checkpoints = this.checkpoints.filter(({ tick }) => tick <= this.head);
    this.walkerRow = undefined;
    this.walkerFits = false;
  }

  /** A tick's time as the sheet would have it: `2.345 s`. */
  private timeText(tick: number): string {
    return `${valueText(this.seconds(tick), 'f64')} s`;
  }

  private seconds(tick: number): number {
    return nearestDouble(multiply(shortestDecimal(this.facts.tick), { num: BigInt(tick), den: 1n }));
  }

  // —— looked at ——

  /** The columns a name stands for, with what is known of them. */
  watched(name: string): { readonly place: Place; readonly facts: Watched } | undefined {
    const column = this.columnOf(name);
    const facts = column === undefined ? undefined : this.facts.values[column.column];
    if (column === undefined || facts === undefined) return undefined;
    return { place: column, facts: { ...facts, name, count: column.count } };
  }

  private columnOf(name: string): Place | undefined {
    const own = this.index.get(name);
    if (own !== undefined) return { column: own, count: 1 };
    const first = this.index.get(`${name}[1]`);
    if (first !== undefined) {
      let count = 1;
      while (this.index.get(`${name}[${count + 1}]`) === first + count) count += 1;
      return { column: first, count };
    }
    const found = findReadable(this.compiled, name);
    if ('nearest' in found) return undefined;
    const element = found.element === undefined ? '' : `[${found.element + 1}]`;
    const port = `${found.port}${element}`;
    return port === name ? undefined : this.columnOf(port);
  }

  /** Every number of a tick that has been run. */
  async rowAt(tick: number): Promise<Float64Array | undefined> {
    if (tick < 0 || tick >= this.head) return undefined;
    if (tick === this.head - 1) return this.lastRow;
    if (this.walkerRow?.tick === tick) return this.walkerRow.row;
    this.walker ??= this.openTwin();
    const walker = await this.walker;
    const from = this.checkpoints.findLast((one) => one.tick <= tick);
    const near = this.walkerFits && walker.tick <= tick && walker.tick >= (from?.tick ?? 0);
    if (!near && from !== undefined) walker.load(from, this.log);
    else if (!near) walker.restart(this.log);
    this.walkerFits = true;
    const rows = walker.advance(tick + 1 - walker.tick);
    const row = rows.slice(rows.length - this.bench.columns.length);
    this.walkerRow = { tick, row };
    return row;
  }

  /** A second bench with the same past. */
  private openTwin(): Promise<Bench> {
    return openBench(
      this.compiled,
      {
        engine: 'wasm',
        record: this.bench.columns.map((column) => column.name),
        hooks: this.hooks,
        events: this.log,
        open: true,
        ...(this.seed === undefined ? {} : { seed: this.seed }),
      },
      [],
    );
  }

  /** Keeps the traces of these names too; true when the run must be gone through again to have their past. */
  keepTraces(names: readonly string[]): boolean {
    for (const name of names) this.kept.add(name);
    let fresh = false;
    const wanted = [...names, ...this.facts.record, ...this.facts.gates.map(({ path }) => `${path}.mode`)];
    for (const name of wanted) {
      const place = this.columnOf(name);
      for (let i = 0; i < (place?.count ?? 0); i++) {
        const column = (place?.column ?? 0) + i;
        if (this.traces.has(column)) continue;
        this.traces.set(column, this.newTrace(column));
        fresh = this.head > 0;
      }
    }
    return fresh;
  }

  private newTrace(column: number): Trace {
    const { type } = this.bench.columns[column] ?? { type: 'f64' };
    return new Trace(type === 'f64' || type === 'i32');
  }

  trace(name: string): Trace | undefined {
    const place = this.columnOf(name);
    return place === undefined ? undefined : this.traces.get(place.column);
  }

  /** The values of these names as a table like that of the command's `run`, to the last tick that has been run. */
  async table(names: readonly string[], bits: boolean, pause: () => Promise<void>): Promise<string> {
    const twin = await this.openTwin();
    const places = names.flatMap((name) => {
      const place = this.columnOf(name);
      return Array.from({ length: place?.count ?? 0 }, (_, i) => ({
        column: (place?.column ?? 0) + i,
        name: place?.count === 1 ? name : `${name}[${i + 1}]`,
      }));
    });
    const types = this.bench.columns.map((column) => column.type);
    const width = types.length;
    const lines = [csvLine(['tick', 't', ...places.map((place) => place.name)])];
    for (const end = this.head; twin.tick < end; ) {
      const first = twin.tick;
      const count = Math.min(256, end - first);
      const rows = twin.advance(count);
      for (let k = 0; k < count; k++) {
        const cells = places.map(({ column }) =>
          valueText(rows[k * width + column] ?? Number.NaN, types[column] ?? 'f64', bits),
        );
        lines.push(csvLine([String(first + k), valueText(this.seconds(first + k), 'f64'), ...cells]));
      }
      await pause();
    }
    return lines.join('');
  }
}

/** A stretch of traces; undefined for a name without one. */
export function drawRange(
  run: LiveRun,
  { names, from, to, buckets }: Range,
): Omit<Drawn, 'y'> & {
  readonly y: readonly (Float64Array<ArrayBuffer> | undefined)[];
} {
  const traces = names.map((name) => run.trace(name));
  const known = traces.filter((trace) => trace !== undefined);
  const drawn = draw(known, Math.max(0, Math.floor(from)), Math.min(Math.ceil(to), run.facts.ticks), buckets);
  return { x: drawn.x, y: traces.map((trace) => (trace === undefined ? undefined : drawn.y[known.indexOf(trace)])) };
}

export function drawLanes(run: LiveRun, { names, from, to }: Range): (readonly Stretch[] | undefined)[] {
  return names.map((name) => run.trace(name)?.stretches(Math.floor(from), Math.ceil(to), MOST_STRETCHES));
}

function undecided({ name, text }: Expectation): Verdict {
  return { name, text, is: 'open', tick: undefined };
}

function judgeRow(one: Judging, tick: number, row: Float64Array): void {
  const { expectation, verdict } = one;
  if (verdict.is !== 'open' || tick < expectation.begin) return;
  const always = expectation.mode === 'always';
  if (tick <= expectation.end && expectation.holds(row) !== always)
    one.verdict = { ...verdict, is: always ? 'fails' : 'holds', tick };
  else if (tick >= expectation.end) one.verdict = { ...verdict, is: always ? 'holds' : 'fails' };
}
