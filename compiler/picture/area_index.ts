/** Areas sorted into squares of the paper, so that only those near a place are looked at. */

import type { Area } from './marks.ts';

const SQUARE = 256;

export class AreaIndex {
  readonly all: readonly Area[];
  private readonly squares = new Map<number, number[]>();
  /** By area, the number of the question it was last an answer to. */
  private readonly asked: Int32Array;
  private question = 0;

  constructor(areas: readonly Area[]) {
    this.all = areas;
    this.asked = new Int32Array(areas.length);
    areas.forEach((area, i) => {
      for (const key of keysOf(area)) {
        const square = this.squares.get(key);
        if (square === undefined) this.squares.set(key, [i]);
        else square.push(i);
      }
    });
  }

  /** Numbers of the areas that may overlap a place, each once. */
  near(place: Area): number[] {
    const found: number[] = [];
    const question = ++this.question;
    for (const key of keysOf(place))
      for (const i of this.squares.get(key) ?? []) {
        if (this.asked[i] === question) continue;
        this.asked[i] = question;
        found.push(i);
      }
    return found;
  }
}

function keysOf({ x, y, width, height }: Area): number[] {
  const keys: number[] = [];
  for (let j = Math.floor(y / SQUARE); j <= Math.floor((y + height) / SQUARE); j++)
    for (let i = Math.floor(x / SQUARE); i <= Math.floor((x + width) / SQUARE); i++) keys.push(j * 1_000_003 + i);
  return keys;
}
