/** The ports of a group, drawn in it as flags at the edges of the paper: inputs on the left, outputs on the right. */

import type { Card, PortDescription } from './card_size.ts';
import type { Mark, Point } from './marks.ts';
import { textWidth } from './metrics.ts';

const HEIGHT = 40;
const FACE = 24;
const POINT = 10;
const TEXT_SIZE = 13;
/** From the outermost cards to the flags, and from flag to flag. */
const ASIDE = 100;
const PITCH = 40;

/** A flag for a group's port; inside the group its input is a source, its output takes something. */
export function layoutFlag(port: PortDescription, direction: 'in' | 'out'): Card {
  const width = Math.ceil((textWidth(port.name, TEXT_SIZE, 'bold') + POINT + 22) / 20) * 20;
  const top = (HEIGHT - FACE) / 2;
  const outline = `M0 ${top}H${width - POINT}L${width} ${HEIGHT / 2}L${width - POINT} ${top + FACE}H0z`;
  const marks: Mark[] = [
    { shape: 'path', role: 'card', d: outline },
    {
      shape: 'text',
      role: 'name',
      x: (width - POINT) / 2 + 2,
      y: HEIGHT / 2 + 4.5,
      size: TEXT_SIZE,
      text: port.name,
      face: 'bold',
      anchor: 'middle',
    },
  ];
  const isSource = direction === 'in';
  return {
    width,
    height: HEIGHT,
    ports: [
      {
        ...port,
        direction: isSource ? 'out' : 'in',
        side: isSource ? 'right' : 'left',
        x: isSource ? width : 0,
        y: HEIGHT / 2,
      },
    ],
    marks,
    middle: marks,
    fields: [],
    rows: [],
    bar: undefined,
    state: { x: 0, y: HEIGHT, width, height: 16 },
    plot: undefined,
    outline,
    obstacle: { x: 0, y: 0, width, height: HEIGHT },
    ground: undefined,
    spoken: direction === 'in' ? 'input of the group' : 'output of the group',
  };
}

export interface FlagToPlace {
  readonly name: string;
  readonly direction: 'in' | 'out';
  readonly width: number;
  /** Heights of the ports it is joined to. */
  readonly levels: readonly number[];
}

/** Places beside the cards, each flag level with the first port it is joined to, as far as there is room. */
export function flagPlaces(
  flags: readonly FlagToPlace[],
  left: number,
  right: number,
  top: number,
): Record<string, Point> {
  const places: Record<string, Point> = {};
  for (const direction of ['in', 'out'] as const) {
    const column = flags
      .filter((flag) => flag.direction === direction)
      .map((flag) => ({ flag, level: Math.min(...flag.levels) }))
      .sort((a, b) => a.level - b.level || (a.flag.name < b.flag.name ? -1 : 1));
    let free = -Infinity;
    for (const { flag, level } of column) {
      const wanted = Number.isFinite(level) ? level - HEIGHT / 2 : Math.max(free, top);
      const y = Math.max(free, wanted);
      places[flag.name] = { x: direction === 'in' ? left - ASIDE - flag.width : right + ASIDE, y };
      free = y + PITCH;
    }
  }
  return places;
}
