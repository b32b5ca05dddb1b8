/** A bench: the program and its plant on a machine, advanced in slices, recorded, and changed by hand while it runs. */

import type { Compiled } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Machine } from '../../compiler/ir/machine.ts';
import type { Type } from '../../compiler/ir/program.ts';
import type { SettingValue } from '../../compiler/sheet/sheet.ts';
import type { Lowered, Port } from '../../compiler/stages/lower.ts';
import { TICKS_A_CALL } from '../../compiler/stages/plant.ts';
import { everyName, findReadable, type Readable } from '../../compiler/stages/readable.ts';
import { createWasmMachine } from '../../compiler/wasm/machine.ts';

export type Engine = 'wasm' | 'interpreter';

/** One recorded scalar. */
export interface Column {
  /** As asked for, with the element of a vector: `imu.accel[2]`. */
  readonly name: string;
  readonly type: Type;
  readonly unit: string;
}

/** Something that happens to a run at the beginning of a tick. */
export type Event =
  | {
      readonly tick: number;
      readonly do: 'hook';
      readonly hook: number;
      readonly mode: 0 | 1 | 2;
      readonly amount: number | 'held';
    }
  | { readonly tick: number; readonly do: 'set'; readonly setting: string; readonly value: SettingValue };

export interface BenchOptions {
  readonly engine: Engine;
  /** Names recorded at every tick, in this order; a vector becomes a column an element. */
  readonly record: readonly string[];
  /** Ports that events may change. */
  readonly hooks?: readonly string[];
  readonly seed?: number;
  readonly events?: readonly Event[];
  /** Keep every value readable through `read`, not only what is recorded. */
  readonly open?: boolean;
  /** Record every other value there is too, after those asked for. */
  readonly everything?: boolean;
}

/** Everything that decides how a run goes on from a tick, but for the events still to come. */
export interface Checkpoint {
  readonly tick: number;
  /** By slot id. */
  readonly slots: readonly Float64Array[];
  readonly changed: ReadonlyMap<string, number>;
}

/** A finding for a name that a run uses and the sheet does not have. */
export function unknownName(where: string, name: string, nearest: readonly string[]): Finding {
  return { id: 'unknown_port', level: 'error', at: { path: where }, facts: { name, nearest: nearest.join(', ') } };
}

/** Opens a bench; what could not be found is reported and left out. */
export async function openBench(compiled: Compiled, options: BenchOptions, findings: Finding[]): Promise<Bench> {
  const found: { readable: Readable; name: string; element: number }[] = [];
  const asked = new Set(options.record);
  const others = options.everything === true ? everyName(compiled).filter((name) => !asked.has(name)) : [];
  for (const name of [...options.record, ...others]) {
    const readable = findReadable(compiled, name);
    if ('nearest' in readable) {
      if (asked.has(name)) findings.push(unknownName('', name, readable.nearest));
      continue;
    }
    const count = readable.element === undefined ? readable.signal.rows * readable.signal.columns : 1;
    for (let i = 0; i < count; i++)
      found.push({ readable, name: count > 1 ? `${name}[${i + 1}]` : name, element: readable.element ?? i });
  }
  const keep = new Set(found.map(({ readable }) => readable.port));
  const hooks: { port: string; element: number; source: Readable | undefined }[] = [];
  for (const name of options.hooks ?? []) {
    const readable = findReadable(compiled, name);
    if ('nearest' in readable) findings.push(unknownName('', name, readable.nearest));
    else keep.add(readable.port);
    const [, port = name, element] = /^(.*?)(?:\[(\d+)\])?$/.exec(name) ?? [];
    const own = compiled.flat.groupOutputs.get(port);
    hooks.push({
      port: own === undefined ? port : `${own.path}.${own.port}`,
      element: element === undefined ? 0 : Number(element) - 1,
      source: 'nearest' in readable ? undefined : readable,
    });
  }
  const lowered = compiled.bench({
    keep: options.open === true ? 'all' : keep,
    record: found.map(({ readable, element }) => ({ port: readable.port, element })),
    hooks: hooks.map(({ port, element }) => ({ port, element })),
  });
  const machine =
    options.engine === 'wasm' ? await createWasmMachine(lowered.program) : createInterpreter(lowered.program);
  const columns: Column[] = [];
  const ports: Port[] = [];
  for (const [i, { name, readable }] of found.entries()) {
    const port = lowered.columns[i];
    if (port === undefined) {
      if (asked.has(name.replace(/\[\d+\]$/, '')) || asked.has(name)) findings.push(unknownName('', name, []));
      continue;
    }
    columns.push({ name, type: lowered.program.slots[port.slot]?.type ?? 'f64', unit: readable.unit });
    ports.push(port);
  }
  return new Bench(compiled, lowered, machine, columns, hooks, options);
}

export class Bench {
  readonly compiled: Compiled;
  readonly columns: readonly Column[];
  /** Ticks run so far. */
  tick = 0;
  private readonly machine: Machine;
  private readonly lowered: Lowered;
  private readonly hooks: readonly { port: string; source: Readable | undefined }[];
  private readonly slots = new Map<string, number>();
  private readonly changed = new Map<string, number>();
  private readonly seed: number;
  private events: Event[];
  private readonly scripted: readonly Event[];
  private readonly recordSlot: number | undefined;
  /** Slots whose values matter from one call to the next. */
  private readonly lasting: readonly number[];

  constructor(
    compiled: Compiled,
    lowered: Lowered,
    machine: Machine,
    columns: readonly Column[],
    hooks: readonly { port: string; source: Readable | undefined }[],
    options: BenchOptions,
  ) {
    this.compiled = compiled;
    this.lowered = lowered;
    this.machine = machine;
    this.columns = columns;
    this.hooks = hooks;
    this.seed = options.seed ?? 1;
    this.scripted = this.inOrder(options.events ?? []);
    this.events = [...this.scripted];
    for (const slot of lowered.program.slots) this.slots.set(slot.name, slot.id);
    this.recordSlot = this.slots.get('bench.record');
    this.lasting = lowered.program.slots.filter((slot) => slot.kind !== 'scratch').map((slot) => slot.id);
    this.restart();
  }

  /** Back to the start, with the sheet's own settings and events ahead: the scripted ones, or those given. */
  restart(events: readonly Event[] = this.scripted): void {
    this.machine.start();
    this.tick = 0;
    this.changed.clear();
    this.events = this.inOrder(events);
    const seed = this.slots.get('run.seed');
    if (seed !== undefined) this.machine.write(seed, this.seed);
    this.machine.call('actuate');
  }

  /** What it takes to go on from here later, on this bench or another of the same sheet, record and hooks. */
  save(): Checkpoint {
    const slots: Float64Array[] = [];
    for (const slot of this.lasting) slots[slot] = this.machine.readAll(slot);
    return { tick: this.tick, slots, changed: new Map(this.changed) };
  }

  /** Back to a checkpoint; of these events, those from its tick on lie ahead. */
  load(checkpoint: Checkpoint, events: readonly Event[] = this.scripted): void {
    for (const slot of this.lasting)
      for (const [i, value] of (checkpoint.slots[slot] ?? []).entries()) this.machine.write(slot, value, i);
    this.tick = checkpoint.tick;
    this.changed.clear();
    for (const [name, value] of checkpoint.changed) this.changed.set(name, value);
    this.events = this.inOrder(events).filter((event) => event.tick >= checkpoint.tick);
  }

  /** Runs so many ticks; gives a row of recorded numbers for each, one after another. */
  advance(ticks: number): Float64Array {
    const width = this.columns.length;
    const rows = new Float64Array(ticks * width);
    let done = 0;
    while (done < ticks) {
      this.applyEvents();
      const next = this.events[0]?.tick ?? Number.POSITIVE_INFINITY;
      const most = Math.min(ticks - done, next - this.tick, TICKS_A_CALL);
      const row = this.slots.get('bench.row');
      if (row !== undefined) this.machine.write(row, 0);
      if (most === TICKS_A_CALL) this.machine.call('bench_run');
      else for (let i = 0; i < most; i++) this.machine.call('bench_tick');
      if (this.recordSlot !== undefined)
        rows.set(this.machine.readAll(this.recordSlot).subarray(0, most * width), done * width);
      this.tick += most;
      done += most;
    }
    return rows;
  }

  /** Something done by hand, at the next tick. */
  add(event: Event): void {
    const timed = this.timed(event);
    const at = this.events.findIndex((other) => other.tick > timed.tick);
    if (at < 0) this.events.push(timed);
    else this.events.splice(at, 0, timed);
  }

  /** Where the schedule is layered, settings are swapped when all tasks are released together, if that can be counted. */
  private timed(event: Event): Event {
    const { period, together } = this.compiled.schedule;
    if (event.do !== 'set' || this.compiled.controller.layers === undefined || !Number.isFinite(period)) return event;
    const rounds = Math.max(0, Math.ceil((event.tick - together) / period));
    return { ...event, tick: together + rounds * period };
  }

  private inOrder(events: readonly Event[]): Event[] {
    return events.map((event) => this.timed(event)).sort((a, b) => a.tick - b.tick);
  }

  private applyEvents(): void {
    for (let event = this.events[0]; event !== undefined && event.tick <= this.tick; event = this.events[0]) {
      this.events.shift();
      if (event.do === 'set') this.set(event.setting, event.value);
      else this.applyHook(event.hook, event.mode, event.amount);
    }
  }

  private applyHook(index: number, mode: 0 | 1 | 2, amount: number | 'held'): void {
    const source = this.hooks[index]?.source;
    const held =
      amount === 'held' ? (source === undefined ? 0 : (this.read(source.port, source.element ?? 0) ?? 0)) : amount;
    const [modeSlot, amountSlot] = [
      this.slots.get(`bench.hook${index}.mode`),
      this.slots.get(`bench.hook${index}.amount`),
    ];
    if (modeSlot === undefined || amountSlot === undefined) return;
    this.machine.write(amountSlot, held);
    this.machine.write(modeSlot, mode);
  }

  /** Puts a setting to a new value from the next tick on; false when there is no such setting, a length depends on it, or the value is no number of its shape. */
  set(setting: string, value: SettingValue): boolean {
    const dot = setting.lastIndexOf('.');
    const own = this.compiled.resolved.instances.get(setting.slice(0, dot))?.settings.get(setting.slice(dot + 1));
    const read = this.compiled.resolved.values.read(value);
    if (own === undefined || this.compiled.sizing.has(setting)) return false;
    if ('id' in read || read.numbers.length !== own.numbers.length) return false;
    this.put(setting, read.numbers);
    return true;
  }

  /** Puts a setting's numbers as they are; their count must be the setting's own. */
  put(setting: string, numbers: readonly number[]): void {
    for (const [i, number] of numbers.entries())
      this.changed.set(numbers.length === 1 ? setting : `${setting}[${i + 1}]`, number);
    const { settings, graph } = this.lowered;
    const values = graph.recompute(
      settings.map((slot) => slot.node),
      this.changed,
    );
    for (const [i, slot] of settings.entries()) this.machine.write(slot.slot, values[i] ?? 0);
  }

  /** A kept value by `path.name`; undefined when it was not kept. */
  read(port: string, element = 0): number | undefined {
    const slot = this.slots.get(port);
    return slot === undefined ? undefined : this.machine.read(slot, element);
  }

  /** Largest embedded difference of the solver so far, over max(1, |x|). */
  get plantError(): number {
    const slot = this.slots.get('bench.error');
    return slot === undefined ? 0 : this.machine.read(slot);
  }
}

/** By tick; those of one tick as they came. */
