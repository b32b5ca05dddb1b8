/** A card proper: a tab with its name, the law in the body, ports at the sides, optional inputs and the comb below. */

import { layoutBody } from './card_body.ts';
import { printedSign } from './card_circle.ts';
import type { Card, CardDescription, CardPort, CardRow, PortDescription, PortSide } from './card_size.ts';
import { layoutComb } from './comb.ts';
import type { Area, Mark } from './marks.ts';
import { fitText, textWidth } from './metrics.ts';
import { equationSpoken } from './spoken.ts';

export const TAB_HEIGHT = 20;
const NAME_SIZE = 13;
const KIND_SIZE = 12;
const PORT_SIZE = 11.5;
/** Where the first input and the first output of every card are: cards in a row have their main line straight. */
const MAIN_LINE = 50;
/** From port to port. */
const PITCH = 20;
/** At middle distance the name is larger, to be read from afar: the first of these sizes that fits. */
const MIDDLE_NAME_SIZES = [24, 22, 20, 18] as const;
/** Height of the strip along the lower edge for the comb and the names of optional inputs. */
const STRIP = 15;
const PADDING = 12;
const ROW_BOX = 9;
/** Below a card that is entered from below. */
const ARROW_ROOM = 10;
/** A gate's card has room for its sayings. */
const GATE_WIDTH = 240;

export function layoutRectangle(description: CardDescription): Card {
  const { flip } = description;
  const front: PortSide = flip ? 'right' : 'left';
  const back: PortSide = flip ? 'left' : 'right';
  const below = optionalBelow(description);
  const inputs = description.inputs.filter((input) => !below.includes(input));
  const inputColumn = labelColumn(inputs, description);
  const outputColumn = labelColumn(description.outputs, description);
  const body = layoutBody(description);

  const width = cardWidth(description, below, inputColumn + body.width + outputColumn);
  const portY = (index: number) => MAIN_LINE + index * PITCH;
  const lastPort = portY(Math.max(inputs.length, description.outputs.length, 1) - 1);
  const middle = description.guards ? lastPort + 16 + body.above : (MAIN_LINE + lastPort) / 2;
  const axis = Math.max(upTo10(TAB_HEIGHT + 7 + body.above), middle);
  const strip = description.comb !== undefined || below.length > 0 ? STRIP : 0;
  const height = upTo10(Math.max(axis + body.below + 9, lastPort + 14, 80 - strip) + strip);

  const atSide = (port: PortDescription, direction: 'in' | 'out', side: PortSide, y: number): CardPort => ({
    ...port,
    direction,
    side,
    x: side === 'left' ? 0 : width,
    y,
  });
  const ports = [
    ...inputs.map((port, i) => atSide(port, 'in', front, portY(i))),
    ...belowPlaces(below, width).map(
      ({ port, x }): CardPort => ({ ...port, direction: 'in', side: 'bottom', x, y: height }),
    ),
    ...description.outputs.map((port, i) => atSide(port, 'out', back, portY(i))),
  ];

  const leftColumn = flip ? outputColumn : inputColumn;
  const rightColumn = flip ? inputColumn : outputColumn;
  const bodyX = leftColumn + (width - leftColumn - rightColumn - body.width) / 2;
  const placedBody = body.place(bodyX, axis);
  const ground = groundArea(description, width, height);
  const outline = outlinePath(tabWidth(description), width, height);
  const silhouette: Mark[] = [
    { shape: 'path', role: 'card', d: outline },
    ...(ground === undefined || description.ground === 'all'
      ? []
      : [
          {
            shape: 'path',
            role: 'plant_half',
            d: rectangle(
              ground.x + (ground.x === 0 ? 0.75 : 0),
              ground.y + 0.75,
              ground.width - 0.75,
              ground.height - 1.5,
            ),
          } as const,
        ]),
  ];
  const rows = rowPlaces(description, ports, width, leftColumn, rightColumn);
  const bar = barPlace(description, ports, leftColumn, rightColumn, width);
  const name: Mark = {
    shape: 'text',
    role: 'name',
    x: 8,
    y: 15,
    size: NAME_SIZE,
    text: description.name,
    face: 'bold',
    anchor: 'start',
  };
  const comb = description.comb;
  const middleSize =
    MIDDLE_NAME_SIZES.find((size) => textWidth(description.name, size, 'bold') <= width - 30) ?? MIDDLE_NAME_SIZES[3];
  const middleName = fitText(description.name, width - 30, middleSize, 'bold');
  const middleTab = 14 + Math.ceil(textWidth(middleName, middleSize, 'bold'));

  return {
    width,
    height,
    ports,
    marks: [
      ...silhouette,
      name,
      ...kindMark(description),
      ...placedBody.marks,
      ...ports.flatMap((port) => labelMark(port, description, width, height)),
      ...rows.map((row): Mark => ({ shape: 'path', role: 'row_box', d: rowBox(row) })),
      ...(bar === undefined ? [] : barMarks(bar)),
      ...(comb === undefined
        ? []
        : layoutComb(comb.every, comb.phase, 8, height - 1, { pitch: 6, height: 7, numbered: true }).marks),
    ],
    middle: [
      ...silhouette.map((mark) =>
        mark.role === 'card' ? { ...mark, d: outlinePath(middleTab, width, height) } : mark,
      ),
      { ...name, size: middleSize, y: 18, text: middleName },
      ...(bar === undefined ? body.head(0, width, TAB_HEIGHT, height - strip) : barMarks(bar)),
      ...(comb === undefined || comb.every === 1 ? [] : oneTooth(comb.every, height)),
    ],
    fields: placedBody.fields,
    rows,
    bar,
    state: { x: 0, y: height + 2, width, height: 16 },
    plot: placedBody.plot,
    outline,
    obstacle: { x: 0, y: 0, width, height: height + (below.length > 0 ? ARROW_ROOM : 0) },
    ground,
    spoken: description.law.map((equation) => equationSpoken(equation, description.values)).join('; '),
  };
}

function upTo10(value: number): number {
  return Math.ceil(value / 10) * 10;
}

/** Optional inputs enter from below, if they are few and something else enters in front. */
function optionalBelow(description: CardDescription): PortDescription[] {
  if (description.guards || description.rows.length > 0) return [];
  const optional = description.inputs.filter((input) => input.optional);
  return optional.length <= 3 && optional.length < description.inputs.length ? optional : [];
}

/** Where the kind begins after the name. */
function kindX(name: string): number {
  return 8 + Math.ceil(textWidth(name, NAME_SIZE, 'bold')) + 8;
}

/** Up to where the tab's upper edge slants down. */
function tabWidth(description: CardDescription): number {
  const kind = kindText(description);
  const name = 14 + Math.ceil(textWidth(description.name, NAME_SIZE, 'bold'));
  return kind === '' ? name : kindX(description.name) + Math.ceil(textWidth(kind, KIND_SIZE, 'italic')) + 6;
}

/** Whether the ports of a side say their names. */
function isLabelled(ports: readonly PortDescription[], description: CardDescription): boolean {
  return (
    ports.length > 1 ||
    (description.guards && ports.length > 0) ||
    ports.some((port) => port.sign !== undefined && port.sign !== '+')
  );
}

function portText(port: PortDescription): string {
  return port.sign === undefined ? port.name : `${printedSign(port.sign)} ${port.name}`;
}

function labelColumn(ports: readonly PortDescription[], description: CardDescription): number {
  if (!isLabelled(ports, description)) return PADDING;
  const boxes = ports.some((port) => isRow(port.name, description)) ? ROW_BOX + 6 : 0;
  return 6 + boxes + Math.max(...ports.map((port) => textWidth(portText(port), PORT_SIZE))) + PADDING;
}

function isRow(port: string, description: CardDescription): boolean {
  return description.rows.some((row) => row.port === port);
}

function cardWidth(description: CardDescription, below: readonly PortDescription[], inside: number): number {
  const header = tabWidth(description) + 16;
  const comb =
    description.comb === undefined
      ? 0
      : 8 + layoutComb(description.comb.every, 0, 0, 0, { pitch: 6, height: 7, numbered: true }).width;
  const names = below.reduce((sum, port) => sum + belowWidth(port), 0);
  const least = description.guards ? GATE_WIDTH : 80;
  return Math.ceil(Math.max(inside, header, comb + names + 12, least) / 20) * 20;
}

function belowWidth(port: PortDescription): number {
  return Math.ceil((textWidth(port.name, PORT_SIZE) + 12) / 10) * 10;
}

/** Optional inputs from the right end of the lower edge. */
function belowPlaces(below: readonly PortDescription[], width: number): { port: PortDescription; x: number }[] {
  let right = width - 4;
  const places = [...below].reverse().map((port) => {
    const own = belowWidth(port);
    const x = Math.floor((right - own / 2) / 10) * 10;
    right = x - own / 2;
    return { port, x };
  });
  return places.reverse();
}

/** What the card is, unless its name says so. */
function kindText(description: CardDescription): string {
  const plain = (text: string) =>
    text
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, ' ')
      .trim();
  return plain(description.kind) === plain(description.name) ? '' : description.kind;
}

function kindMark(description: CardDescription): Mark[] {
  const text = kindText(description);
  if (text === '') return [];
  const x = kindX(description.name);
  return [{ shape: 'text', role: 'kind', x, y: 15, size: KIND_SIZE, text, face: 'italic', anchor: 'start' }];
}

function labelMark(port: CardPort, description: CardDescription, width: number, height: number): Mark[] {
  const text = portText(port);
  const label = { shape: 'text', size: PORT_SIZE, face: 'upright' } as const;
  if (port.side === 'bottom') return [{ ...label, role: 'port', x: port.x, y: height - 5, text, anchor: 'middle' }];
  const list =
    port.direction === 'in'
      ? description.inputs.filter((input) => !optionalBelow(description).includes(input))
      : description.outputs;
  if (!isLabelled(list, description)) return [];
  const row = isRow(port.name, description);
  const inset = 6 + (port.direction === 'in' && list.some((each) => isRow(each.name, description)) ? ROW_BOX + 6 : 0);
  const left = port.side === 'left';
  return [
    {
      ...label,
      role: row ? 'row' : 'port',
      x: left ? inset : width - inset,
      y: port.y + 4,
      text,
      anchor: left ? 'start' : 'end',
    },
  ];
}

function rowPlaces(
  description: CardDescription,
  ports: readonly CardPort[],
  width: number,
  leftColumn: number,
  rightColumn: number,
): CardRow[] {
  return description.rows.flatMap((row) => {
    const port = ports.find((each) => each.direction === 'in' && each.name === row.port);
    if (port === undefined) return [];
    const x = port.side === 'left' ? 6 : width - 6 - ROW_BOX;
    const box = { x, y: port.y - ROW_BOX / 2, width: ROW_BOX, height: ROW_BOX };
    const words = { x: leftColumn, y: port.y - 8, width: width - leftColumn - rightColumn, height: 16 };
    return [{ ...row, box, words }];
  });
}

/** A square for a reason, a diamond for a trip. */
function rowBox(row: CardRow): string {
  const { x, y, width } = row.box;
  if (row.role === 'reason') return rectangle(x, y, width, width);
  const half = width / 2;
  return `M${x} ${y + half}l${half} ${-half}l${half} ${half}l${-half} ${half}z`;
}

function barPlace(
  description: CardDescription,
  ports: readonly CardPort[],
  leftColumn: number,
  rightColumn: number,
  width: number,
): Card['bar'] {
  if (!description.guards) return undefined;
  const port = ports.find((each) => each.direction === 'in' && each.side !== 'bottom');
  if (port === undefined) return undefined;
  return { from: { x: leftColumn, y: port.y }, to: { x: width - rightColumn, y: port.y } };
}

function barMarks(bar: NonNullable<Card['bar']>): Mark[] {
  const middle = (bar.from.x + bar.to.x) / 2;
  const { y } = bar.from;
  return [
    { shape: 'path', role: 'bar_line', d: `M${bar.from.x} ${y}H${bar.to.x}` },
    { shape: 'path', role: 'bar', d: `M${middle - 5} ${y + 9}L${middle + 5} ${y - 9}` },
  ];
}

function oneTooth(every: number, height: number): Mark[] {
  return [
    { shape: 'path', role: 'tooth', d: `M8 ${height - 1}v-10h6v10z` },
    {
      shape: 'text',
      role: 'comb',
      x: 18,
      y: height - 3,
      size: 16,
      text: String(every),
      face: 'upright',
      anchor: 'start',
    },
  ];
}

function groundArea(description: CardDescription, width: number, height: number): Area | undefined {
  const body = { y: TAB_HEIGHT, height: height - TAB_HEIGHT };
  if (description.ground === 'none') return undefined;
  if (description.ground === 'all') return { x: 0, y: 0, width, height };
  const left = (description.ground === 'inputs') !== description.flip;
  return { x: left ? 0 : width / 2, width: width / 2, ...body };
}

function outlinePath(tab: number, width: number, height: number): string {
  return `M0 0H${tab}l8 ${TAB_HEIGHT}H${width}V${height}H0z`;
}

function rectangle(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`;
}
