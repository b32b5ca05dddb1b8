/** What lies between two places of a sheet: the equations that carry a change from one to the other. */

import type { Compiled } from '../stages/compiled.ts';
import { type Definition, keyOf, reading, readNames } from '../stages/definitions.ts';
import type { Cut, Place } from './sheet_request.ts';

/**
 * The definitions on any way from some ports to others, with what is cut left out. True and false carry no change, nor does a mode.
 * A port as a beginning means what reads it.
 */
export function between(
  compiled: Compiled,
  from: readonly Place[],
  to: readonly Place[],
  cuts: readonly Cut[],
): ReadonlySet<Definition> {
  const { all, byKey } = compiled.definitions;
  const open = new Set(cuts.flatMap(({ readers }) => readers.map(({ port }) => port)));
  const begins = new Set(from.map(({ port }) => port));
  const readers = new Map<Definition, Definition[]>();
  const sources = new Map<Definition, Definition[]>();
  const first = new Set<Definition>();
  const join = (source: Definition, reader: Definition): void => {
    if (!carries(source)) return;
    push(readers, source, reader);
    push(sources, reader, source);
  };
  for (const definition of all) {
    const { instance, kind, name } = definition;
    if (kind === 'commit') continue;
    if (kind === 'memory') {
      const next = byKey.get(keyOf(instance.path, 'next', name));
      if (next !== undefined) join(next, definition);
    }
    for (const read of readNames(definition)) {
      const port = `${instance.path}.${read}`;
      if (begins.has(port) && byKey.get(port) !== definition) first.add(definition);
      if (open.has(port)) continue;
      const rate = byKey.get(keyOf(instance.path, 'rate', read));
      if (rate !== undefined) join(rate, definition);
      const found = reading(instance, read, byKey)?.definition;
      if (found !== undefined && found !== definition) join(found, definition);
    }
  }
  for (const port of begins) {
    const source = byKey.get(port);
    for (const reader of source === undefined ? [] : (readers.get(source) ?? [])) first.add(reader);
  }
  const last = to.flatMap(({ port }) => {
    const dot = port.lastIndexOf('.');
    return byKey.get(port) ?? byKey.get(keyOf(port.slice(0, dot), 'rate', port.slice(dot + 1))) ?? [];
  });
  const ahead = reach(first, readers);
  const behind = reach(new Set(last), sources);
  return new Set([...ahead].filter((definition) => behind.has(definition)));
}

function carries({ instance, name, kind }: Definition): boolean {
  return kind !== 'mode' && kind !== 'say' && instance.signals.get(name)?.kind !== 'bool';
}

function push(lists: Map<Definition, Definition[]>, key: Definition, value: Definition): void {
  const list = lists.get(key);
  if (list === undefined) lists.set(key, [value]);
  else list.push(value);
}

function reach(from: ReadonlySet<Definition>, next: ReadonlyMap<Definition, readonly Definition[]>): Set<Definition> {
  const found = new Set(from);
  for (const definition of found) for (const other of next.get(definition) ?? []) found.add(other);
  return found;
}
