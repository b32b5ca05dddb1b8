/** What is where on the paper, by a coarse grid: what is in view, and what is under the pointer, at any distance. */
import type { Area } from '../../compiler/picture/marks.ts';
import { areaOfCard, type Placed, type Scene } from './scene.ts';

/** A cell's side, px. */
const CELL = 400;

const grids = new WeakMap<Scene['cards'], ReadonlyMap<string, readonly Placed[]>>();

function gridOf(scene: Scene): ReadonlyMap<string, readonly Placed[]> {
  let grid = grids.get(scene.cards);
  if (grid === undefined) {
    const made = new Map<string, Placed[]>();
    for (const placed of scene.cards.values())
      for (const key of cellsOf(areaOfCard(placed))) {
        const cell = made.get(key);
        if (cell === undefined) made.set(key, [placed]);
        else cell.push(placed);
      }
    grid = made;
    grids.set(scene.cards, grid);
  }
  return grid;
}

function* cellsOf({ x, y, width, height }: Area): Generator<string> {
  for (let column = Math.floor(x / CELL); column <= Math.floor((x + width) / CELL); column++)
    for (let row = Math.floor(y / CELL); row <= Math.floor((y + height) / CELL); row++) yield `${column} ${row}`;
}

/** The cards that touch an area. */
export function cardsIn(scene: Scene, area: Area): Placed[] {
  const grid = gridOf(scene);
  const found = new Set<Placed>();
  for (const key of cellsOf(area))
    for (const placed of grid.get(key) ?? []) if (touches(areaOfCard(placed), area)) found.add(placed);
  return [...found];
}

/** The card at a place. */
export function cardAt(scene: Scene, x: number, y: number): Placed | undefined {
  return cardsIn(scene, { x, y, width: 0, height: 0 })[0];
}

function touches(a: Area, b: Area): boolean {
  return a.x <= b.x + b.width && b.x <= a.x + a.width && a.y <= b.y + b.height && b.y <= a.y + a.height;
}
