/** Places for cards that have none yet: in columns, in the order signals flow. */

import type { Point } from './marks.ts';

export interface CardToPlace {
  readonly name: string;
  readonly width: number;
  readonly height: number;
}

const COLUMN_GAP = 100;
const ROW_GAP = 50;

/** `feeds` lists which card feeds which. The first card of a column stands at the `top`, the first column at the `left`. */
export function firstPlaces(
  cards: readonly CardToPlace[],
  feeds: readonly (readonly [from: string, to: string])[],
  left = 0,
  top = 0,
): Record<string, Point> {
  const depth = depths(cards, feeds);
  const columns: CardToPlace[][] = [];
  for (const card of cards) {
    const column = depth.get(card.name) ?? 0;
    while (columns.length <= column) columns.push([]);
    columns[column]?.push(card);
  }
  const places: Record<string, Point> = {};
  let x = left;
  for (const column of columns) {
    let y = top;
    for (const card of column) {
      places[card.name] = { x, y };
      y += Math.ceil((card.height + ROW_GAP) / 10) * 10;
    }
    x += Math.ceil((Math.max(0, ...column.map((card) => card.width)) + COLUMN_GAP) / 20) * 20;
  }
  return places;
}

/** Longest way from a card that nothing feeds; a line back into a card that is being followed does not count. */
function depths(
  cards: readonly CardToPlace[],
  feeds: readonly (readonly [from: string, to: string])[],
): ReadonlyMap<string, number> {
  const before = new Map<string, string[]>(cards.map((card) => [card.name, []]));
  for (const [from, to] of feeds) if (before.has(from)) before.get(to)?.push(from);
  const known = new Map<string, number>();
  const open = new Set<string>();
  const visit = (name: string): number => {
    const done = known.get(name);
    if (done !== undefined) return done;
    open.add(name);
    let depth = 0;
    for (const from of before.get(name) ?? []) if (!open.has(from)) depth = Math.max(depth, visit(from) + 1);
    open.delete(name);
    known.set(name, depth);
    return depth;
  };
  for (const card of cards) visit(card.name);
  return known;
}
