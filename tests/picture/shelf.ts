/** Cards of every block on the shelf, with settings and inputs that a sheet might give them. */

import { library } from '../../blocks/library.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import type { BlockText } from '../../compiler/language/syntax.ts';
import type { BlockOnSheet } from '../../compiler/sheet/sheet.ts';

export const texts: ReadonlyMap<string, BlockText> = new Map(
  [...library].flatMap(([name, { text }]) => {
    const block = parseBlock(text, name).value;
    return block === undefined ? [] : [[name, block] as const];
  }),
);

export function textOf(name: string): BlockText | undefined {
  return texts.get(name);
}

/** An instance with three open-ended inputs of the first kinds, where the block has such. */
export function instanceOf(text: BlockText): BlockOnSheet {
  const kinds = text.openInputs.flatMap((open) => (open.kinds.length === 0 ? [''] : open.kinds));
  const inputs = Object.fromEntries(
    ['first', 'second', 'third'].map((name, i) => [name, kinds[i % kinds.length] ?? '']),
  );
  return { is: text.name, ...(kinds.length === 0 ? {} : { inputs }) };
}
