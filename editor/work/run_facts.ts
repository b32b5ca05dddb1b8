/** What the screens need to know of an opened run: its values, settings, nudges, and the blocks that keep something safe. */

import type { Compiled } from '../../compiler/compile.ts';
import { wholePeriods } from '../../compiler/language/quantity.ts';
import type { Expression } from '../../compiler/language/syntax.ts';
import type { Nudge } from '../../compiler/sheet/sheet.ts';
import type { Source } from '../../compiler/stages/expand.ts';
import { findReadable } from '../../compiler/stages/readable.ts';
import type { Instance } from '../../compiler/stages/resolve.ts';
import type { Column } from '../../runtime/bench/bench.ts';
import type { Prepared } from '../../runtime/bench/run.ts';
import type { Adjustable, GateFacts, GateRow, NudgeFacts, Recorded, RunFacts, SayingFacts } from './bench_messages.ts';
import { unitsShown } from './units_shown.ts';

type UnitOf = (path: string, name: string) => string;

/** How far back from a gate's input the sayings of logic are gathered. */
const DEPTH = 6;

export function factsOf({ compiled, bench, ticks, run }: Prepared, name: string | undefined): RunFacts {
  const instances = [...compiled.resolved.instances.values()];
  const recorded = new Set(run?.record ?? []);
  const unit = unitsShown(compiled);
  return {
    run: name,
    tick: compiled.resolved.tick,
    ticks,
    number: compiled.number,
    values: bench.columns.map((column) => recordedOf(column, compiled, unit)),
    aliases: aliasesOf(compiled),
    record: bench.columns.map((column) => column.name).filter((column) => recorded.has(wholeOf(column, recorded))),
    nudges: Object.entries(run?.nudges ?? {}).map(([key, nudge]) => nudgeOf(key, nudge, compiled)),
    settings: instances.flatMap((instance) => adjustables(instance, compiled, unit)),
    gates: instances.flatMap((instance) => gateOf(instance, compiled)),
    order: compiled.schedule.tasks.flatMap(({ every, phase, order }) => order.map((path) => ({ path, every, phase }))),
  };
}

function aliasesOf({ flat }: Compiled): Record<string, string> {
  const name = ({ path, port, element }: Source) => `${path}.${port}${element === undefined ? '' : `[${element}]`}`;
  const aliases: Record<string, string> = {};
  for (const [port, source] of flat.groupOutputs) aliases[port] = name(source);
  for (const { path, wires } of flat.blocks.values())
    for (const [input, source] of wires) aliases[`${path}.${input}`] = name(source);
  return aliases;
}

/** The name a column was asked for by: itself, or the vector it is an element of. */
function wholeOf(column: string, asked: ReadonlySet<string>): string {
  return asked.has(column) ? column : column.replace(/\[\d+\]$/, '');
}

function recordedOf({ name, type }: Column, compiled: Compiled, unit: UnitOf): Recorded {
  const found = findReadable(compiled, name);
  const port = 'port' in found ? found.port : name;
  const dot = port.lastIndexOf('.');
  const instance = compiled.resolved.instances.get(port.slice(0, dot));
  const definition = compiled.definitions.byKey.get(port);
  const isState = instance?.flat.text.memories.some(
    (memory) => memory.kind === 'state' && memory.name === port.slice(dot + 1),
  );
  return {
    name,
    type,
    unit: unit(port.slice(0, dot), port.slice(dot + 1)),
    modes: port.endsWith('.mode') ? (instance?.flat.text.modes ?? []) : [],
    stepped: isState !== true && definition?.stage !== 'flow',
    every: instance?.every ?? 1,
    phase: instance?.phase ?? 0,
  };
}

function adjustables(instance: Instance, compiled: Compiled, unit: UnitOf): Adjustable[] {
  const { path, side, flat, settings } = instance;
  return flat.text.settings.flatMap((declared): Adjustable[] => {
    const own = settings.get(declared.name);
    const [value] = own?.numbers ?? [];
    if (own === undefined || own.numbers.length !== 1 || value === undefined) return [];
    const { from, to, above, below } = declared.bounds;
    return [
      {
        name: `${path}.${declared.name}`,
        about: declared.words ?? '',
        unit: unit(path, declared.name),
        value,
        low: plainNumber(from ?? above, compiled),
        high: plainNumber(to ?? below, compiled),
        kind: own.kind,
        side,
      },
    ];
  });
}

function plainNumber(expression: Expression | undefined, compiled: Compiled): number | undefined {
  if (expression === undefined) return undefined;
  const value = compiled.resolved.values.evaluate(expression, '');
  const [number] = 'id' in value ? [] : value.numbers;
  return number !== undefined && Number.isFinite(number) ? number : undefined;
}

function nudgeOf(name: string, nudge: Nudge, compiled: Compiled): NudgeFacts {
  const { values, tick } = compiled.resolved;
  const at = values.seconds(nudge.at) ?? 0;
  const length = 'port' in nudge && nudge.for !== undefined ? values.seconds(nudge.for) : undefined;
  return {
    name,
    from: wholePeriods(at, tick),
    until: length === undefined ? undefined : wholePeriods(at + length, tick),
    words: nudgeWords(nudge),
  };
}

/** A nudge in a few words: `push + 2.5 N m for 20 ms`. */
export function nudgeWords(nudge: Nudge): string {
  if ('setting' in nudge) return `${nudge.setting} to ${nudge.to}`;
  const what = 'add' in nudge ? `${nudge.port} + ${nudge.add}` : `${nudge.port} to ${truth(nudge.to)}`;
  return nudge.for === undefined ? what : `${what} for ${nudge.for}`;
}

function truth(value: unknown): string {
  return value === true
    ? 'yes'
    : value === false
      ? 'no'
      : value === 'nan'
        ? 'not a number'
        : value === 'held'
          ? 'what it was'
          : String(value);
}

function gateOf(instance: Instance, compiled: Compiled): GateFacts[] {
  const { flat, path } = instance;
  if (!flat.text.guards || flat.inputs.length === 0) return [];
  const rows = flat.inputs.map(({ name, kind }): GateRow => {
    const source = flat.wires.get(name);
    return {
      name,
      kind,
      stops: /trip/.test(kind),
      port: `${path}.${name}`,
      block: source?.path ?? path,
      sayings: source === undefined ? [] : sayingsBefore(source, path, compiled),
    };
  });
  const outputs = flat.text.outputs.map((output) => output.name);
  const live = outputs.includes('enabled') ? `${path}.enabled` : undefined;
  return [{ path, modes: flat.text.modes, live, rows, sayings: sayingsOf(instance, 0) }];
}

/** The sayings of a block and of the logic it reads, the nearest first; not those of who asks, which logic may read too. */
function sayingsBefore(source: Source, asking: string, compiled: Compiled): SayingFacts[] {
  const seen = new Set([asking]);
  const found: SayingFacts[] = [];
  let ring = [source.path];
  for (let depth = 0; depth < DEPTH && ring.length > 0; depth++) {
    const next: string[] = [];
    for (const path of ring) {
      const instance = compiled.resolved.instances.get(path);
      if (instance === undefined || seen.has(path)) continue;
      seen.add(path);
      found.push(...sayingsOf(instance, depth));
      for (const [input, from] of instance.flat.wires)
        if (instance.signals.get(input)?.kind === 'bool') next.push(from.path);
    }
    ring = next;
  }
  return found;
}

function sayingsOf(instance: Instance, depth: number): SayingFacts[] {
  const { path, flat, signals } = instance;
  return flat.text.sayings.map(({ words, left }, i) => {
    const named = [...words.matchAll(/\{(\w+)\}/g)].map((match) => match[1] ?? '');
    return {
      block: path,
      depth,
      when: `${path}.say${i + 1}`,
      words,
      left: left === undefined ? undefined : `${path}.left${i + 1}`,
      names: Object.fromEntries(named.filter((name) => signals.has(name)).map((name) => [name, `${path}.${name}`])),
    };
  });
}
