/** Finds what a name in a run means: a port, memory, state or setting, of a block or of a group. */

import { nearestNames } from '../findings.ts';
import type { Compiled } from './compiled.ts';
import { parsePort } from './expand.ts';
import type { Signal } from './resolve.ts';

/** One readable thing: the definition's own name, with one element of it or all. */
export interface Readable {
  /** `path.name` of what holds the value. */
  readonly port: string;
  readonly signal: Signal;
  /** Element from 0; undefined for the whole. */
  readonly element: number | undefined;
  readonly unit: string;
}

/** What a name stands for; undefined with the nearest names when it is none. */
export function findReadable(compiled: Compiled, text: string): Readable | { readonly nearest: readonly string[] } {
  const parsed = parsePort(text);
  if (parsed?.block === undefined) return { nearest: [] };
  const { instances } = compiled.resolved;
  let { block: path, port: name, element } = parsed;
  for (let depth = 0; depth < 1000; depth++) {
    const source = compiled.flat.groupOutputs.get(`${path}.${name}`) ?? instances.get(path)?.flat.wires.get(name);
    if (source === undefined) break;
    path = source.path;
    name = source.port;
    element = source.element ?? element;
  }
  const instance = instances.get(path);
  if (instance === undefined)
    return {
      nearest: nearestNames(
        text,
        [...instances.keys()].map((known) => `${known}.${name}`),
      ),
    };
  const definition = compiled.definitions.byKey.get(`${path}.${name}`);
  const isSaying = /^(say|left)\d+$/.test(name);
  const signal =
    instance.signals.get(name) ??
    (definition === undefined
      ? undefined
      : ({ kind: isSaying && name.startsWith('say') ? 'bool' : 'real', rows: 1, columns: 1 } satisfies Signal));
  const size = signal === undefined ? 0 : signal.rows * signal.columns;
  if (signal === undefined || (element !== undefined && element > size))
    return { nearest: nearestNames(name, instance.signals.keys()).map((known) => `${path}.${known}`) };
  return {
    port: `${path}.${name}`,
    signal,
    element: element === undefined ? undefined : element - 1,
    unit: compiled.unit(path, name),
  };
}

/** Every value a run can record, block by block: outputs, unwired inputs, memories, states, the mode, sayings. */
export function everyName(compiled: Compiled): string[] {
  const names: string[] = [];
  for (const { path, signals, settings, flat } of compiled.resolved.instances.values()) {
    const lines = new Set(flat.text.memories.flatMap((memory) => (memory.kind === 'line' ? [memory.name] : [])));
    for (const name of signals.keys())
      if (!settings.has(name) && !flat.wires.has(name) && !lines.has(name)) names.push(`${path}.${name}`);
    for (const [i, saying] of flat.text.sayings.entries())
      names.push(`${path}.say${i + 1}`, ...(saying.left === undefined ? [] : [`${path}.left${i + 1}`]));
  }
  return names;
}
