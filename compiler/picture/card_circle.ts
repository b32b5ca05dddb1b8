/** A summing point: a circle with up to three inputs, each with its sign beside the line that enters. */

import type { Card, CardDescription, CardPort, PortSide } from './card_size.ts';
import type { Mark, TextMark } from './marks.ts';

/** The circle is 28 px wide in a square of 40, so that its middle is on the grid and the signs have room. */
const SQUARE = 40;
const RADIUS = 14;
const MIDDLE = SQUARE / 2;

const places: Readonly<Record<PortSide, { readonly x: number; readonly y: number }>> = {
  left: { x: MIDDLE - RADIUS, y: MIDDLE },
  right: { x: MIDDLE + RADIUS, y: MIDDLE },
  top: { x: MIDDLE, y: MIDDLE - RADIUS },
  bottom: { x: MIDDLE, y: MIDDLE + RADIUS },
};

export function layoutCircle(description: CardDescription): Card {
  const front: PortSide = description.flip ? 'right' : 'left';
  const back: PortSide = description.flip ? 'left' : 'right';
  const sides = inputSides(description, front);
  const inputs = description.inputs.map((input, i): CardPort => {
    const side = sides[i] ?? front;
    const { optional, ...port } = input;
    return { ...port, optional, direction: 'in', side, ...places[side] };
  });
  const outputs = description.outputs.map(
    (output): CardPort => ({
      ...output,
      direction: 'out',
      side: back,
      ...places[back],
    }),
  );
  const outline = circlePath(MIDDLE, MIDDLE, RADIUS);
  const shape: Mark[] = [{ shape: 'path', role: 'card', d: outline }];
  const signs = inputs.map((port) => sign(port, description.flip)).filter((mark) => mark !== undefined);
  return {
    width: SQUARE,
    height: SQUARE,
    ports: [...inputs, ...outputs],
    marks: [...shape, ...signs],
    middle: [...shape, ...signs],
    fields: [],
    rows: [],
    bar: undefined,
    state: { x: 0, y: SQUARE, width: SQUARE, height: 16 },
    plot: undefined,
    outline,
    obstacle: { x: 0, y: 0, width: SQUARE, height: SQUARE },
    ground: description.ground === 'none' ? undefined : { x: 0, y: 0, width: SQUARE, height: SQUARE },
    spoken: `${description.name}: ${description.inputs.map((input) => `${signSaid(input.sign)} ${input.name}`).join(', ')}`,
  };
}

/** The first input that is added enters in front; the others from below, then from above. */
function inputSides(description: CardDescription, front: PortSide): PortSide[] {
  const main = Math.max(
    0,
    description.inputs.findIndex((input) => input.sign !== '-' && input.sign !== '/'),
  );
  const others: PortSide[] = ['bottom', 'top'];
  return description.inputs.map((_, i) => (i === main ? front : (others.shift() ?? front)));
}

const SIGN_SIZE = 13;
/** From the corner of the square to the middle of a sign: clear of circle and arrowhead. */
const SIGN_X = 3;
const SIGN_Y = 9;

/** A sign beside the line that enters: above a level one, behind one from below, ahead of one from above. */
function sign(port: CardPort, flip: boolean): TextMark | undefined {
  if (port.sign === undefined) return undefined;
  const behind = flip ? SQUARE - SIGN_Y : SIGN_Y;
  const { x, y } = {
    left: { x: SIGN_X, y: SIGN_Y },
    right: { x: SQUARE - SIGN_X, y: SIGN_Y },
    bottom: { x: behind, y: SQUARE - SIGN_X + 1 },
    top: { x: SQUARE - behind, y: SIGN_X },
  }[port.side];
  const middle = 0.27 * SIGN_SIZE;
  const text = printedSign(port.sign);
  return { shape: 'text', role: 'sign', x, y: y + middle, size: SIGN_SIZE, text, face: 'upright', anchor: 'middle' };
}

/** A kind of input as it is printed: the minus and the times of the font. */
export function printedSign(kind: string): string {
  return kind === '-' ? '−' : kind === '*' ? '×' : kind === '/' ? '÷' : kind;
}

function signSaid(kind: string | undefined): string {
  return kind === '-' ? 'minus' : kind === '+' ? 'plus' : kind === '*' ? 'times' : kind === '/' ? 'over' : (kind ?? '');
}

function circlePath(x: number, y: number, radius: number): string {
  return `M${x - radius} ${y}a${radius} ${radius} 0 1 1 ${2 * radius} 0a${radius} ${radius} 0 1 1 ${-2 * radius} 0z`;
}
