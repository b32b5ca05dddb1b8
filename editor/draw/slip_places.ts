/** Where slips stand beside their outputs, so that none covers a card, a note or another slip while there is room elsewhere. */
import type { Area } from '../../compiler/picture/marks.ts';

/** An output whose value is shown. */
export interface SlipPort {
  readonly name: string;
  readonly x: number;
  readonly y: number;
  readonly side: 'left' | 'right' | 'top' | 'bottom';
  /** The card it belongs to. */
  readonly card: Area;
}

export interface SlipPlace {
  /** Its lower left corner, or lower right one where `from` is `right`. */
  readonly x: number;
  readonly y: number;
  readonly from: 'left' | 'right';
  /** Without its little trace. */
  readonly narrow: boolean;
}

/** Pixels of a slip with its trace, without it, and from top to bottom; at the scale of the screen. */
const WIDE = 132;
const NARROW = 80;
const HEIGHT = 21;
const GAP = 7;

/** Places for slips of so many paper pixels a screen pixel, each clear of what is `taken` and inside the `view` if it can be. */
export function slipPlaces(
  ports: readonly SlipPort[],
  taken: readonly Area[],
  scale: number,
  view: Area | undefined,
): ReadonlyMap<string, SlipPlace> {
  const found = new Map<string, SlipPlace>();
  const blocked = [...taken];
  for (const port of ports) {
    const ways = waysOf(port, scale);
    const first = ways[0];
    if (first === undefined) continue;
    const clear = ways.filter(({ area }) => !blocked.some((other) => overlaps(area, other)));
    const way = clear.find(({ area }) => view === undefined || holds(view, area)) ?? clear[0] ?? first;
    blocked.push(way.area);
    found.set(port.name, way.place);
  }
  return found;
}

interface Way {
  readonly place: SlipPlace;
  readonly area: Area;
}

/** Where it may stand, the best first: over its line, under it, then over and under its card. */
function waysOf({ x, y, side, card }: SlipPort, scale: number): Way[] {
  const height = HEIGHT * scale;
  const gap = GAP * scale;
  const out = side === 'left' ? -1 : 1;
  const way = (narrow: boolean, at: number, bottom: number, from: 'left' | 'right'): Way => {
    const width = (narrow ? NARROW : WIDE) * scale;
    const left = from === 'left' ? at : at - width;
    return { place: { x: at, y: bottom, from, narrow }, area: { x: left, y: bottom - height, width, height } };
  };
  const outward = out > 0 ? 'left' : 'right';
  const inward = out > 0 ? 'right' : 'left';
  const edge = out > 0 ? card.x + card.width : card.x;
  const beside = [y - 4, y + 4 + height];
  const around = [card.y - 4, card.y + card.height + 4 + height];
  return [false, true].flatMap((narrow) => [
    ...beside.map((bottom) => way(narrow, x + out * gap, bottom, outward)),
    ...around.map((bottom) => way(narrow, edge, bottom, inward)),
  ]);
}

function overlaps(a: Area, b: Area): boolean {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

function holds(outer: Area, inner: Area): boolean {
  return (
    outer.x <= inner.x &&
    outer.y <= inner.y &&
    inner.x + inner.width <= outer.x + outer.width &&
    inner.y + inner.height <= outer.y + outer.height
  );
}
