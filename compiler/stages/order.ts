/** Fourth stage: an order in which every definition comes after what it reads, kept together by rate and by block. */

import type { Finding, Repair } from '../findings.ts';
import type { Definition, Definitions } from './definitions.ts';
import { ReadyQueue } from './ready.ts';
import { taskOf, tasksOf } from './tasks.ts';

/** Blocks that run on the same ticks under the same conditions. */
export interface Zone {
  readonly key: string;
  readonly every: number;
  readonly phase: number;
  /** `path.port` of what must be true, outermost first. */
  readonly when: readonly string[];
}

export const BASE_ZONE: Zone = { key: '1:0:', every: 1, phase: 0, when: [] };

/** Which ticks a zone runs on, in words. */
export function zoneWords(zone: Zone): string {
  const ticks = zone.every === 1 ? '' : `every ${zone.every} ticks${zone.phase === 0 ? '' : `, phase ${zone.phase}`}`;
  const when = zone.when.length === 0 ? '' : `while ${zone.when.join(' and ')}`;
  return [ticks, when].filter((part) => part !== '').join(', ');
}

export function zoneOf(definition: Definition): Zone {
  const { instance, stage } = definition;
  if (stage === 'flow' || (instance.every === 1 && instance.flat.when.length === 0)) return BASE_ZONE;
  const when = instance.flat.when.map((source) => `${source.path}.${source.port}`);
  return {
    key: `${instance.every}:${instance.phase}:${when.join()}`,
    every: instance.every,
    phase: instance.phase,
    when,
  };
}

/** A stretch of one zone in the order of a tick. */
export interface Region {
  readonly zone: Zone;
  readonly definitions: readonly Definition[];
}

/** The order of the tick: all that is due together, or where the schedule is layered, task after task. */
export function orderTick(
  definitions: Definitions,
  chosen: (definition: Definition) => boolean,
  schedule: 'single' | 'layered',
  findings: Finding[],
): Region[] | undefined {
  if (schedule === 'single') return order(definitions, chosen, findings);
  const regions: Region[] = [];
  for (const task of tasksOf(definitions.all.filter(chosen))) {
    const own = order(definitions, (d) => chosen(d) && taskOf(d).key === task.key, findings);
    if (own === undefined) return undefined;
    regions.push(...own);
  }
  return regions;
}

/** Orders some of the definitions; undefined when some read each other in a circle (a finding names every block). */
export function order(
  definitions: Definitions,
  chosen: (definition: Definition) => boolean,
  findings: Finding[],
): Region[] | undefined {
  const members = definitions.all.filter(chosen);
  /** By id: how many of those it reads are still to come; −1 for what is not ordered here. */
  const waiting = new Int32Array(definitions.all.length).fill(-1);
  for (const { id } of members) waiting[id] = 0;
  const readers: Definition[][] = [];
  /** Memories that wait for nothing: each is placed right before the first that reads it. */
  const lazy = new Map(members.filter(isLazy).map((definition) => [definition.id, definition]));
  const queue = new ReadyQueue(
    members.filter((definition) => !lazy.has(definition.id)),
    zoneOf,
  );
  const lastReader = new Int32Array(definitions.all.length).fill(-1);
  for (const definition of members)
    for (const id of definition.reads) {
      if (waiting[id] === -1 || lastReader[id] === definition.id || lazy.has(id)) continue;
      lastReader[id] = definition.id;
      waiting[definition.id] = (waiting[definition.id] ?? 0) + 1;
      const source = definitions.all[id];
      if (source !== undefined) queue.wait(definition, source);
      const list = readers[id];
      if (list === undefined) readers[id] = [definition];
      else list.push(definition);
    }
  for (const definition of members) if (waiting[definition.id] === 0 && !lazy.has(definition.id)) queue.add(definition);
  const regions: { zone: Zone; definitions: Definition[] }[] = [];
  let done = 0;
  const place = (definition: Definition): void => {
    done++;
    const zone = zoneOf(definition);
    const last = regions.at(-1);
    if (last?.zone.key === zone.key) last.definitions.push(definition);
    else regions.push({ zone, definitions: [definition] });
  };
  for (let next = queue.take(undefined); next !== undefined; next = queue.take(next)) {
    for (const id of next.reads) {
      const memory = lazy.get(id);
      if (memory === undefined) continue;
      lazy.delete(id);
      place(memory);
    }
    place(next);
    for (const reader of readers[next.id] ?? []) {
      queue.come(reader, next);
      const left = (waiting[reader.id] ?? 0) - 1;
      waiting[reader.id] = left;
      if (left === 0) queue.add(reader);
    }
  }
  if (done + lazy.size === members.length) {
    for (const memory of lazy.values()) place(memory);
    return regions;
  }
  reportLoops(members, waiting, findings);
  return undefined;
}

function isLazy(definition: Definition): boolean {
  return definition.kind === 'memory' && definition.reads.length === 0;
}

/** One finding for each circle: the blocks on it in the order signals flow. */
function reportLoops(members: readonly Definition[], waiting: Int32Array, findings: Finding[]): void {
  const stuck = new Map(members.filter((d) => (waiting[d.id] ?? 0) > 0).map((d) => [d.id, d]));
  const reported = new Set<string>();
  const settled = new Set<number>();
  for (const start of stuck.values()) {
    const trail: Definition[] = [];
    const position = new Map<number, number>();
    let current: Definition | undefined = start;
    while (current !== undefined && !settled.has(current.id)) {
      const seen = position.get(current.id);
      if (seen !== undefined) {
        reportLoop(trail.slice(seen).reverse(), reported, findings);
        break;
      }
      position.set(current.id, trail.length);
      trail.push(current);
      const back: number | undefined = current.reads.find((id) => stuck.has(id) && !settled.has(id));
      current = back === undefined ? undefined : stuck.get(back);
    }
    for (const definition of trail) settled.add(definition.id);
  }
}

function reportLoop(circle: readonly Definition[], reported: Set<string>, findings: Finding[]): void {
  const paths = [...new Set(circle.map((definition) => definition.instance.path))];
  const key = [...paths].sort().join();
  const [first] = paths;
  if (first === undefined || reported.has(key)) return;
  reported.add(key);
  const repair = delayOne(circle);
  findings.push({
    id: 'loop_without_memory',
    level: 'error',
    at: { path: first },
    facts: { blocks: paths.join(' → '), names: circle.map((d) => `${d.instance.path}.${d.name}`).join(', ') },
    notes: paths.slice(1).map((path) => ({ at: { path }, text: 'is on this loop' })),
    ...(repair === undefined ? {} : { repair }),
  });
}

/** Puts a tick delay on the first wire of a circle that joins two blocks of one sheet or group. */
function delayOne(circle: readonly Definition[]): Repair | undefined {
  for (const [i, definition] of circle.entries()) {
    const before = circle.at(i - 1);
    const { flat } = definition.instance;
    if (before === undefined || before.instance === definition.instance) continue;
    const scope = scopeOf(flat.path);
    if (scopeOf(before.instance.path) !== scope) continue;
    for (const [input, source] of flat.wires) {
      if (source.path !== before.instance.path || source.port !== before.name || source.element !== undefined) continue;
      const own = flat.keys.at(-1) ?? '';
      const keys = flat.keys.slice(0, -2);
      const delay = `${own}_${input}_before`;
      return {
        label: `Delay ${own}.${input} by a tick`,
        edits: [
          { path: [...keys, 'blocks', delay], value: { is: 'tick_delay' } },
          { path: [...keys, 'wires', `${delay}.u`], value: `${source.path.slice(scope.length)}.${source.port}` },
          { path: [...keys, 'wires', `${own}.${input}`], value: `${delay}.y` },
        ],
      };
    }
  }
  return undefined;
}

/** The group a path stands in, with a dot at its end; empty for the sheet. */
function scopeOf(path: string): string {
  return path.slice(0, path.lastIndexOf('.') + 1);
}
