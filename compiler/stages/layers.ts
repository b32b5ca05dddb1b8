/** The layered schedule: one task a rate, and what is handed from task to task when they are released. */

import { Builder } from '../ir/build.ts';
import type { Func, Layers, Type, Value } from '../ir/program.ts';
import { typeOf } from './assembly.ts';
import type { Definition, Definitions } from './definitions.ts';
import { memorySlot } from './memory.ts';
import type { Zone } from './order.ts';
import type { Signal } from './resolve.ts';
import { channelStart, inputSlot, type Lowering, modeSlot, outputSlot, valueSlot } from './slots.ts';
import { type Task, taskOf, tasksOf, turnOf } from './tasks.ts';

/**
 * How one task's value reaches another. `now`: a faster task hands its value over at its own end, to whoever is released
 * within its period. `published`: what a slower task (or one of the same rate and another phase) made known at its last
 * release; the task of every tick reads it in place, since nothing is published while it runs.
 */
interface Crossing {
  readonly source: Definition;
  readonly from: Task;
  readonly to: Task;
  readonly way: 'now' | 'published';
  /** Whether the reader may be released while the writer runs: then two copies take turns. */
  readonly turns: boolean;
}

const BOOL: Signal = { kind: 'bool', rows: 1, columns: 1 };

/** Most tasks of one program: what `release` answers has a bit for each. */
export const TASK_LIMIT = 30;

/** What crosses between the tasks of a program, and the functions around them. */
export class LayeredTasks {
  readonly tasks: readonly Task[];
  private readonly crossings = new Map<string, Crossing>();
  private readonly sources = new Set<number>();
  /** Ports that switch groups of a slower task on, by writer and reader: whether they stayed on is handed over too. */
  private readonly switches = new Map<string, Crossing>();
  private readonly l: Lowering;
  private readonly definitions: readonly Definition[];

  constructor(definitions: Definitions, lowering: Lowering) {
    this.l = lowering;
    this.definitions = definitions.all.filter(({ stage, kind }) => stage === 'tick' && kind !== 'say');
    this.tasks = tasksOf(this.definitions);
    for (const reader of this.definitions) {
      for (const id of reader.reads) {
        const source = definitions.all[id];
        if (source !== undefined && reader.kind !== 'commit') this.cross(source, reader);
      }
      for (const port of reader.instance.flat.when) {
        const source = definitions.byKey.get(`${port.path}.${port.port}`);
        const crossing = source === undefined ? undefined : this.cross(source, reader);
        if (crossing?.way === 'now') this.switches.set(keyOf(crossing.source, crossing.to), crossing);
      }
    }
  }

  private cross(source: Definition, reader: Definition): Crossing | undefined {
    const [from, to] = [taskOf(source), taskOf(reader)];
    if (from.key === to.key) return undefined;
    const key = keyOf(source, to);
    const known = this.crossings.get(key);
    if (known !== undefined) return known;
    const way = from.every < to.every ? 'now' : 'published';
    const aligned = to.every % from.every === 0 && to.phase % from.every === from.phase;
    const crossing: Crossing = { source, from, to, way, turns: way === 'now' && !aligned };
    this.crossings.set(key, crossing);
    this.sources.add(source.id);
    return crossing;
  }

  /** Whether another task reads a definition, so that its value must be held. */
  holds(definition: Definition): boolean {
    return this.sources.has(definition.id);
  }

  /** Values of another task's definition as a task sees them. */
  read(b: Builder, source: Definition, signal: Signal, task: Task): Value[] {
    const crossing = this.crossings.get(keyOf(source, task));
    if (crossing === undefined) throw new Error(`${source.name} does not reach task ${task.key}`);
    return this.loadTurn(b, this.readSlot(crossing), signal, crossing);
  }

  /** A raw reading as a task was given it at its release. */
  readInput(b: Builder, definition: Definition): Value {
    const slot = this.latchedInput(definition);
    return b.load(slot, this.l.assembly.slotAt(slot).type);
  }

  /** The number of the tick a task was released at. */
  tickOf(task: Task): number {
    return this.own(`tick_${task.key}`, 'i32', 'the tick this rate was last released at');
  }

  /** What a task does before its equations: blocks that were switched off since its last release start anew. */
  before(b: Builder, task: Task, zones: Iterable<readonly [Zone, number]>): void {
    for (const [zone, started] of zones)
      for (const port of zone.when) {
        const source = this.l.definitions.byKey.get(port);
        const crossing = source === undefined ? undefined : this.switches.get(keyOf(source, task));
        if (crossing === undefined) continue;
        const [steady] = this.loadTurn(b, this.steadySlot(crossing), BOOL, crossing);
        if (steady !== undefined) b.store(started, b.op('and_bool', b.load(started, 'bool'), steady));
      }
  }

  /** What a task does at its end: hands its values over to slower ones, and says that it is done. */
  after(b: Builder, task: Task): void {
    for (const crossing of this.switches.values()) {
      if (crossing.from.key !== task.key) continue;
      const kept = this.keptOn(crossing);
      const [on] = this.loadAll(b, this.heldSlot(crossing.source));
      if (on !== undefined) b.store(kept, b.op('and_bool', b.load(kept, 'bool'), on));
    }
    for (const to of this.tasks) {
      const out = [...this.crossings.values()].filter(
        (one) => one.way === 'now' && one.from.key === task.key && one.to.key === to.key,
      );
      if (out.length === 0) continue;
      const turns = out.some((one) => one.turns);
      const feeds = b.load(this.feedsSlot(task, to), 'i32');
      b.if(b.op('lt_i32', b.const('i32', 0), feeds), () => {
        const turn = turns ? b.op('sub_i32', feeds, b.const('i32', 1)) : undefined;
        for (const crossing of out) {
          this.storeTurn(b, this.readSlot(crossing), turn, this.loadAll(b, this.heldSlot(crossing.source)));
          if (!this.switches.has(keyOf(crossing.source, to))) continue;
          const kept = this.keptOn(crossing);
          this.storeTurn(b, this.steadySlot(crossing), turn, [b.load(kept, 'bool')]);
          b.store(kept, b.const('bool', 1));
        }
      });
    }
    b.store(this.busySlot(task), b.const('bool', 0));
  }

  /** `release`, `outputs` and `tick` around the tasks' functions, which are named by `functionOf`. */
  functions(beats: (every: number) => number): { readonly release: Func; readonly rest: readonly Func[] } {
    return { release: this.release(beats), rest: [this.outputs(), this.tick()] };
  }

  /** What the program says of its tasks. */
  layers(): Layers {
    return {
      release: 'release',
      outputs: 'outputs',
      tasks: this.tasks.map((task) => ({
        func: functionOf(task),
        every: task.every,
        phase: task.phase,
        overruns: this.overrunsSlot(task),
        overrunTick: this.overrunTickSlot(task),
      })),
    };
  }

  // —— the functions ——

  private release(beats: (every: number) => number): Func {
    const b = new Builder('release');
    const trips = this.l.overrun === 'trip';
    const tick = this.own('tick', 'i32', 'ticks since the start');
    const now = b.load(tick, 'i32');
    let mask = b.const('i32', 0);
    for (const task of this.tasks) {
      const released = this.releasedSlot(task);
      b.store(released, b.const('bool', 0));
      const due =
        task.every === 1
          ? b.const('bool', 1)
          : b.op('eq_i32', b.load(beats(task.every), 'i32'), b.const('i32', task.phase));
      b.if(due, () =>
        b.if(
          b.load(this.busySlot(task), 'bool'),
          () => {
            const count = b.load(this.overrunsSlot(task), 'i32');
            b.if(b.op('eq_i32', count, b.const('i32', 0)), () => b.store(this.overrunTickSlot(task), now));
            b.store(this.overrunsSlot(task), b.op('add_i32', count, b.const('i32', 1)));
            if (trips) b.store(this.trippedSlot(), b.const('bool', 1));
          },
          () => b.store(released, b.const('bool', 1)),
        ),
      );
    }
    const released = this.tasks.map((task) => {
      const run = b.load(this.releasedSlot(task), 'bool');
      return trips ? b.op('and_bool', run, b.op('not_bool', b.load(this.trippedSlot(), 'bool'))) : run;
    });
    const each = (what: (task: Task, released: Value, bit: number) => void): void => {
      for (const [i, task] of this.tasks.entries()) what(task, released[i] ?? 0, i);
    };
    each((task, run) => {
      const out = this.publishedBy(task);
      if (out.length === 0) return;
      b.note('', `task ${task.key} publishes what its last run made`);
      b.if(run, () => {
        for (const source of out)
          for (const [i, value] of this.loadAll(b, this.heldSlot(source)).entries())
            this.store(b, this.publishedSlot(source), i, value);
      });
    });
    each((task, run, bit) => {
      b.note('', `task ${task.key} takes what it reads`);
      b.if(run, () => {
        b.store(this.tickOf(task), now);
        for (const definition of this.inputsOf(task)) {
          const from = inputSlot(definition.instance, definition.name, this.l);
          b.store(this.latchedInput(definition), b.load(from, this.l.assembly.slotAt(from).type));
        }
        for (const crossing of this.crossings.values())
          if (crossing.way === 'published' && crossing.to.key === task.key && task.every > 1)
            for (const [i, value] of this.loadAll(b, this.publishedSlot(crossing.source)).entries())
              this.store(b, this.readSlot(crossing), i, value);
        if ([...this.crossings.values()].some((one) => one.turns && one.to.key === task.key))
          b.store(this.turnSlot(task), b.op('sub_i32', b.const('i32', 1), b.load(this.turnSlot(task), 'i32')));
        b.store(this.busySlot(task), b.const('bool', 1));
      });
      const both = b.op('or_i32', mask, b.const('i32', 1 << bit));
      mask = b.op('select_i32', run, both, mask);
    });
    // Whom a task feeds when it ends: after every turn of this tick has been taken.
    each((task, run) => {
      for (const [to, feeds] of this.fedBy(task)) b.if(run, () => b.store(feeds, this.feeding(b, task, to, beats)));
    });
    for (const every of new Set(this.tasks.map((task) => task.every).filter((n) => n > 1))) {
      const next = b.op('add_i32', b.load(beats(every), 'i32'), b.const('i32', 1));
      const over = b.op('eq_i32', next, b.const('i32', every));
      b.store(beats(every), b.op('select_i32', over, b.const('i32', 0), next));
    }
    b.store(tick, b.op('add_i32', now, b.const('i32', 1)));
    return b.finish(mask);
  }

  /** 0: the reader is not released before the writer's next release; else 1 + which of its copies it will read. */
  private feeding(b: Builder, from: Task, to: Task, beats: (every: number) => number): Value {
    const turns = [...this.crossings.values()].some(
      (one) => one.turns && one.from.key === from.key && one.to.key === to.key,
    );
    const one = b.const('i32', 1);
    const zero = b.const('i32', 0);
    const left = b.op('sub_i32', b.const('i32', to.phase), b.load(beats(to.every), 'i32'));
    const ahead = b.op('select_i32', b.op('lt_i32', left, zero), b.op('add_i32', left, b.const('i32', to.every)), left);
    const within = b.op('lt_i32', ahead, b.const('i32', from.every));
    if (!turns) return b.op('select_i32', within, one, zero);
    const turn = b.load(this.turnSlot(to), 'i32');
    const next = b.op('select_i32', b.op('eq_i32', ahead, zero), turn, b.op('sub_i32', one, turn));
    return b.op('select_i32', within, b.op('add_i32', next, one), zero);
  }

  private outputs(): Func {
    const b = new Builder('outputs');
    for (const definition of this.channels('out')) {
      const task = taskOf(definition);
      const slot = task.every === 1 ? this.heldSlot(definition) : this.publishedSlot(definition);
      const { type } = this.l.assembly.slotAt(slot);
      let value = b.load(slot, type);
      if (this.l.overrun === 'trip') {
        const neutral = b.const(type, channelStart(definition, this.l));
        value = b.op(`select_${type}`, b.load(this.trippedSlot(), 'bool'), neutral, value);
      }
      b.store(outputSlot(definition, this.l), value);
    }
    return b.finish();
  }

  private tick(): Func {
    const b = new Builder('tick');
    const mask = b.call('release', 'i32');
    for (const [i, task] of this.tasks.entries()) {
      const bit = b.op('and_i32', mask, b.const('i32', 1 << i));
      b.if(b.op('not_bool', b.op('eq_i32', bit, b.const('i32', 0))), () => b.run(functionOf(task)));
    }
    b.run('outputs');
    return b.finish();
  }

  // —— what is where ——

  private channels(direction: 'in' | 'out'): Definition[] {
    const found: Definition[] = [];
    for (const instance of this.l.resolved.instances.values())
      for (const channel of instance.flat.text.channels) {
        const definition = this.l.definitions.byKey.get(`${instance.path}.${channel.name}`);
        if (channel.direction === direction && definition !== undefined) found.push(definition);
      }
    return found;
  }

  private inputsOf(task: Task): Definition[] {
    return this.channels('in').filter((definition) => taskOf(definition).key === task.key);
  }

  /** Definitions of a task that others see as published. */
  private publishedBy(task: Task): Definition[] {
    const found = new Map<number, Definition>();
    for (const { source, from, way } of this.crossings.values())
      if (way === 'published' && from.key === task.key) found.set(source.id, source);
    if (task.every > 1)
      for (const definition of this.definitions)
        if (taskOf(definition).key === task.key && (isChannelOut(definition) || this.isWatched(definition)))
          found.set(definition.id, definition);
    return [...found.values()].sort((a, b) => a.id - b.id);
  }

  /** Outputs that a recording keeps are seen from outside, as published. */
  private isWatched(definition: Definition): boolean {
    const { outputs, openOutputs } = definition.instance.flat.text;
    const isOutput = openOutputs.length > 0 || outputs.some((output) => output.name === definition.name);
    return definition.kind === 'value' && isOutput && this.l.keeps(definition);
  }

  private fedBy(task: Task): [Task, number][] {
    return this.tasks
      .filter((to) =>
        [...this.crossings.values()].some(
          (one) => one.way === 'now' && one.from.key === task.key && one.to.key === to.key,
        ),
      )
      .map((to) => [to, this.feedsSlot(task, to)]);
  }

  private signalOf({ instance, name }: Definition): Signal {
    return instance.signals.get(name) ?? { kind: 'real', rows: 1, columns: 1 };
  }

  /** Where a task's own value stands after its run. */
  private heldSlot(definition: Definition): number {
    if (definition.kind === 'mode') return modeSlot(definition, this.l);
    if (definition.kind === 'memory') return memorySlot(definition, this.l.number, this.l);
    return valueSlot(definition, this.signalOf(definition), this.l);
  }

  private publishedSlot(definition: Definition): number {
    const name = `${pathOf(definition)}.published`;
    const known = this.l.assembly.find(name);
    if (known !== undefined) return known;
    const { type, length, start } = this.l.assembly.slotAt(this.heldSlot(definition));
    return this.l.assembly.slot(name, 'memory', type, {
      length,
      block: definition.instance.path,
      ...(isChannelOut(definition) ? { start } : {}),
    });
  }

  /** Where a crossing is read. */
  private readSlot(crossing: Crossing): number {
    if (crossing.way === 'published' && crossing.to.every === 1) return this.publishedSlot(crossing.source);
    const name = `${pathOf(crossing.source)}.for_${crossing.to.key}`;
    const known = this.l.assembly.find(name);
    if (known !== undefined) return known;
    const { type, length } = this.l.assembly.slotAt(this.heldSlot(crossing.source));
    return this.l.assembly.slot(name, 'memory', type, {
      length: crossing.turns ? 2 * length : length,
      block: crossing.source.instance.path,
    });
  }

  private steadySlot(crossing: Crossing): number {
    const name = `${pathOf(crossing.source)}.steady_for_${crossing.to.key}`;
    const length = crossing.turns ? 2 : 1;
    return (
      this.l.assembly.find(name) ??
      this.l.assembly.slot(name, 'memory', 'bool', { length, block: crossing.source.instance.path })
    );
  }

  private keptOn(crossing: Crossing): number {
    const name = `${pathOf(crossing.source)}.stayed_for_${crossing.to.key}`;
    return (
      this.l.assembly.find(name) ??
      this.l.assembly.slot(name, 'memory', 'bool', { start: [1], block: crossing.source.instance.path })
    );
  }

  private latchedInput(definition: Definition): number {
    const name = `${pathOf(definition)}.taken`;
    const known = this.l.assembly.find(name);
    if (known !== undefined) return known;
    const { type } = this.l.assembly.slotAt(inputSlot(definition.instance, definition.name, this.l));
    return this.l.assembly.slot(name, 'memory', type, { block: definition.instance.path });
  }

  private feedsSlot(from: Task, to: Task): number {
    return this.own(`feeds_${from.key}_${to.key}`, 'i32', 'which copy the slower rate will read; 0 for none');
  }

  private turnSlot(task: Task): number {
    return this.own(turnOf(task), 'i32', 'which copy this rate reads');
  }

  private releasedSlot(task: Task): number {
    const name = `released_${task.key}`;
    return this.l.assembly.find(name) ?? this.l.assembly.slot(name, 'scratch', 'bool');
  }

  private busySlot(task: Task): number {
    return this.own(`busy_${task.key}`, 'bool', 'whether the task was released and has not ended');
  }

  private overrunsSlot(task: Task): number {
    return this.own(`overruns_${task.key}`, 'i32', 'releases that found the task still running');
  }

  private overrunTickSlot(task: Task): number {
    return this.own(`overrun_tick_${task.key}`, 'i32', 'the tick of the first of them');
  }

  private trippedSlot(): number {
    return this.own('tripped', 'bool', 'an overrun stopped everything until the next start');
  }

  private own(name: string, type: Type, note: string): number {
    return this.l.assembly.find(name) ?? this.l.assembly.slot(name, 'memory', type, { note });
  }

  // —— copies ——

  private loadAll(b: Builder, slot: number): Value[] {
    const { type, length } = this.l.assembly.slotAt(slot);
    if (length === 1) return [b.load(slot, type)];
    return Array.from({ length }, (_, i) => b.load(slot, type, b.const('i32', i)));
  }

  private store(b: Builder, slot: number, index: number, value: Value): void {
    const { length } = this.l.assembly.slotAt(slot);
    b.store(slot, value, length === 1 ? undefined : b.const('i32', index));
  }

  private loadTurn(b: Builder, slot: number, signal: Signal, crossing: Crossing): Value[] {
    if (!crossing.turns) return this.loadAll(b, slot);
    const length = signal.rows * signal.columns;
    const first = b.op('mul_i32', b.load(this.turnSlot(crossing.to), 'i32'), b.const('i32', length));
    const type = typeOf(signal.kind, this.l.number);
    return Array.from({ length }, (_, i) => b.load(slot, type, b.op('add_i32', first, b.const('i32', i))));
  }

  private storeTurn(b: Builder, slot: number, turn: Value | undefined, values: readonly Value[]): void {
    if (turn === undefined || this.l.assembly.slotAt(slot).length === values.length) {
      for (const [i, value] of values.entries()) this.store(b, slot, i, value);
      return;
    }
    const first = b.op('mul_i32', turn, b.const('i32', values.length));
    for (const [i, value] of values.entries()) b.store(slot, value, b.op('add_i32', first, b.const('i32', i)));
  }
}

export function functionOf(task: Task): string {
  return `task_${task.key}`;
}

function keyOf(source: Definition, to: Task): string {
  return `${source.id} ${to.key}`;
}

function pathOf({ instance, name }: Definition): string {
  return `${instance.path}.${name}`;
}

function isChannelOut({ instance, name, kind }: Definition): boolean {
  return kind === 'value' && instance.flat.text.channels.some((c) => c.name === name && c.direction === 'out');
}
