/** Fifth stage, for one function: the ordered definitions of a stage become instructions over slots. */

import { Builder } from '../ir/build.ts';
import type { Func, Real, Value } from '../ir/program.ts';
import type { Spot } from '../language/syntax.ts';
import { type ScalarKind, typeOf } from './assembly.ts';
import { beatSlot, startedSlot, tickSlot } from './clocks.ts';
import { channelNamed, letNamed, memoryNamed } from './declared.ts';
import { type Definition, keyOf, reading, type Stage } from './definitions.ts';
import { convert, lowerExpression, valuesOf } from './expression.ts';
import { applyHooks } from './hooks.ts';
import { hostName } from './host_scope.ts';
import type { LayeredTasks } from './layers.ts';
import { hostStart, memorySlot } from './memory.ts';
import { judge, type WayOut } from './modes.ts';
import { nearestFew } from './nearest.ts';
import { BASE_ZONE, type Region, type Zone, zoneOf, zoneWords } from './order.ts';
import { type Quantity, scalar } from './quantity.ts';
import type { Signal } from './resolve.ts';
import { RunScope, type Standing } from './run_scope.ts';
import { inputSlot, type Lowering, modeSlot, outputSlot, realOf, textFinding, timeSlot, valueSlot } from './slots.ts';
import { type Task, taskOf } from './tasks.ts';

export class StageLowering {
  private readonly b: Builder;
  private readonly real: Real;
  private readonly top = new Map<number, readonly Value[]>();
  private inner: Map<number, readonly Value[]> | undefined;
  private zone: Zone = BASE_ZONE;
  private readonly regionOf = new Map<number, number>();
  private readonly crossing = new Set<number>();
  private readonly freshZones = new Map<string, Zone>();
  private readonly standing: Standing;
  private noise = 0;
  private noted = '';
  private readonly l: Lowering;
  private readonly stage: Stage;
  private readonly regions: readonly Region[];
  /** How many ticks from one run to the next, of every rate but the fastest possible, in order. */
  private readonly rates: readonly number[];

  /** In a layered program, the task whose function this is. */
  private readonly task: { readonly task: Task; readonly among: LayeredTasks } | undefined;

  constructor(
    name: string,
    stage: Stage,
    regions: readonly Region[],
    lowering: Lowering,
    task?: { readonly task: Task; readonly among: LayeredTasks },
  ) {
    this.l = lowering;
    this.task = task;
    this.stage = stage;
    this.regions = regions;
    const every = new Set(regions.map((region) => region.zone.every).filter((ticks) => ticks > 1));
    this.rates = [...every].sort((x, y) => x - y);
    this.b = new Builder(name);
    this.real = realOf(stage, lowering);
    this.standing = {
      b: this.b,
      real: this.real,
      lowering,
      name: (definition, wanted, at) => this.name(definition, wanted, at),
      memorySlot: (definition) => this.memorySlot(definition),
      tickSlot: () => this.tickSlot(),
      nextNoise: () => this.noise++,
    };
    this.findCrossings();
  }

  /** Emits everything; `after` adds what comes at the end. */
  lower(after?: (b: Builder) => void): Func {
    if (this.task !== undefined) {
      const switched = this.regions.map(({ zone }) => zone).filter((zone) => zone.when.length > 0);
      const zones = new Map(switched.map((zone) => [zone.key, zone]));
      this.task.among.before(
        this.b,
        this.task.task,
        [...zones.values()].map((zone) => [zone, this.startedSlot(zone)] as const),
      );
    }
    const last = new Map(this.regions.map((region, i) => [region.zone.key, i]));
    for (const [i, region] of this.regions.entries()) {
      this.zone = region.zone;
      if (this.isWhole(region.zone)) for (const definition of region.definitions) this.define(definition);
      else {
        this.b.note('', zoneWords(region.zone));
        this.b.if(this.zoneRuns(region.zone), () => {
          this.inner = new Map();
          this.noted = '';
          for (const definition of region.definitions) this.define(definition);
          if (last.get(region.zone.key) === i) this.noteStarted(region.zone);
          this.inner = undefined;
        });
      }
    }
    this.zone = BASE_ZONE;
    this.b.note('', 'until the next tick');
    if (this.task === undefined)
      for (const region of this.regions) for (const definition of region.definitions) this.copyOutput(definition);
    for (const zone of this.freshZones.values()) this.commitStarted(zone);
    after?.(this.b);
    return this.b.finish();
  }

  // —— zones ——

  /** Values made in one region and read in another (or kept) must pass through a slot. */
  private findCrossings(): void {
    for (const [i, region] of this.regions.entries())
      for (const definition of region.definitions) this.regionOf.set(definition.id, this.isWhole(region.zone) ? -1 : i);
    for (const region of this.regions)
      for (const definition of region.definitions) {
        const own = this.regionOf.get(definition.id);
        for (const id of definition.reads) {
          const from = this.regionOf.get(id);
          if (from !== undefined && from !== -1 && from !== own) this.crossing.add(id);
        }
        for (const port of region.zone.when) {
          const source = this.l.definitions.byKey.get(port);
          const from = source === undefined ? undefined : this.regionOf.get(source.id);
          if (source !== undefined && from !== undefined && from !== -1) this.crossing.add(source.id);
        }
      }
  }

  /** Whether a zone runs whenever the function does. */
  private isWhole(zone: Zone): boolean {
    return this.task === undefined ? zone.key === BASE_ZONE.key : zone.when.length === 0;
  }

  private zoneRuns(zone: Zone): Value {
    const due = this.due(zone);
    const on = this.switchedOn(zone);
    if (due === undefined || on === undefined) return due ?? on ?? this.b.const('bool', 1);
    return this.b.op('and_bool', due, on);
  }

  /** Whether a zone runs on some calls of the function only. */
  private isDivided(zone: Zone): boolean {
    return zone.every > 1 && this.task === undefined;
  }

  private due(zone: Zone): Value | undefined {
    if (!this.isDivided(zone)) return undefined;
    if (this.stage === 'tick') return this.isBeat(zone.every, zone.phase);
    const beat = this.b.op('rem_i32', this.b.load(this.tickSlot(), 'i32'), this.b.const('i32', zone.every));
    return this.b.op('eq_i32', beat, this.b.const('i32', zone.phase));
  }

  /** Whether the tick is this one of so many. */
  private isBeat(every: number, phase: number): Value {
    const under = this.beatUnder(every);
    const past = under === undefined ? 0 : phase % under;
    const round = under === undefined ? undefined : this.isBeat(under, past);
    const beat = this.b.load(beatSlot(this.l.assembly, every), 'i32');
    const here = this.b.op('eq_i32', beat, this.b.const('i32', phase - past));
    return round === undefined ? here : this.b.op('and_bool', round, here);
  }

  /** The slowest rate of which this one is a multiple: its rounds are what this one's beat counts. */
  private beatUnder(every: number): number | undefined {
    return this.rates.filter((rate) => rate < every && every % rate === 0).at(-1);
  }

  private switchedOn(zone: Zone): Value | undefined {
    let on: Value | undefined;
    for (const port of zone.when) {
      const source = this.l.definitions.byKey.get(port);
      const [value] = source === undefined ? [] : this.valuesOf(source, { kind: 'bool', rows: 1, columns: 1 });
      if (value === undefined) continue;
      on = on === undefined ? value : this.b.op('and_bool', on, value);
    }
    return on;
  }

  /** Every beat and tick counter that the stage turned out to need goes on by one. */
  advanceCounters(b: Builder): void {
    for (const every of this.rates) if (this.beatUnder(every) === undefined) this.advanceBeat(b, every, 1);
    const tick = this.l.assembly.find('tick');
    if (tick !== undefined) b.store(tick, b.op('add_i32', b.load(tick, 'i32'), b.const('i32', 1)));
  }

  private advanceBeat(b: Builder, every: number, by: number): void {
    const slot = beatSlot(this.l.assembly, every);
    const next = b.op('add_i32', b.load(slot, 'i32'), b.const('i32', by));
    const over = b.op('eq_i32', next, b.const('i32', every));
    b.store(slot, b.op('select_i32', over, b.const('i32', 0), next));
    const slower = this.rates.filter((rate) => this.beatUnder(rate) === every);
    if (slower.length > 0)
      b.if(over, () => {
        for (const rate of slower) this.advanceBeat(b, rate, every);
      });
  }

  /** Ticks since the start, as the stage counts them; a task reads the number of the tick it was released at. */
  private tickSlot(): number {
    return this.task?.among.tickOf(this.task.task) ?? tickSlot(this.l.assembly, this.stage);
  }

  private startedSlot(zone: Zone): number {
    this.freshZones.set(zone.key, zone);
    return startedSlot(this.l.assembly, this.stage, zone);
  }

  private fresh(): Value {
    return this.b.op('not_bool', this.b.load(this.startedSlot(this.zone), 'bool'));
  }

  /** Where a zone with a divider has run for this tick, it has started; until it is switched off, if it can be. */
  private noteStarted(zone: Zone): void {
    if (!this.isDivided(zone) || !this.freshZones.has(zone.key)) return;
    this.b.store(this.startedSlot(zone), this.b.const('bool', 1));
    if (zone.when.length === 0) this.freshZones.delete(zone.key);
  }

  private commitStarted(zone: Zone): void {
    const slot = this.startedSlot(zone);
    const ran = this.isDivided(zone) ? this.b.load(slot, 'bool') : this.b.const('bool', 1);
    const on = this.switchedOn(zone);
    this.b.store(slot, on === undefined ? ran : this.b.op('and_bool', on, ran));
  }

  // —— definitions ——

  private define(definition: Definition): void {
    const { instance, at } = definition;
    const { rows, columns } = this.signalOf(definition);
    if (!this.affords(definition, rows * columns, at)) return;
    if (this.noted !== instance.path) {
      this.b.note(instance.path, instance.flat.text.name);
      this.noted = instance.path;
    }
    switch (definition.kind) {
      case 'memory':
        this.startMemory(definition);
        return;
      case 'next':
        this.keepNext(definition);
        return;
      case 'commit':
        this.commitMemory(definition);
        return;
      case 'mode':
        this.judgeMode(definition);
        return;
      case 'rate':
        this.storeRate(definition);
        return;
      case 'say':
      case 'value': {
        const quantity = this.evaluate(definition);
        if (quantity !== undefined) this.keep(definition, quantity);
      }
    }
  }

  /** Whether the block may still make so much; says so when it may not. */
  private affords(definition: Definition, operations: number, at: Spot): boolean {
    const allowance = this.l.assembly.allowance.of(definition.instance.path);
    if (allowance.take(operations)) return true;
    const refusal = allowance.tooMany();
    if (refusal !== undefined) this.report(definition, refusal.id, refusal.facts, at);
    return false;
  }

  /** The definition's value, brought to its declared type. */
  private evaluate(definition: Definition): Quantity | undefined {
    const { instance, name, expression, at } = definition;
    if (expression === undefined) return undefined;
    const scope = this.scope(definition);
    const quantity = lowerExpression(expression, scope);
    if (quantity === undefined) return undefined;
    const signal =
      definition.kind === 'say'
        ? { kind: name.startsWith('say') ? ('bool' as const) : ('real' as const), rows: 1, columns: 1 }
        : instance.signals.get(name);
    if (signal !== undefined) return convert(quantity, signal.kind, signal.rows, signal.columns, scope, at);
    return quantity.kind === 'literal' ? { ...quantity, kind: 'real' } : quantity;
  }

  private keep(definition: Definition, quantity: Quantity): void {
    if (quantity.kind === 'word') {
      this.report(definition, 'wrong_type', { wanted: 'a number', got: 'a word' }, definition.at);
      return;
    }
    const { instance, name } = definition;
    const kind = quantity.kind === 'literal' ? 'real' : quantity.kind;
    const values = applyHooks(
      this.b,
      this.real,
      this.l.hooks,
      `${instance.path}.${name}`,
      kind,
      valuesOf(quantity, this.scope(definition)),
    );
    this.remember(definition, values);
    const signal: Signal = { kind, rows: quantity.rows, columns: quantity.columns };
    this.l.shapes.set(definition.id, signal);
    const channel = channelNamed(instance.flat.text, name);
    if (channel?.direction === 'in') this.storeChannelIn(definition, signal, values);
    const apart = this.task !== undefined || this.zone.key !== BASE_ZONE.key;
    if (this.isKept(definition) || (channel?.direction === 'out' && apart)) {
      const slot = valueSlot(definition, signal, this.l);
      for (const [i, value] of values.entries()) this.store(slot, i, values.length, value);
    }
    if (channel?.direction === 'out' && !apart)
      for (const value of values) this.b.store(outputSlot(definition, this.l), value);
  }

  private isKept(definition: Definition): boolean {
    return this.crossing.has(definition.id) || this.l.keeps(definition) || this.task?.among.holds(definition) === true;
  }

  private remember(definition: Definition, values: readonly Value[]): void {
    const path = `${definition.instance.path}.${definition.name}`;
    for (const [i, value] of values.entries()) this.b.named(value, values.length === 1 ? path : `${path}_${i + 1}`);
    (this.inner ?? this.top).set(definition.id, values);
  }

  private store(slot: number, index: number, length: number, value: Value): void {
    this.b.store(slot, value, length === 1 ? undefined : this.b.const('i32', index));
  }

  private loadAll(slot: number): Value[] {
    const { type, length } = this.l.assembly.slotAt(slot);
    if (length === 1) return [this.b.load(slot, type)];
    return Array.from({ length }, (_, i) => this.b.load(slot, type, this.b.const('i32', i)));
  }

  // —— channels ——

  /** A channel of a slower or switched rate is written on every tick, from what it last was. */
  private copyOutput(definition: Definition): void {
    const channel = channelNamed(definition.instance.flat.text, definition.name);
    if (channel?.direction !== 'out' || definition.kind !== 'value' || zoneOf(definition).key === BASE_ZONE.key) return;
    const held = this.l.assembly.find(`${definition.instance.path}.${definition.name}`);
    if (held === undefined) return;
    for (const value of this.loadAll(held)) this.b.store(outputSlot(definition, this.l), value);
  }

  private storeChannelIn(definition: Definition, signal: Signal, values: readonly Value[]): void {
    const slot = inputSlot(definition.instance, definition.name, this.l);
    for (const value of values) {
      const narrow = signal.kind === 'real' && this.l.number === 'f32' ? this.b.op('f32_from_f64', value) : value;
      this.b.store(slot, narrow);
    }
  }

  // —— memories ——

  private memorySlot(definition: Definition): number {
    return memorySlot(definition, this.real, this.l);
  }

  private startMemory(definition: Definition): void {
    const { rows, columns } = this.signalOf(definition);
    if (rows * columns === 0) {
      this.remember(definition, []);
      return;
    }
    const slot = this.memorySlot(definition);
    const { expression } = definition;
    const switched = this.zone.when.length > 0;
    const host = expression === undefined ? [] : hostStart(definition, this.l);
    if (host === undefined || switched) {
      const length = this.l.assembly.slotAt(slot).length;
      this.b.if(this.fresh(), () => {
        const quantity = this.evaluateStart(definition);
        if (quantity === undefined) return;
        const values = valuesOf(quantity, this.scope(definition));
        if (this.isLine(definition)) {
          const [value] = values;
          if (value !== undefined) this.b.repeat(length, () => this.b.linePush(slot, value));
        } else
          for (let i = 0; i < length; i++) {
            const value = values[values.length === 1 ? 0 : i];
            if (value !== undefined) this.store(slot, i, length, value);
          }
      });
    }
    if (!this.isLine(definition)) this.remember(definition, this.loadAll(slot));
  }

  private evaluateStart(definition: Definition): Quantity | undefined {
    const { instance, name, expression, at } = definition;
    if (expression === undefined) return undefined;
    const scope = this.scope(definition);
    const quantity = lowerExpression(expression, scope);
    const signal = instance.signals.get(name);
    if (quantity === undefined || signal === undefined) return undefined;
    return quantity.items.length === 1
      ? convert(quantity, signal.kind, 1, 1, scope, at)
      : convert(quantity, signal.kind, signal.rows, signal.columns, scope, at);
  }

  private isLine(definition: Definition): boolean {
    return memoryNamed(definition.instance.flat.text, definition.name)?.kind === 'line';
  }

  /** A next value waits until all that read the memory are done. */
  private keepNext(definition: Definition): void {
    const quantity = this.evaluate(definition);
    if (quantity === undefined) return;
    const values = valuesOf(quantity, this.scope(definition));
    this.remember(definition, values);
    if (!this.crossing.has(definition.id) || values.length === 0) return;
    const slot = valueSlot(definition, this.signalOf(definition), this.l);
    for (const [i, value] of values.entries()) this.store(slot, i, values.length, value);
  }

  private commitMemory(definition: Definition): void {
    const { path } = definition.instance;
    const next = this.l.definitions.byKey.get(keyOf(path, 'next', definition.name));
    const memory = this.l.definitions.byKey.get(keyOf(path, 'memory', definition.name));
    const signal = this.signalOf(definition);
    if (next === undefined || memory === undefined || signal.rows * signal.columns === 0) return;
    const values = this.valuesOf(next, signal);
    const slot = this.memorySlot(memory);
    if (this.isLine(definition)) for (const value of values) this.b.linePush(slot, value);
    else for (const [i, value] of values.entries()) this.store(slot, i, values.length, value);
  }

  private signalOf(definition: Definition): Signal {
    return definition.instance.signals.get(definition.name) ?? { kind: 'real', rows: 1, columns: 1 };
  }

  private judgeMode(definition: Definition): void {
    const { instance } = definition;
    const { modes, transitions } = instance.flat.text;
    const slot = modeSlot(definition, this.l);
    if (this.zone.when.length > 0) this.b.if(this.fresh(), () => this.b.store(slot, this.b.const('i32', 0)));
    const old = this.b.load(slot, 'i32');
    const places = new Map(modes.map((mode, i) => [mode, i]));
    /** Ways out of each mode, in the order they are written: the first that holds is taken. */
    const ways = modes.map((): WayOut[] => []);
    for (const transition of transitions) {
      if (!this.affords(definition, 2 * transition.from.length, transition.at)) return;
      const condition = lowerExpression(transition.when, this.scope(definition));
      const wanted =
        condition === undefined ? undefined : convert(condition, 'bool', 1, 1, this.scope(definition), transition.at);
      const [holds] = wanted === undefined ? [] : valuesOf(wanted, this.scope(definition));
      const to = places.get(transition.to);
      if (holds === undefined || to === undefined) continue;
      for (const name of transition.from) ways[places.get(name) ?? -1]?.push({ holds, to });
    }
    judge(this.b, slot, old, ways);
    const mode = this.b.load(slot, 'i32');
    const [hooked = mode] = applyHooks(this.b, this.real, this.l.hooks, `${instance.path}.mode`, 'int', [mode]);
    if (hooked !== mode) this.b.store(slot, hooked);
    this.remember(definition, [hooked]);
  }

  private storeRate(definition: Definition): void {
    const quantity = this.evaluate(definition);
    const offset = this.l.states.offsets.get(`${definition.instance.path}.${definition.name}`);
    const rates = this.l.assembly.find('bench.rates');
    if (quantity === undefined || offset === undefined || rates === undefined) return;
    for (const [i, value] of valuesOf(quantity, this.scope(definition)).entries())
      this.b.store(rates, value, this.b.const('i32', offset + i));
  }

  // —— reading ——

  /** Values of another definition where this one stands: at hand, or out of its slot. */
  private valuesOf(definition: Definition, signal: Signal): readonly Value[] {
    const known = this.inner?.get(definition.id) ?? this.top.get(definition.id);
    if (known !== undefined) return known;
    if (this.task !== undefined && definition.stage === 'tick' && taskOf(definition).key !== this.task.task.key)
      return this.task.among.read(this.b, definition, signal, this.task.task);
    if (definition.kind === 'memory') return this.loadAll(this.memorySlot(definition));
    if (definition.kind === 'mode') return [this.b.load(modeSlot(definition, this.l), 'i32')];
    const channel = channelNamed(definition.instance.flat.text, definition.name);
    if (channel?.direction === 'in' && this.task !== undefined) return [this.task.among.readInput(this.b, definition)];
    if (channel?.direction === 'in' && this.stage === 'tick')
      return [this.b.load(inputSlot(definition.instance, definition.name, this.l), typeOf(signal.kind, this.real))];
    if (channel?.direction === 'out' && this.stage !== 'tick') {
      const value = this.b.load(outputSlot(definition, this.l), typeOf(signal.kind, this.l.number));
      return [signal.kind === 'real' && this.l.number === 'f32' ? this.b.op('f64_from_f32', value) : value];
    }
    return this.loadAll(valueSlot(definition, signal, this.l));
  }

  private quantity(signal: Signal, values: readonly Value[]): Quantity {
    return { kind: signal.kind, rows: signal.rows, columns: signal.columns, items: values.map((value) => ({ value })) };
  }

  private report(definition: Definition, id: string, facts: Readonly<Record<string, string>>, at: Spot): void {
    this.l.findings.push(textFinding(definition.instance, id, facts, at, definition.name));
  }

  private scope(definition: Definition): RunScope {
    return new RunScope(definition, this.standing);
  }

  private name(definition: Definition, name: string, at: Spot): Quantity | undefined {
    const { instance } = definition;
    if (name === 'first') return scalar('bool', { value: this.fresh() });
    if (name === 'tick') return scalar('int', { value: this.b.load(this.tickSlot(), 'i32') });
    if (name === 't') return scalar('real', { value: this.time() });
    const list = name !== definition.name && instance.flat.text.openOutputs.some((open) => open.name === name);
    const host = list ? undefined : hostName(instance, name, this.l, at);
    if (host !== undefined) return host;
    if (!list && letNamed(instance.flat.text, name) !== undefined) return undefined;
    const offset = this.l.states.offsets.get(`${instance.path}.${name}`);
    const signal = instance.signals.get(name);
    if (offset !== undefined && signal !== undefined)
      return this.quantity(
        signal,
        Array.from({ length: signal.rows * signal.columns }, (_, i) =>
          this.b.load(this.l.states.slot, 'f64', this.b.const('i32', offset + i)),
        ),
      );
    const found = reading(instance, name, this.l.definitions.byKey);
    if (found !== undefined) return this.read(definition, name, found, signal, at);
    if (signal !== undefined) return this.missing(signal);
    const known = (): string[] => [
      ...instance.signals.keys(),
      ...instance.flat.text.equations.map((e) => e.name),
      ...instance.builds.keys(),
    ];
    this.report(definition, 'unknown_name', { name, nearest: nearestFew(name, known, this.l.findings).join(', ') }, at);
    return undefined;
  }

  private read(
    definition: Definition,
    name: string,
    found: { readonly definition: Definition; readonly element: number | undefined },
    declared: Signal | undefined,
    _at: Spot,
  ): Quantity | undefined {
    const source = found.definition;
    const own = source.instance.signals.get(source.name);
    const signal = own ?? this.l.shapes.get(source.id);
    if (signal === undefined) return undefined;
    let quantity = this.quantity(signal, this.valuesOf(source, signal));
    if (found.element !== undefined) {
      const item = quantity.items[found.element - 1];
      if (item === undefined) return declared === undefined ? undefined : this.missing(declared);
      quantity = scalar(signal.kind, item);
    }
    if (source.instance === definition.instance && declared === own) return quantity;
    if (
      declared !== undefined &&
      (declared.kind !== quantity.kind || declared.rows !== quantity.rows || declared.columns !== quantity.columns)
    )
      return this.missing(declared);
    const hooks = `${definition.instance.path}.${name}`;
    if (!this.l.hooks.has(hooks) || source.instance === definition.instance) return quantity;
    const values = quantity.items.map((item) => item.value ?? 0);
    return this.quantity(
      { kind: quantity.kind as ScalarKind, rows: quantity.rows, columns: quantity.columns },
      applyHooks(this.b, this.real, this.l.hooks, hooks, quantity.kind as ScalarKind, values),
    );
  }

  /** Stands in for what was already reported as missing or wrong, so that the rest can still be checked. */
  private missing(signal: Signal): Quantity {
    const zero = { host: this.l.assembly.graph.constant(0) };
    return {
      kind: signal.kind,
      rows: signal.rows,
      columns: signal.columns,
      items: new Array(signal.rows * signal.columns).fill(zero),
    };
  }

  private time(): Value {
    if (this.stage === 'flow' || this.stage === 'sample') return this.b.load(timeSlot(this.l.assembly), 'f64');
    const ticks = this.b.op(`${this.real}_from_i32`, this.b.load(this.tickSlot(), 'i32'));
    return this.b.op(`mul_${this.real}`, ticks, this.b.const(this.real, this.l.resolved.tick));
  }
}
