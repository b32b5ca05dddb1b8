/** The exact linear model of what is drawn, about a point of rest: of the plant alone in s, of anything scheduled in z. */

import { Matrix } from 'ml-matrix';
import type { Finding, Found } from '../findings.ts';
import type { Compiled } from '../stages/compiled.ts';
import type { Stage } from '../stages/definitions.ts';
import type { Lowered, Port } from '../stages/lower.ts';
import type { Instance } from '../stages/resolve.ts';
import { leastCommonMultiple } from '../stages/schedule.ts';
import { isTurn } from '../stages/tasks.ts';
import { eigenvalues } from './eigenvalues.ts';
import { connected } from './minimal.ts';
import { findRest, type Rest } from './operating_point.ts';
import { between } from './sheet_paths.ts';
import { SheetPoint } from './sheet_point.ts';
import { type Cut, type Place, type Resolution, resolveRequest, type SheetRequest } from './sheet_request.ts';
import type { Complex, StateSpace } from './system.ts';

export interface SheetModel {
  /**
   * In s, or of one whole period: then its inputs are those of every sample of the period, one after another, and so are its
   * outputs; `samples` says how many, `every` of how many ticks.
   */
  readonly system: StateSpace;
  readonly samples: number;
  /** Seconds from sample to sample; 0 in s. */
  readonly sample: number;
  /** Names of the states, as on the sheet. */
  readonly states: readonly string[];
  readonly rest: Rest['point'];
  /** Names of the continuous states among all. */
  readonly plant: readonly string[];
  /** Unstable modes that the inputs reach and the outputs do not see, or the other way round. */
  readonly apart: readonly Complex[];
  /** Cut wires that carry a value of continuous time between samples: watched and held from tick to tick, they are only nearly the wire. */
  readonly heldWires: readonly string[];
  /** Modes taken for granted. */
  readonly assumed: Readonly<Record<string, string>>;
}

/** Longest period looked at, in ticks. */
const LONGEST = 20_000;
/** How far beyond the edge a mode beside the loop must lie to count as unstable: nearer ones are free counters and angles. */
const BEYOND = 1e-7;
/** Most numbers (scalars and inputs) derivatives are taken by. */
const MOST_DIRECTIONS = 4_000;

/**
 * Excited at each of `from`, watched at each of `to`. A cut wire is replaced by what it carries at rest. For a loop's own model, name the same wire in
 * `from`, `to` and `cut`: it is then excited behind the cut and watched before it.
 */
export function sheetModel(compiled: Compiled, request: SheetRequest): Found<SheetModel> {
  const findings: Finding[] = [];
  const asked = resolveRequest(compiled, request, findings);
  if (asked === undefined) return { value: undefined, findings };
  const value = new Modelling(compiled, asked, findings).model();
  return { value: findings.length > 0 ? undefined : value, findings };
}

class Modelling {
  private readonly compiled: Compiled;
  private readonly asked: Resolution;
  private readonly findings: Finding[];
  private readonly hooks: Place[] = [];
  private readonly lowered: Lowered;
  private readonly outputs: readonly Port[];
  private readonly constraints: readonly (Port & { readonly name: string; readonly value: number })[];

  constructor(compiled: Compiled, asked: Resolution, findings: Finding[]) {
    this.compiled = compiled;
    this.asked = asked;
    this.findings = findings;
    for (const place of [
      ...asked.from.flat(),
      ...asked.cuts.flatMap(({ readers }) => readers),
      ...asked.put.map(({ place }) => place),
    ])
      if (this.hookOf(place) < 0) this.hooks.push(place);
    const read = [...asked.to, ...asked.asked.map(({ place }) => place), ...asked.cuts.map(({ source }) => source)];
    this.lowered = compiled.bench({
      keep: new Set(read.map(({ port }) => port)),
      record: read,
      hooks: this.hooks,
    });
    this.outputs = asked.to.flatMap((place, i) => {
      const column = this.lowered.columns[i];
      const cut = asked.cuts.find(({ source }) => source === place);
      return column === undefined ? [] : cut === undefined ? column : this.asRead(column, cut);
    });
    this.constraints = asked.asked.flatMap(({ name, value }, i) => {
      const at = this.lowered.columns[asked.to.length + i];
      return at === undefined ? [] : [{ ...at, name, value }];
    });
  }

  model(): SheetModel | undefined {
    const { compiled, asked } = this;
    const way = between(compiled, asked.from.flat(), asked.to, asked.cuts);
    if (way.size === 0) return this.refuse('unreachable', this.ends());
    const scheduled = [...way].filter(
      ({ stage, kind }) => stage === 'tick' || stage === 'actuate' || kind === 'memory',
    );
    const { period } = compiled.schedule;
    if (period > LONGEST) return this.refuse('period_long', { period: String(period), most: String(LONGEST) });
    const rates = scheduled.filter(({ stage }) => stage !== 'flow').map(({ instance }) => instance.every);
    const round = compiled.controller.layers === undefined ? rates.reduce(leastCommonMultiple, 1) : period;
    return scheduled.length === 0 ? this.continuous() : this.sampled(round);
  }

  private refuse(id: string, facts: Readonly<Record<string, string>>, path = ''): undefined {
    this.findings.push({ id, level: 'error', at: { path }, facts });
    return undefined;
  }

  private ends(): Readonly<Record<string, string>> {
    return { from: this.names(this.asked.from.flat()), to: this.names(this.asked.to) };
  }

  private names(places: readonly Place[]): string {
    return [...new Set(places.map(({ port }) => port))].join(', ');
  }

  private hookOf({ port, element }: Place): number {
    return this.hooks.findIndex((hook) => hook.port === port && hook.element === element);
  }

  /** A bench at a point of rest, what is cut and held in place. */
  private rested(more: number): { readonly point: SheetPoint; readonly rest: Rest } | undefined {
    const { compiled, asked, lowered } = this;
    const timing = { tick: compiled.resolved.tick, outputs: compiled.sheet.outputs };
    const point = new SheetPoint(lowered, timing, more);
    const directions = point.scalars.length + more;
    if (directions > MOST_DIRECTIONS)
      return this.refuse('too_many_states', { count: String(directions), most: String(MOST_DIRECTIONS) });
    const prepare = (): void => {
      for (const { place, value } of asked.put) this.hook(point, place, 2, value);
    };
    const fixed = new Map(
      asked.kept.flatMap(({ place, value }) => {
        const scalar = this.scalarAt(point, place);
        return scalar === undefined ? [] : [[scalar, value] as const];
      }),
    );
    // With every wire whole: what a cut wire carries at rest is what its readers are given.
    const whole = findRest(point, {
      period: compiled.schedule.period,
      fixed,
      constraints: this.constraints.map(({ name, value, ...at }) => ({ name, value, at })),
      targets: [...this.outputs, ...this.sources()],
      prepare,
    });
    if ('restless' in whole)
      return this.refuse('no_rest', { what: whole.restless, by: whole.by.toPrecision(3) }, whole.restless);
    point.machine.load(whole.values);
    for (let k = 0; k < compiled.schedule.period; k++) point.runTick();
    const carried = this.sources().map(({ slot, element }) => point.machine.read(slot, element));
    point.machine.load(whole.values);
    for (const [i, { readers }] of asked.cuts.entries())
      for (const reader of readers)
        if (!asked.put.some(({ place }) => place.port === reader.port && place.element === reader.element))
          this.hook(point, reader, 2, carried[i] ?? 0);
    return { point, rest: whole };
  }

  private sources(): readonly Port[] {
    const { asked, lowered } = this;
    const first = asked.to.length + asked.asked.length;
    return asked.cuts.flatMap((cut, i) => {
      const column = lowered.columns[first + i];
      return column === undefined ? [] : this.asRead(column, cut);
    });
  }

  /** What the readers of a wire read of its source; where some read it as it is made and others a release later, as it is made. */
  private asRead(column: Port, cut: Cut): Port {
    const isNow = cut.readers.some((reader) => this.readsNow(cut, reader));
    const made = isNow ? this.lowered.program.slots.find(({ name }) => name === cut.source.port) : undefined;
    return made === undefined ? column : { slot: made.id, element: column.element };
  }

  /**
   * Whether a reader is given what its source makes at that tick. A column of a layered program is as seen from outside, published a
   * release later; a reader in the same task, or in a slower one, reads what is made at that tick.
   */
  private readsNow({ source }: Cut, reader: Place): boolean {
    const [from, to] = [this.instanceOf(source), this.instanceOf(reader)];
    if (this.compiled.controller.layers === undefined || from === undefined || to === undefined) return true;
    return this.stageOf(source) !== 'tick' || from.every < to.every || isSameRate(from, to);
  }

  private instanceOf({ port }: Place): Instance | undefined {
    return this.compiled.resolved.instances.get(port.slice(0, port.lastIndexOf('.')));
  }

  private stageOf({ port }: Place): Stage | undefined {
    return this.compiled.definitions.byKey.get(port)?.stage;
  }

  private cutFor(input: number): Cut | undefined {
    return this.asked.cuts.find(({ readers }) => readers === this.asked.from[input]);
  }

  /** The ports of an excitation by when they are given it. */
  private given(input: number): Readonly<Record<'now' | 'afterSensing' | 'aReleaseLater', readonly Place[]>> {
    const places = this.asked.from[input] ?? [];
    const cut = this.cutFor(input);
    if (cut === undefined) return { now: places, afterSensing: [], aReleaseLater: [] };
    const isPrompt = places.some((reader) => this.readsNow(cut, reader));
    const later = isPrompt ? places.filter((reader) => !this.readsNow(cut, reader)) : [];
    const after = places.filter((reader) => !later.includes(reader) && this.readsAfterSensing(cut, reader));
    const now = places.filter((reader) => !later.includes(reader) && !after.includes(reader));
    return { now, afterSensing: after, aReleaseLater: later };
  }

  /**
   * Sensors of a tick still see what actuators did before it; and through the plant's continuous equations what its own memories
   * gave before it.
   */
  private readsAfterSensing({ source }: Cut, reader: Place): boolean {
    const stage = this.stageOf(source);
    const instance = this.instanceOf(reader);
    return stage === 'actuate' || (stage === 'sample' && this.isContinuousBlock(instance));
  }

  private isContinuousBlock(instance: Instance | undefined): boolean {
    return !this.compiled.definitions.all.some(
      (definition) => definition.instance === instance && definition.stage !== 'flow',
    );
  }

  /** Whether a wire leads from one block of continuous time to another. */
  private isContinuousWire({ source, readers }: Cut): boolean {
    const isContinuous = this.stageOf(source) === 'flow';
    return isContinuous && readers.some((reader) => this.isContinuousBlock(this.instanceOf(reader)));
  }

  private hook(point: SheetPoint, place: Place, mode: 1 | 2, amount: number): void {
    const index = this.hookOf(place);
    point.machine.write(point.slot(`bench.hook${index}.mode`).id, mode);
    point.machine.write(point.slot(`bench.hook${index}.amount`).id, amount);
  }

  private scalarAt(point: SheetPoint, { port, element }: Place) {
    return point.scalars.find(({ name }) => name === port || name === `${port}[${element + 1}]`);
  }

  /** Lets what is excited at some ports move by `direction`. */
  private excite(point: SheetPoint, places: readonly Place[], direction: number): void {
    for (const place of places) {
      const index = this.hookOf(place);
      const mode = point.slot(`bench.hook${index}.mode`).id;
      if (point.machine.read(mode) === 0) point.machine.write(mode, 1);
      point.machine.seed(point.slot(`bench.hook${index}.amount`).id, direction);
    }
  }

  private continuous(): SheetModel | undefined {
    const { asked, outputs } = this;
    const inputs = asked.from.length;
    const found = this.rested(inputs);
    if (found === undefined) return undefined;
    const { point, rest } = found;
    const { machine, scalars, states } = point;
    point.seedScalars();
    for (const [i, places] of asked.from.entries()) this.excite(point, places, scalars.length + i);
    machine.call('actuate');
    const rates = point.rates().gradients;
    machine.call('sample');
    const seen = outputs.map(({ slot, element }) => machine.gradient(slot, element));
    const part = (rows: readonly Float64Array[], from: number, count: number): Matrix => {
      const made = Matrix.zeros(rows.length, count);
      for (const [i, row] of rows.entries()) for (let j = 0; j < count; j++) made.set(i, j, row[from + j] ?? 0);
      return made;
    };
    const system = {
      A: part(rates, 0, states),
      B: part(rates, scalars.length, inputs),
      C: part(seen, 0, states),
      D: part(seen, scalars.length, inputs),
      dt: 0,
    };
    if (!isSmooth(system)) return this.refuse('not_smooth', {});
    if (isSilent(system)) return this.refuse('nothing_back', this.ends());
    const names = scalars.slice(0, states).map(({ name }) => name);
    const { assumed } = asked;
    return {
      system,
      samples: 1,
      sample: 0,
      states: names,
      rest: rest.point,
      plant: names,
      apart: [],
      heldWires: [],
      assumed,
    };
  }

  private sampled(round: number): SheetModel | undefined {
    const { compiled, asked } = this;
    const { every, phase } = this.beat();
    const period = leastCommonMultiple(round, every);
    const most = period * 2;
    const inputs = asked.from.length;
    const given = asked.from.map((_, i) => this.given(i));
    const waiting = given.flatMap(({ now }, i) => (now.length < (asked.from[i]?.length ?? 0) ? [i] : []));
    const found = this.rested(waiting.length + (inputs * most) / every);
    if (found === undefined) return undefined;
    const { point, rest } = found;
    const { machine, scalars } = point;
    for (let k = 0; k < phase; k++) point.runTick();
    const from = machine.values();
    const ticks = this.turns(point, period, most);
    machine.load(from);
    const flow = point.flow();
    machine.load(from);
    const samples = ticks / every;
    // After the scalars what was sent last in the period before, where something still reads it.
    const before = scalars.length + waiting.length;
    const sent = (sample: number, input: number): number =>
      sample < 0 ? scalars.length + waiting.indexOf(input) : before + sample * inputs + input;
    const excite = (sample: number, stage: 'sample' | 'actuate'): void => {
      for (const [i, { now, afterSensing, aReleaseLater }] of given.entries()) {
        const direction = sent(sample, i);
        if (stage === 'sample') {
          this.excite(point, now, direction);
          this.excite(point, [...afterSensing, ...aReleaseLater], sent(sample - 1, i));
        } else this.excite(point, afterSensing, direction);
      }
    };
    point.seedScalars();
    const seen: Float64Array[] = [];
    for (let k = 0; k < ticks; k++) {
      const isBeat = k % every === 0;
      if (isBeat) excite(k / every, 'sample');
      point.runTick(flow, () => {
        if (isBeat) excite(k / every, 'actuate');
      });
      if (isBeat)
        seen.push(...this.outputs.map(({ slot, element }) => Float64Array.from(machine.gradient(slot, element))));
    }
    const next = [
      ...scalars.map((scalar) => point.gradient(scalar)),
      ...waiting.map((i) => {
        const last = new Float64Array(machine.directions);
        last[sent(samples - 1, i)] = 1;
        return last;
      }),
    ];
    const { both: kept, one } = onTheWay(next, seen, before);
    const rows = kept.map((i) => next[i] ?? new Float64Array(0));
    const count = samples * inputs;
    const pick = (lists: readonly Float64Array[], columns: readonly number[]): Matrix => {
      const made = Matrix.zeros(lists.length, columns.length);
      for (const [i, list] of lists.entries()) for (const [j, at] of columns.entries()) made.set(i, j, list[at] ?? 0);
      return made;
    };
    const driven = Array.from({ length: count }, (_, i) => before + i);
    const tick = compiled.resolved.tick;
    const system = {
      A: pick(rows, kept),
      B: pick(rows, driven),
      C: pick(seen, kept),
      D: pick(seen, driven),
      dt: ticks * tick,
    };
    if (!isSmooth(system)) return this.refuse('not_smooth', {});
    if (isSilent(system)) return this.refuse('nothing_back', this.ends());
    const names = [...scalars.map(({ name }) => name), ...waiting.map((i) => `${asked.from[i]?.[0]?.port}, before`)];
    const states = kept.map((i) => names[i] ?? '');
    const beside = eigenvalues(
      pick(
        one.map((i) => next[i] ?? new Float64Array(0)),
        one,
      ),
    );
    const apart = beside.filter(({ re, im }) => Math.hypot(re, im) > 1 + BEYOND);
    const plant = scalars.slice(0, point.states).map(({ name }) => name);
    const { assumed } = asked;
    const heldWires = asked.cuts.filter((cut) => this.isContinuousWire(cut)).map(({ name }) => name);
    return { system, samples, sample: every * tick, states, rest: rest.point, plant, apart, heldWires, assumed };
  }

  /**
   * How often the excitation changes: with the slower of what makes a cut wire's value and what reads it; where readers of several
   * rates read it, with what makes it.
   */
  private beat(): { readonly every: number; readonly phase: number } {
    const { asked } = this;
    const places = asked.from.flatMap((readers, i) => {
      const cut = this.cutFor(i);
      if (cut === undefined) return readers;
      const [first, ...others] = readers.flatMap((reader) => this.instanceOf(reader) ?? []);
      const isOne = first !== undefined && others.every((other) => isSameRate(first, other));
      return isOne ? [...readers, cut.source] : [cut.source];
    });
    let slowest = { every: 1, phase: 0 };
    for (const place of places) {
      const instance = this.instanceOf(place);
      if (instance !== undefined && instance.side !== 'plant' && instance.every > slowest.every)
        slowest = { every: instance.every, phase: instance.phase };
    }
    return slowest;
  }

  /** Ticks after which the program stands as it stood, of one or two periods: a layered one may have two copies of a value in turn. */
  private turns(point: SheetPoint, period: number, most: number): number {
    const { machine } = point;
    const flags = machine.program.slots
      .filter(({ type, kind, name }) => kind === 'memory' && (type === 'bool' || isTurn(name)))
      .map(({ id }) => id);
    const before = flags.flatMap((id) => [machine.read(id)]);
    for (let k = 0; k < period; k++) point.runTick();
    return flags.every((id, i) => machine.read(id) === before[i]) ? period : most;
  }
}

function isSameRate(one: Instance, other: Instance): boolean {
  return one.every === other.every && one.phase === other.phase;
}

/** Scalars that the inputs reach and the outputs see, and those of which only one is true, by what is exactly 0. */
function onTheWay(next: readonly Float64Array[], seen: readonly Float64Array[], scalars: number) {
  const ahead = new Set<number>();
  for (const [i, row] of next.entries()) if (row.subarray(scalars).some((slope) => slope !== 0)) ahead.add(i);
  const readers = Array.from({ length: scalars }, (): number[] => []);
  for (const [i, row] of next.entries()) for (let j = 0; j < scalars; j++) if ((row[j] ?? 0) !== 0) readers[j]?.push(i);
  for (const j of ahead) for (const i of readers[j] ?? []) ahead.add(i);
  const behind = new Set<number>();
  for (const row of seen) for (let j = 0; j < scalars; j++) if ((row[j] ?? 0) !== 0) behind.add(j);
  for (const i of behind) for (let j = 0; j < scalars; j++) if ((next[i]?.[j] ?? 0) !== 0) behind.add(j);
  const all = [...new Set([...ahead, ...behind])].sort((a, b) => a - b);
  const isBoth = (i: number): boolean => ahead.has(i) && behind.has(i);
  return { both: all.filter(isBoth), one: all.filter((i) => !isBoth(i)) };
}

function isSmooth({ A, B, C, D }: StateSpace): boolean {
  return [A, B, C, D].every((matrix) => matrix.to1DArray().every(Number.isFinite));
}

/** Whether nothing of the inputs comes out. */
function isSilent({ A, B, C, D }: StateSpace): boolean {
  const part = connected({ A, B, C, D, dt: 0 });
  return part.A.rows === 0 && D.to1DArray().every((entry) => entry === 0);
}
