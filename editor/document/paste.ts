/** Copy and paste as text: blocks with the lines between them, or a block text of one's own. */
import { parseBlock } from '../../compiler/language/parser.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet, type Point, pointOf, type Sheet } from '../../compiler/sheet/sheet.ts';
import { addFromShelf } from '../draw/adding.ts';
import { meant } from '../draw/draw_commands.ts';
import { passageOf } from '../draw/fitting.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { addBlock, endOf, freshName, groundOf, removeBlocks, wire } from './edits.ts';

/** A piece of a sheet as a small sheet of its own: the blocks, the lines between them, the shelf entries they need. */
export function pieceOf(sheet: Sheet, scope: string, names: readonly string[]): Sheet {
  const place = groundOf(sheet, scope);
  const inside = new Set(names);
  const only = <T>(record: Readonly<Record<string, T>>, keep: (key: string, value: T) => boolean) =>
    Object.fromEntries(Object.entries(record).filter(([key, value]) => keep(key, value)));
  const blocks = only(place?.blocks ?? {}, (name) => inside.has(name));
  return {
    ...blankSheet(),
    blocks,
    wires: only(place?.wires ?? {}, (to, from) => inside.has(endOf(to).block) && inside.has(endOf(from).block)),
    layout: only(place?.layout ?? {}, (name) => inside.has(name)),
    shelf: only(sheet.shelf, (name) => needed(sheet, blocks).has(name)),
  };
}

/** The shelf entries that blocks are made from, directly or through groups. */
function needed(sheet: Sheet, blocks: Sheet['blocks'], found: Set<string> = new Set()): Set<string> {
  for (const { is } of Object.values(blocks)) {
    if (found.has(is)) continue;
    found.add(is);
    const item = Object.hasOwn(sheet.shelf, is) ? sheet.shelf[is] : undefined;
    if (typeof item === 'object') needed(sheet, item.blocks, found);
  }
  return found;
}

/** Puts a piece down under fresh names; gives the names it got. One step. */
export function putPiece(workbench: Workbench, piece: Sheet, at: Point | undefined): string[] {
  const { document, session } = workbench;
  const { scope } = session.getState();
  const sheet = document.sheet();
  const place = groundOf(sheet, scope);
  if (place === undefined) return [];
  const names = new Map<string, string>();
  const taken = (name: string) => Object.hasOwn(place.blocks, name) || [...names.values()].includes(name);
  for (const name of Object.keys(piece.blocks)) names.set(name, freshName(name, taken));
  const points = Object.values(piece.layout).map(pointOf);
  const corner: Point = [Math.min(...points.map(([x]) => x), 1e9), Math.min(...points.map(([, y]) => y), 1e9)];
  const shift: Point = at === undefined ? [40, 40] : [at[0] - corner[0], at[1] - corner[1]];
  const end = (text: string) => `${names.get(endOf(text).block) ?? endOf(text).block}.${endOf(text).port}`;
  const label = names.size === 1 ? `paste ${[...names.values()][0]}` : `paste ${names.size} blocks`;
  document.change(label, `${scope}/${[...names.values()][0] ?? ''}`, (draft) => {
    for (const [name, item] of Object.entries(piece.shelf))
      if (!Object.hasOwn(draft.shelf, name)) draft.shelf[name] = item as (typeof draft.shelf)[string];
    for (const [name, block] of Object.entries(piece.blocks)) {
      const spot = piece.layout[name] ?? [0, 0];
      const [x, y] = pointOf(spot);
      const moved: Point = [x + shift[0], y + shift[1]];
      addBlock(draft, scope, names.get(name) ?? name, block, 'at' in spot ? { ...spot, at: moved } : moved);
    }
    for (const [to, from] of Object.entries(piece.wires)) wire(draft, scope, end(from), end(to));
    return undefined;
  });
  return [...names.values()];
}

export function copySelection(workbench: Workbench): void {
  const names = meant(workbench);
  const piece = pieceOf(workbench.document.sheet(), workbench.session.getState().scope, names);
  void navigator.clipboard.writeText(saveSheet(piece)).then(
    () => say(workbench.session, `Copied ${names.join(', ')}.`),
    () => say(workbench.session, 'The browser does not let this page copy.'),
  );
}

export function cutSelection(workbench: Workbench): void {
  const { document, session } = workbench;
  const { scope } = session.getState();
  const names = meant(workbench);
  copySelection(workbench);
  const sheet = document.sheet();
  document.change(
    `cut ${names.join(', ')}`,
    `${scope}/${names[0]}`,
    (draft) => void removeBlocks(draft, scope, names, (name) => passageOf(sheet, scope, name)),
  );
}

export async function pasteFromClipboard(workbench: Workbench): Promise<void> {
  const text = await navigator.clipboard.readText().catch(() => undefined);
  if (text === undefined) {
    say(workbench.session, 'The browser does not let this page paste.');
    return;
  }
  pasteText(workbench, text);
}

/** What a pasted text becomes: blocks of a sheet, or a block text on the shelf and its first instance. */
export function pasteText(workbench: Workbench, text: string): void {
  const { document, session } = workbench;
  if (/^\s*(#.*\n\s*)*block\s/.test(text)) {
    const name = parseBlock(text).value?.name;
    if (name === undefined) {
      say(session, 'This block text has no name.');
      return;
    }
    const fresh = freshName(name, (one) => Object.hasOwn(document.sheet().shelf, one));
    document.change(`put ${fresh} on the shelf`, '', (sheet) => {
      sheet.shelf[fresh] = text;
      return undefined;
    });
    addFromShelf(workbench, fresh);
    return;
  }
  const { value } = loadSheet(text);
  if (value === undefined) {
    say(session, 'What was copied is neither blocks nor a block text.');
    return;
  }
  const names = putPiece(workbench, value, undefined);
  session.setState({ selection: names, mark: names[0] === undefined ? undefined : { on: 'block', at: names[0] } });
  say(session, `Pasted ${names.join(', ')}.`);
}
