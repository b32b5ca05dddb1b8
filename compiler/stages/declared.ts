/** What a block's text declares, by name: texts are long for some, and looked through for every read. */

import type { BlockText, ChannelDeclaration, Equation, MemoryDeclaration } from '../language/syntax.ts';

interface Declared {
  readonly memories: ReadonlyMap<string, MemoryDeclaration>;
  readonly channels: ReadonlyMap<string, ChannelDeclaration>;
  readonly lets: ReadonlyMap<string, Equation>;
}

const known = new WeakMap<BlockText, Declared>();

function declared(text: BlockText): Declared {
  let found = known.get(text);
  if (found === undefined) {
    const lets = text.equations.filter(({ kind }) => kind === 'let');
    found = { memories: byName(text.memories), channels: byName(text.channels), lets: byName(lets) };
    known.set(text, found);
  }
  return found;
}

/** Of several with one name, the first. */
function byName<T extends { readonly name: string }>(items: readonly T[]): ReadonlyMap<string, T> {
  return new Map(items.toReversed().map((item) => [item.name, item]));
}

export function memoryNamed(text: BlockText, name: string): MemoryDeclaration | undefined {
  return declared(text).memories.get(name);
}

export function channelNamed(text: BlockText, name: string): ChannelDeclaration | undefined {
  return declared(text).channels.get(name);
}

/** The equation of a let. */
export function letNamed(text: BlockText, name: string): Equation | undefined {
  return declared(text).lets.get(name);
}
