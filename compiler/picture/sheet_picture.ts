/** From a sheet, or one of its groups, to everything that is drawn of it: the same for exports and reports. */

import type { BlockText } from '../language/syntax.ts';
import type { Named, Sheet } from '../sheet/sheet.ts';
import { entry } from '../sheet/sheet.ts';
import { AreaIndex } from './area_index.ts';
import type { Ground, GroundPart } from './ground.ts';
import { GROUND_MARGIN, groundOutline } from './ground.ts';
import type { Crossing } from './line_marks.ts';
import { lineMarks, openEnd } from './line_marks.ts';
import type { Area, Mark, Point } from './marks.ts';
import type { PictureOptions, PlacedCard, PortOnPaper } from './placed_cards.ts';
import { blockOf, obstaclesOf, placedCards, placeOf, portsOf, saidName } from './placed_cards.ts';
import { remarkMarks, tapMarks } from './remarks.ts';
import { boxOf, stretchesOf } from './route_shape.ts';
import type { Net, Route, RoutePort, RouteSegment } from './router.ts';
import { routeNets } from './router.ts';
import type { SheetPicture } from './svg.ts';

export type { PictureOptions, PlacedCard, PortOnPaper } from './placed_cards.ts';

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
    cards: cards.map((placed) => {
      const { card, x, y } = placed;
      const { spoken, width, height, marks } = card;
      return { name: saidName(placed), spoken, x, y, width, height, marks };
    }),
    lines: [
      ...nets.flatMap((net) => netMarks(net, routes[net.from.name], cards, sheet, options, isFree)),
      ...openEnds(ports, place.wires),
      ...taps,
    ],
    remarks: remarks.marks,
    titleBlock: options.titleBlock,
  };
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
    ?.card.ports.find((each) => each.direction === 'out' && net.from.name.endsWith(each.name));
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
