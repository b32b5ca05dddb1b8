/** Finds what is known of a value of a run by any name it goes by. */

import type { Recorded, RunFacts } from './bench_messages.ts';

const indexes = new WeakMap<RunFacts, ReadonlyMap<string, Recorded>>();

export function factsByName(facts: RunFacts | undefined, name: string): Recorded | undefined {
  if (facts === undefined) return undefined;
  let index = indexes.get(facts);
  if (index === undefined) {
    index = new Map(facts.values.map((value) => [value.name, value]));
    indexes.set(facts, index);
  }
  let at = name;
  for (let depth = 0; depth < 100; depth++) {
    const found = index.get(at);
    if (found !== undefined) return found;
    const next = Object.hasOwn(facts.aliases, at) ? facts.aliases[at] : undefined;
    if (next === undefined) return undefined;
    at = next;
  }
  return undefined;
}
