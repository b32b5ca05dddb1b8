/** Where blocks are found: the sheet's own shelf first, then the library; every text is parsed once. */

import type { Finding, Found } from '../findings.ts';
import { parseBlock } from '../language/parser.ts';
import type { BlockText } from '../language/syntax.ts';
import { entry, type Group, isGroup, type Sheet } from '../sheet/sheet.ts';

/** The library as data: block texts by name, each with the purpose word it stands under and its former texts by their hash. */
export type Library = ReadonlyMap<
  string,
  { readonly text: string; readonly shelf: string; readonly former?: ReadonlyMap<string, string> }
>;

export interface OnShelf {
  readonly text: BlockText | undefined;
  readonly group: Group | undefined;
  readonly shelf: string;
}

const parsed = new Map<string, Found<BlockText>>();
const PARSED_LIMIT = 2000;

/** Parses a block text; the same text is parsed once. */
export function parsedBlock(text: string, name: string): Found<BlockText> {
  const key = `${name}\n${text}`;
  const known = parsed.get(key);
  if (known !== undefined) return known;
  if (parsed.size >= PARSED_LIMIT) parsed.clear();
  const found = parseBlock(text, name);
  parsed.set(key, found);
  return found;
}

export class Shelf {
  private readonly sheet: Sheet;
  private readonly library: Library;

  constructor(sheet: Sheet, library: Library) {
    this.sheet = sheet;
    this.library = library;
  }

  names(): string[] {
    return [...new Set([...Object.keys(this.sheet.shelf), ...this.library.keys()])].sort();
  }

  private parse(name: string): { found: Found<BlockText>; shelf: string } | undefined {
    const own = entry(this.sheet.shelf, name);
    if (typeof own === 'string') return { found: parsedBlock(own, name), shelf: 'mine' };
    const shared = this.library.get(name);
    return shared === undefined ? undefined : { found: parsedBlock(shared.text, name), shelf: shared.shelf };
  }

  /** What stands under a name; a broken text is there with neither text nor group. */
  find(name: string): OnShelf | undefined {
    const own = entry(this.sheet.shelf, name);
    if (own !== undefined && isGroup(own)) return { text: undefined, group: own, shelf: 'mine' };
    const parsed = this.parse(name);
    if (parsed === undefined) return undefined;
    const broken = parsed.found.findings.some((finding) => finding.level === 'error');
    return { text: broken ? undefined : parsed.found.value, group: undefined, shelf: parsed.shelf };
  }

  /** What the parser found in a text. */
  findings(name: string): readonly Finding[] {
    return this.parse(name)?.found.findings ?? [];
  }
}
