/** Fifth stage: the ordered definitions become the exported program, and that program together with its plant. */

import type { Finding } from '../findings.ts';
import type { Program, Real } from '../ir/program.ts';
import { HostGraph } from '../language/host_value.ts';
import type { Sheet } from '../sheet/sheet.ts';
import { Assembly, type SettingSlot } from './assembly.ts';
import { beatSlot } from './clocks.ts';
import { channelNamed } from './declared.ts';
import type { Definition, Definitions } from './definitions.ts';
import { lowerExpression } from './expression.ts';
import { hostScope } from './host_scope.ts';
import { functionOf, LayeredTasks } from './layers.ts';
import { StageLowering } from './lower_stage.ts';
import { BASE_ZONE, type Region } from './order.ts';
import { advanceFunction, type BenchShape, benchFunctions, recordFunction } from './plant.ts';
import type { Instance, Resolved } from './resolve.ts';
import { channelSlotName, type Hook, inputSlot, type Lowering, textFinding, timeSlot } from './slots.ts';
import type { PortUnit } from './wires.ts';

/** The orders of the four stages. */
export interface Ordered {
  readonly tick: readonly Region[];
  readonly sample: readonly Region[];
  readonly flow: readonly Region[];
  readonly actuate: readonly Region[];
}

/** Where a value can be read: a slot, or a number that never changes. */
export interface Port {
  readonly slot: number;
  readonly element: number;
}

/** A program with what is needed to adjust and to watch it. */
export interface Lowered {
  readonly program: Program;
  readonly graph: HostGraph;
  readonly settings: readonly SettingSlot[];
  /** Slot names of the hooks of a port: the mode's and the amount's. */
  readonly hooks: ReadonlyMap<string, readonly Hook[]>;
  /** Columns recorded, in order; undefined where a name has no value. */
  readonly columns: readonly (Port | undefined)[];
  /** Where each continuous state, by `path.name`, begins in the slot `bench.states`. */
  readonly states: ReadonlyMap<string, number>;
}

/** What a bench is asked to keep, record and be able to change by hand. */
export interface Watch {
  /** Ports to keep in slots: `path.name`; or everything. */
  readonly keep: ReadonlySet<string> | 'all';
  readonly record: readonly { readonly port: string; readonly element: number }[];
  /** Ports that a nudge may change. */
  readonly hooks: readonly { readonly port: string; readonly element: number }[];
}

export const WATCH_NOTHING: Watch = { keep: new Set(), record: [], hooks: [] };

/** A design ready to be lowered. */
export interface Design {
  readonly name: string;
  readonly sheet: Sheet;
  readonly resolved: Resolved;
  readonly definitions: Definitions;
  readonly ordered: Ordered;
  /** Real type of the exported program. */
  readonly number: Real;
  /** Unit of a port in words. */
  readonly unit: PortUnit;
  /** Files beside the sheet. */
  files(name: string): string | undefined;
}

/** The exported program, and the settings that the length of a delay line depends on, in it or in the plant. */
export interface LoweredController {
  readonly program: Program;
  readonly sizing: ReadonlySet<string>;
}

/** The exported program alone; the plant's equations are gone through for what there is to say about them. */
export function lowerController(design: Design, findings: Finding[]): LoweredController {
  const lowering = start(design, WATCH_NOTHING, findings);
  checkNeeds(lowering);
  lowerTick(lowering, design.ordered, design.sheet.schedule);
  const program = lowering.assembly.finish(design.name, design.number);
  lowerPlant(lowering, design.ordered);
  checkSayings(lowering);
  const { graph, lengths } = lowering.assembly;
  const named = graph.settingsBehind(lengths).map((key) => key.replace(/\[\d+\]$/, ''));
  return { program, sizing: new Set(named) };
}

/**
 * One block's part of a tick as a program of its own, `tick`, as on any tick but its first: what it reads of others are
 * `wire` slots, and everything it makes is kept. `definitions` are its own, in the order of a tick.
 */
export function lowerAlone(
  design: Design,
  instance: Instance,
  definitions: readonly Definition[],
  number: Real,
): Program {
  const watch: Watch = { ...WATCH_NOTHING, keep: 'all' };
  const resolved = { ...design.resolved, instances: new Map([[instance.path, instance]]) };
  const around = { ...design.definitions, all: definitions };
  const lowering = start({ ...design, number, resolved, definitions: around }, watch, []);
  const alone = new StageLowering('tick', 'tick', [{ zone: BASE_ZONE, definitions }], lowering);
  lowering.assembly.add(alone.lower());
  return lowering.assembly.finish(instance.path, number);
}

/** The program with its plant, its recording and its hooks. */
export function lowerBench(design: Design, watch: Watch, findings: Finding[]): Lowered {
  const { sheet, resolved, ordered } = design;
  const lowering = start(design, watch, findings);
  const { assembly } = lowering;
  lowerTick(lowering, ordered, sheet.schedule);
  const states = lowerPlant(lowering, ordered);
  const shape: BenchShape = {
    states,
    tick: resolved.tick,
    stepsPerTick: sheet.plant_steps,
    outputs: sheet.outputs,
  };
  assembly.add(advanceFunction(assembly, shape));
  const columns = watch.record.map(({ port, element }): Port | undefined => {
    const slot = portSlot(port, lowering);
    if (slot === undefined) return undefined;
    const offset = lowering.states.offsets.get(port) ?? 0;
    return offset + element < assembly.slotAt(slot).length ? { slot, element: offset + element } : undefined;
  });
  const recorded = columns.filter((column) => column !== undefined);
  for (const func of benchFunctions(assembly, shape, recordFunction(assembly, recorded))) assembly.add(func);
  const wrong = findings.find(({ level }) => level === 'error');
  if (wrong !== undefined) throw new Error(`a sheet that compiles has no bench: ${wrong.id} at ${wrong.at.path}`);
  const program = assembly.finish(design.name, design.number);
  const { offsets } = lowering.states;
  return {
    program,
    graph: assembly.graph,
    settings: assembly.settings,
    hooks: lowering.hooks,
    columns,
    states: offsets,
  };
}

/** The slot a port, memory, state or channel can be read from. */
function portSlot(port: string, lowering: Lowering): number | undefined {
  const { assembly } = lowering;
  if (lowering.states.offsets.has(port)) return lowering.states.slot;
  const found = assembly.find(`${port}.published`) ?? assembly.find(port);
  if (found !== undefined) return found;
  const dot = port.lastIndexOf('.');
  const instance = lowering.resolved.instances.get(port.slice(0, dot));
  const name = port.slice(dot + 1);
  if (instance === undefined) return undefined;
  if (channelNamed(instance.flat.text, name) !== undefined) return assembly.find(channelSlotName(instance, name));
  const setting = instance.settings.get(name);
  if (setting === undefined) return undefined;
  const [number] = setting.numbers;
  const node = assembly.graph.setting(port, number ?? 0);
  return assembly.settingSlot(node, 'f64', port.slice(0, dot));
}

function start(design: Design, watch: Watch, findings: Finding[]): Lowering {
  const { resolved, definitions, number } = design;
  const assembly = new Assembly(new HostGraph());
  const across = new Set<number>();
  for (const definition of definitions.all) for (const id of definition.readsAcross) across.add(id);
  const { keep } = watch;
  const hooks = new Map<string, Hook[]>();
  const lowering: Lowering = {
    resolved,
    definitions,
    assembly,
    findings,
    number,
    keeps: (definition: Definition) => {
      const channel = channelNamed(definition.instance.flat.text, definition.name) !== undefined;
      if (across.has(definition.id) && !channel) return true;
      return keep === 'all' || keep.has(`${definition.instance.path}.${definition.name}`);
    },
    hooks,
    files: design.files,
    unit: design.unit,
    states: { slot: -1, offsets: new Map<string, number>() },
    lets: new Map(),
    shapes: new Map(),
    overrun: design.sheet.overrun,
  };
  for (const instance of resolved.instances.values())
    for (const channel of instance.flat.text.channels)
      if (channel.direction === 'in') inputSlot(instance, channel.name, lowering);
  for (const [i, { port, element }] of watch.hooks.entries()) {
    const hook: Hook = {
      mode: assembly.slot(`bench.hook${i}.mode`, 'setting', 'i32'),
      amount: assembly.slot(`bench.hook${i}.amount`, 'setting', 'f64'),
      element,
    };
    const list = hooks.get(port);
    if (list === undefined) hooks.set(port, [hook]);
    else list.push(hook);
  }
  return lowering;
}

/** Adds the exported function `tick`; where the schedule is layered, with a function a task around it. */
function lowerTick(lowering: Lowering, ordered: Ordered, schedule: Sheet['schedule']): void {
  const { assembly } = lowering;
  if (schedule === 'single') {
    const tick = new StageLowering('tick', 'tick', ordered.tick, lowering);
    assembly.add(tick.lower((b) => tick.advanceCounters(b)));
    return;
  }
  const among = new LayeredTasks(lowering.definitions, lowering);
  const tasks = among.tasks.map((task) => {
    const regions = ordered.tick.filter(({ zone }) => zone.every === task.every && zone.phase === task.phase);
    return new StageLowering(functionOf(task), 'tick', regions, lowering, { task, among }).lower((b) =>
      among.after(b, task),
    );
  });
  const { release, rest } = among.functions((every) => beatSlot(assembly, every));
  for (const func of [release, ...tasks, ...rest]) assembly.add(func);
  assembly.layers = among.layers();
}

/** Adds what the bench does around the program's tick; gives the number of continuous states. */
function lowerPlant(lowering: Lowering, ordered: Ordered): number {
  const { assembly } = lowering;
  assembly.slot('bench.tick', 'memory', 'i32', { note: 'ticks since the start' });
  timeSlot(assembly);
  const states = makeStates(lowering);
  assembly.add(new StageLowering('sample', 'sample', ordered.sample, lowering).lower());
  assembly.add(new StageLowering('actuate', 'actuate', ordered.actuate, lowering).lower());
  assembly.add(new StageLowering('flow', 'flow', ordered.flow, { ...lowering, keeps: () => false }).lower());
  return states;
}

/** Makes the slots of all continuous states; gives their number. */
function makeStates(lowering: Lowering): number {
  const offsets = lowering.states.offsets as Map<string, number>;
  const starts: number[] = [];
  for (const instance of lowering.resolved.instances.values())
    for (const memory of instance.flat.text.memories) {
      if (memory.kind !== 'state') continue;
      const signal = instance.signals.get(memory.name);
      const count = (signal?.rows ?? 1) * (signal?.columns ?? 1);
      offsets.set(`${instance.path}.${memory.name}`, starts.length);
      const allowance = lowering.assembly.allowance.of(instance.path);
      if (!allowance.keep(count)) {
        const refusal = allowance.tooMuchKept();
        if (refusal !== undefined)
          lowering.findings.push(textFinding(instance, refusal.id, refusal.facts, memory.at, memory.name));
        continue;
      }
      const quantity = lowerExpression(memory.start, hostScope(instance, lowering));
      const numbers = quantity?.items.map((item) => item.host?.value ?? 0) ?? [];
      for (let i = 0; i < count; i++) starts.push(numbers[numbers.length === 1 ? 0 : i] ?? 0);
    }
  const length = Math.max(1, starts.length);
  lowering.states.slot = lowering.assembly.slot('bench.states', 'memory', 'f64', {
    length,
    start: starts.length === 0 ? [0] : starts,
  });
  lowering.assembly.slot('bench.rates', 'scratch', 'f64', { length });
  return starts.length;
}

/** Sayings stand in no exported program: they are gone through for what there is to say about them. */
function checkSayings(lowering: Lowering): void {
  const sayings = lowering.definitions.all.filter(({ kind }) => kind === 'say');
  for (const stage of ['tick', 'sample', 'actuate'] as const) {
    const definitions = sayings.filter((definition) => definition.stage === stage);
    new StageLowering(`say_${stage}`, stage, [{ zone: BASE_ZONE, definitions }], lowering).lower();
  }
}

/** What blocks need of their settings. */
function checkNeeds(lowering: Lowering): void {
  for (const instance of lowering.resolved.instances.values())
    for (const need of instance.flat.text.needs) {
      const quantity = lowerExpression(need.condition, hostScope(instance, lowering));
      if (quantity?.kind !== 'bool' || quantity.items.every((item) => item.host?.value === 1)) continue;
      lowering.findings.push({
        id: 'need_unmet',
        level: 'error',
        at: { path: instance.path },
        facts: { words: need.words, block: instance.flat.text.name },
      });
    }
}
