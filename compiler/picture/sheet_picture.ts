/** From a sheet, or one of its groups, to everything that is drawn of it: the same for exports and reports. */

import type { BlockText } from '../language/syntax.ts';
import type { BlockOnSheet, Group, Named, Sheet, Spot } from '../sheet/sheet.ts';
import { entry, isFlipped, isGroup, pointOf } from '../sheet/sheet.ts';
import { AreaIndex } from './area_index.ts';
import type { Card, CardDescription, CardPort } from './card_size.ts';
import { layoutCard } from './card_size.ts';
import type { SolvedBlock } from './describe.ts';
import { describeCard, describeGroup } from './describe.ts';
import { firstPlaces } from './first_places.ts';
import type { Ground, GroundPart } from './ground.ts';
import { GROUND_MARGIN, groundOutline } from './ground.ts';
import type { Crossing } from './line_marks.ts';
import { lineMarks, openEnd } from './line_marks.ts';
import type { Area, Mark, Point } from './marks.ts';
import { remarkMarks, tapMarks } from './remarks.ts';
import { boxOf, stretchesOf } from './route_shape.ts';
import type { Net, Route, RoutePort, RouteSegment } from './router.ts';
import { routeNets } from './router.ts';
import type { TitleBlock } from './sheet_frame.ts';
import type { SheetPicture } from './svg.ts';

export interface PictureOptions {
  /** A group on the shelf to draw instead of the sheet. */
  readonly scope?: string;
  /** What the compiler found out, by the block's name in this scope. */
  readonly solved?: Readonly<Record<string, SolvedBlock>>;
  /** Blocks on the plant side for other reasons than their text: from the Plant shelf. */
  readonly isPlant?: (block: BlockOnSheet) => boolean;
  /** Conversions of units, by the input fed: the units at its two ends. */
  readonly conversions?: Readonly<Record<string, readonly [from: string, to: string]>>;
  readonly titleBlock?: TitleBlock;
}

/** A card where it stands on the paper. */
export interface PlacedCard {
  readonly name: string;
  readonly description: CardDescription;
  readonly card: Card;
  readonly x: number;
  readonly y: number;
}

/** What is drawn of a sheet. `textOf` gives a block's text; one that nobody knows is left out. */
export function pictureOf(
  sheet: Sheet,
  textOf: (name: string) => BlockText | undefined,
  options: PictureOptions = {},
): SheetPicture {
  const place = placeOf(sheet, options.scope);
  const cards = placedCards(sheet, place, textOf, options);
  const tapped = (input: string) => options.scope === undefined && entry(sheet.desk.taps, input) !== undefined;
  const ports = portsOf(cards);
  const nets = netsOf(ports, place.wires, tapped);
  const routes = routeNets({
    cards: obstaclesOf(cards),
    nets,
    pinned: options.scope === undefined ? pinnedOf(sheet) : {},
  });
  const ground = groundOf(cards, routes);
  const remarks = remarkMarks(sheet.desk, options.scope);
  const isFree = freePlaces(cards, routes);
  const bounds = boundsOf(cards, routes, ground, remarks.areas);
  const taps = options.scope === undefined ? tapMarks(sheet, ports, bounds, options.titleBlock) : [];
  return {
    bounds,
    ground,
    cards: cards.map(({ name, card, x, y }) => ({
      name,
      spoken: card.spoken,
      x,
      y,
      width: card.width,
      height: card.height,
      marks: card.marks,
    })),
    lines: [
      ...nets.flatMap((net) => netMarks(net, routes[net.from.name], cards, sheet, options, isFree)),
      ...openEnds(ports, place.wires),
      ...taps,
    ],
    remarks: remarks.marks,
    titleBlock: options.titleBlock,
  };
}

interface Place {
  readonly blocks: Named<BlockOnSheet>;
  readonly wires: Named<string>;
  readonly layout: Named<Spot>;
}

function placeOf(sheet: Sheet, scope: string | undefined): Place {
  const onShelf = scope === undefined ? undefined : entry(sheet.shelf, scope);
  return onShelf !== undefined && isGroup(onShelf) ? onShelf : sheet;
}

function placedCards(
  sheet: Sheet,
  place: Place,
  textOf: (name: string) => BlockText | undefined,
  options: PictureOptions,
): PlacedCard[] {
  const severalRates = Object.entries(place.blocks).some(
    ([name, block]) => (options.solved?.[name]?.every ?? block.every ?? 1) > 1,
  );
  const describe = (name: string, block: BlockOnSheet, side?: 'plant'): CardDescription | undefined => {
    const spot = entry(place.layout, name);
    const solved: SolvedBlock = { ...options.solved?.[name], ...(side === undefined ? {} : { side }) };
    const given = { flip: spot !== undefined && isFlipped(spot), severalRates, solved };
    const onShelf = entry(sheet.shelf, block.is);
    if (onShelf !== undefined && isGroup(onShelf)) return describeGroup(name, block, onShelf as Group, given);
    const text = textOf(block.is);
    return text === undefined ? undefined : describeCard(name, block, text, given);
  };
  const descriptions = new Map<string, CardDescription>();
  for (const [name, block] of Object.entries(place.blocks)) {
    const description = describe(name, block, options.isPlant?.(block) === true ? 'plant' : undefined);
    if (description !== undefined) descriptions.set(name, description);
  }
  if (options.solved === undefined) addFollowers(place, descriptions, (name, block) => describe(name, block, 'plant'));
  const cards = [...descriptions].map(([name, description]) => ({ name, description, card: layoutCard(description) }));
  const spots = Object.fromEntries(
    cards.flatMap(({ name }) => {
      const spot = entry(place.layout, name);
      return spot === undefined ? [] : [[name, pointOf(spot)] as const];
    }),
  );
  const unplaced = cards.filter(({ name }) => spots[name] === undefined);
  const below = Math.max(0, ...cards.map(({ name, card }) => (spots[name]?.[1] ?? -100) + card.height + 100));
  const feeds = Object.entries(place.wires).map(([to, from]) => [blockOf(from), blockOf(to)] as const);
  const first = firstPlaces(
    unplaced.map(({ name, card }) => ({ name, width: card.width, height: card.height })),
    feeds,
    0,
    unplaced.length === cards.length ? 0 : below,
  );
  return cards.map(({ name, description, card }) => {
    const spot = spots[name];
    const { x, y } = spot === undefined ? (first[name] ?? { x: 0, y: 0 }) : { x: spot[0], y: spot[1] };
    return { name, description, card, x, y };
  });
}

/** A block whose inputs all come from the plant side is on it too, unless it says otherwise. */
function addFollowers(
  place: Place,
  descriptions: Map<string, CardDescription>,
  onPlant: (name: string, block: BlockOnSheet) => CardDescription | undefined,
): void {
  for (let changed = true; changed; ) {
    changed = false;
    for (const [name, description] of descriptions) {
      const block = entry(place.blocks, name);
      if (block === undefined || block.side !== undefined || description.ground !== 'none') continue;
      const sources = description.inputs.flatMap((input) => entry(place.wires, `${name}.${input.name}`) ?? []);
      if (sources.length === 0 || !sources.every((from) => isOnPlant(from, descriptions))) continue;
      const moved = onPlant(name, block);
      if (moved === undefined || moved.ground !== 'all') continue;
      descriptions.set(name, moved);
      changed = true;
    }
  }
}

/** Whether an output is the plant's: of a plant block, or an actuator's. */
function isOnPlant(output: string, descriptions: ReadonlyMap<string, CardDescription>): boolean {
  const ground = descriptions.get(blockOf(output))?.ground;
  return ground === 'all' || ground === 'outputs';
}

function blockOf(port: string): string {
  return port.slice(0, Math.max(0, port.lastIndexOf('.')));
}

/** What lines keep clear of, by card. */
export function obstaclesOf(cards: readonly PlacedCard[]): Record<string, Area> {
  return Object.fromEntries(
    cards.map(({ name, card: { obstacle }, x, y }) => [name, { ...obstacle, x: x + obstacle.x, y: y + obstacle.y }]),
  );
}

/** A port where it is on the paper. */
export interface PortOnPaper extends RoutePort {
  readonly direction: 'in' | 'out';
  readonly port: CardPort;
}

function portsOf(cards: readonly PlacedCard[]): ReadonlyMap<string, PortOnPaper> {
  return new Map(
    cards.flatMap(({ name, card, x, y }) =>
      card.ports.map((port): [string, PortOnPaper] => {
        const full = `${name}.${port.name}`;
        const { direction, side } = port;
        return [
          `${direction} ${full}`,
          { name: full, card: name, x: x + port.x, y: y + port.y, side, direction, port },
        ];
      }),
    ),
  );
}

function netsOf(
  ports: ReadonlyMap<string, PortOnPaper>,
  wires: Named<string>,
  tapped: (input: string) => boolean,
): Net[] {
  const nets = new Map<string, { readonly from: RoutePort; readonly to: RoutePort[] }>();
  for (const [input, output] of Object.entries(wires)) {
    const [from, to] = [ports.get(`out ${output}`), ports.get(`in ${input}`)];
    if (from === undefined || to === undefined || tapped(input)) continue;
    const net = nets.get(output) ?? { from, to: [] };
    net.to.push(to);
    nets.set(output, net);
  }
  return [...nets.values()];
}

function pinnedOf(sheet: Sheet): Record<string, readonly RouteSegment[]> {
  const point = ([x, y]: readonly [number, number]): Point => ({ x, y });
  return Object.fromEntries(
    Object.entries(sheet.desk.lines).map(([input, segments]) => [
      input,
      segments.map(([from, to]) => ({ from: point(from), to: point(to) })),
    ]),
  );
}

/** The ground under the plant cards, the plant halves of sensors and actuators, and the lines between them. */
export function groundOf(cards: readonly PlacedCard[], routes: Readonly<Record<string, Route>>): Ground {
  const parts = cards.flatMap(({ card, description, x, y }): GroundPart[] => {
    const area = card.ground;
    if (area === undefined) return [];
    const placed = { x: x + area.x, y: y + area.y, width: area.width, height: area.height };
    if (description.ground === 'all') return [placed];
    return [{ ...placed, y, height: card.height, shore: area.x === 0 ? 'right' : 'left' }];
  });
  const grounds = new Map(cards.map(({ name, description }) => [name, description.ground]));
  const lines = Object.values(routes).flatMap((route) => {
    const from = grounds.get(blockOf(route.net));
    if (from !== 'all' && from !== 'outputs') return [];
    return Object.entries(route.leaves).flatMap(([input, leaf]) => {
      const to = grounds.get(blockOf(input));
      return to === 'all' || to === 'inputs' ? [leaf] : [];
    });
  });
  const others = cards.filter(({ description }) => description.ground === 'none');
  return groundOutline(parts, lines, Object.values(obstaclesOf(others)));
}

/** Says whether neither a card nor a line is at a place. */
export function freePlaces(
  cards: readonly PlacedCard[],
  routes: Readonly<Record<string, Route>>,
): (place: Area) => boolean {
  const lines = Object.values(routes).flatMap((route) => stretchesOf(route).map(boxOf));
  const index = new AreaIndex([...Object.values(obstaclesOf(cards)), ...lines]);
  return (place) =>
    !index.near(place).some((i) => {
      const other = index.all[i];
      return (
        other !== undefined &&
        other.x <= place.x + place.width &&
        place.x <= other.x + other.width &&
        other.y <= place.y + place.height &&
        place.y <= other.y + other.height
      );
    });
}

function netMarks(
  net: Net,
  route: Route | undefined,
  cards: readonly PlacedCard[],
  sheet: Sheet,
  options: PictureOptions,
  isFree: (place: Area) => boolean,
): Mark[] {
  if (route === undefined) return [];
  const byName = new Map(cards.map((each) => [each.name, each]));
  const port = byName
    .get(net.from.card)
    ?.card.ports.find((each) => each.direction === 'out' && `${net.from.card}.${each.name}` === net.from.name);
  const crossings: Record<string, Crossing> = {};
  for (const to of net.to) {
    const crossing = crossingOf(byName.get(net.from.card), byName.get(to.card), sheet);
    if (crossing !== undefined) crossings[to.name] = crossing;
  }
  return lineMarks(
    route,
    {
      logic: port?.logic ?? false,
      size: port?.size ?? 1,
      crossings,
      isFree,
      ...(options.conversions === undefined ? {} : { conversions: options.conversions }),
    },
    Object.fromEntries(net.to.map((to) => [to.name, to.side])),
  );
}

/** Where both ends run at ticks, and at different rates. */
export function crossingOf(
  from: PlacedCard | undefined,
  to: PlacedCard | undefined,
  sheet: Sheet,
): Crossing | undefined {
  const source = from?.description.comb;
  const reader = to?.description.comb;
  if (source === undefined || reader === undefined || source.every === reader.every) return undefined;
  const held = source.every > reader.every;
  const slower = held ? source : reader;
  return { kind: sheet.schedule === 'layered' ? 'layered' : held ? 'held' : 'sampled', ...slower };
}

/** Inputs that must be fed and are not, and outputs that nothing takes. */
function openEnds(ports: ReadonlyMap<string, PortOnPaper>, wires: Named<string>): Mark[] {
  const taken = new Set(Object.values(wires));
  return [...ports.values()]
    .filter(({ name, direction }) => (direction === 'in' ? entry(wires, name) === undefined : !taken.has(name)))
    .map(({ x, y, side, direction }) => openEnd({ x, y, side, direction }));
}

function boundsOf(
  cards: readonly PlacedCard[],
  routes: Readonly<Record<string, Route>>,
  ground: Ground,
  remarks: readonly Area[],
): Area {
  const points: Point[] = [
    ...cards.flatMap(({ card, x, y }) => [
      { x: x - 12, y },
      { x: x + card.width + 12, y: y + card.height },
    ]),
    ...Object.values(routes).flatMap((route) => route.lines.flat()),
    ...ground.loops.flat(),
    ...remarks.flatMap(({ x, y, width, height }) => [
      { x, y },
      { x: x + width, y: y + height },
    ]),
  ];
  if (points.length === 0) return { x: 0, y: 0, width: 480, height: 240 };
  const x = Math.min(...points.map((point) => point.x));
  const y = Math.min(...points.map((point) => point.y));
  const width = Math.max(...points.map((point) => point.x)) - x;
  const height = Math.max(...points.map((point) => point.y)) - y;
  return { x, y, width: Math.max(width, GROUND_MARGIN), height: Math.max(height, GROUND_MARGIN) };
}
