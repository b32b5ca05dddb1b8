/** What stands on the shelf: the library's blocks by purpose, and the sheet's own texts and groups. */
import { library } from '../../blocks/library.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import type { BlockText } from '../../compiler/language/syntax.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { entry } from '../../compiler/sheet/sheet.ts';

/** The purposes, in the order signals flow. */
export const PURPOSES = [
  ['drive', 'Drive'],
  ['sense', 'Sense'],
  ['clean', 'Clean'],
  ['compensate', 'Compensate'],
  ['combine', 'Combine'],
  ['limit', 'Limit'],
  ['decide', 'Decide'],
  ['guard', 'Guard'],
  ['actuate', 'Actuate'],
  ['plant', 'Plant'],
  ['mine', 'Mine'],
] as const;

export interface ShelfItem {
  /** What a block says it `is`. */
  readonly name: string;
  readonly label: string;
  readonly purpose: string;
  /** The purpose it stands under. */
  readonly shelf: string;
}

const parsed = new Map<string, BlockText | undefined>();

/** The block text of that name, the sheet's own before the library's; undefined for a group, or where there is none. */
export function textOf(sheet: Sheet, name: string): BlockText | undefined {
  const own = entry(sheet.shelf, name);
  if (typeof own === 'object') return undefined;
  const text = own ?? library.get(name)?.text;
  if (text === undefined) return undefined;
  const key = `${name}\n${text}`;
  if (!parsed.has(key)) parsed.set(key, parseBlock(text, name).value);
  return parsed.get(key);
}

export function shelfItems(sheet: Sheet): ShelfItem[] {
  const own = Object.entries(sheet.shelf).map(([name, item]) => {
    const text = textOf(sheet, name);
    const about = typeof item === 'string' ? text?.purpose : item.about;
    return { name, label: text?.label ?? plainWords(name), purpose: about ?? 'drawn on this sheet', shelf: 'mine' };
  });
  const theirs = [...library]
    .filter(([name]) => !Object.hasOwn(sheet.shelf, name))
    .map(([name, { shelf }]) => {
      const text = textOf(sheet, name);
      return { name, label: text?.label ?? plainWords(name), purpose: text?.purpose ?? '', shelf };
    });
  return [...theirs, ...own];
}

/** Reads the library's texts one at a time while nothing else is to be done, so that the first look is quick. */
export function readAhead(sheet: Sheet): void {
  const names = [...library.keys()];
  const next = (deadline: IdleDeadline) => {
    do {
      const name = names.shift();
      if (name === undefined) return;
      textOf(sheet, name);
    } while (deadline.timeRemaining() > 4);
    requestIdleCallback(next);
  };
  requestIdleCallback(next);
}

export function plainWords(name: string): string {
  return name.replaceAll('_', ' ');
}
