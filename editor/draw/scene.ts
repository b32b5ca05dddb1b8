/** What is drawn of a scope: its cards, ports and lines with their places, derived from the sheet and nothing else. */
import type { Card, CardDescription, CardPort, SettingDescription } from '../../compiler/picture/card_size.ts';
import { layoutCard } from '../../compiler/picture/card_size.ts';
import { firstPlaces } from '../../compiler/picture/first_places.ts';
import type { Ground } from '../../compiler/picture/ground.ts';
import type { Area } from '../../compiler/picture/marks.ts';
import { type Net, type Route, type RoutePort, type RouteSegment, routeNets } from '../../compiler/picture/router.ts';
import { groundOf as groundUnder } from '../../compiler/picture/sheet_picture.ts';
import type { BlockOnSheet, Point, Segment, Sheet } from '../../compiler/sheet/sheet.ts';
import { entry, isFlipped, pointOf } from '../../compiler/sheet/sheet.ts';
import { endOf, groundOf } from '../document/edits.ts';
import type { SolvedPart } from '../work/compile.worker.ts';
import { copyOf } from './copies.ts';
import { describe, severalRates } from './describe.ts';
import { type GroupEnd, groupEnds } from './group_ends.ts';
import { settingsOf, settingText } from './settings.ts';
import { textOf } from './shelf_items.ts';

/** The paper's grid, px. */
export const GRID = 20;

/** A card where it stands. */
export interface Placed {
  readonly name: string;
  readonly block: BlockOnSheet;
  readonly description: CardDescription;
  readonly card: Card;
  readonly x: number;
  readonly y: number;
  /** What its card was laid out from, to tell whether it still is. */
  readonly from: readonly unknown[];
}

/** A port where it is on the paper; its name is `block.port`. */
export interface PortPlace extends RoutePort {
  readonly port: string;
  readonly direction: 'in' | 'out';
  readonly logic: boolean;
  readonly size: number;
}

export interface Scene {
  readonly scope: string;
  /** Where the scope stands among all blocks, with its dot: `balance.`; of a group used often, the copy looked at. */
  readonly path: string;
  readonly sheet: Sheet;
  readonly cards: ReadonlyMap<string, Placed>;
  /** By `block.port`; ports of the group around by their names alone. */
  readonly ports: ReadonlyMap<string, PortPlace>;
  /** The ports of the group whose inside is drawn. */
  readonly ends: readonly GroupEnd[];
  /** The output each input takes, by the input. */
  readonly wires: ReadonlyMap<string, string>;
  /** Lines by their output. */
  readonly routes: Readonly<Record<string, Route>>;
  /** The plant side's outline. */
  readonly ground: Ground;
  /** All cards together. */
  readonly bounds: Area | undefined;
  /** All settings of a block with their values as shown. */
  settingsOf(name: string): readonly SettingDescription[];
}

/** What the compiler found out about blocks, by dotted path. */
export type Solved = Readonly<Record<string, SolvedPart>>;

/** Cards that stand elsewhere for now, being dragged or carried. */
export type Astray = Readonly<Record<string, Point>>;

const cards = new Map<string, Card>();

/** A card's layout, the same object for the same description. */
function laidOut(description: CardDescription): Card {
  const key = JSON.stringify(description);
  let card = cards.get(key);
  if (card === undefined) {
    card = layoutCard(description);
    cards.set(key, card);
  }
  return card;
}

/** What a block is made from; its wires too where nobody knows it and its ports are those it is wired by. */
function madeFrom(sheet: Sheet, scope: string, block: BlockOnSheet): unknown {
  return entry(sheet.shelf, block.is) ?? textOf(sheet, block.is) ?? groundOf(sheet, scope)?.wires;
}

function cardFor(sheet: Sheet, scope: string, name: string, block: BlockOnSheet, found: SolvedPart | undefined) {
  const description = describe(sheet, scope, name, block, found);
  return { description, card: laidOut(description) };
}

/** A card as it would look if it were put on the sheet now. */
export function specimen(sheet: Sheet, name: string, block: BlockOnSheet): Card {
  return laidOut({ ...describe(sheet, '', name, block), kind: '' });
}

/** What is not as the sheet has it: cards being moved, lines being bent. */
export interface Stir {
  readonly astray: Astray;
  readonly bent: Readonly<Record<string, readonly Segment[]>>;
}

/** What is looked at: the sheet or a group, and which of its copies. */
export interface Where {
  readonly scope: string;
  readonly within: string;
}

/** Makes scenes, each from the one before: what did not change stays the same object, and lines stay where they are. */
export function createScenes(): (sheet: Sheet, where: Where, stir: Stir, solved: Solved) => Scene {
  let last: Scene | undefined;
  let lastStir: Stir | undefined;
  let lastSolved: Solved = {};
  return (sheet, { scope, within }, stir, solved) => {
    const path = copyOf(sheet, scope, within);
    const asBefore = lastStir?.astray === stir.astray && lastStir.bent === stir.bent && lastSolved === solved;
    if (last?.sheet === sheet && last.scope === scope && last.path === path && asBefore) return last;
    const old = last?.scope === scope ? last : undefined;
    lastStir = stir;
    lastSolved = solved;
    last = sceneOf(sheet, scope, path, stir, solved, old);
    return last;
  };
}

function sceneOf(
  sheet: Sheet,
  scope: string,
  prefix: string,
  { astray, bent }: Stir,
  solved: Solved,
  old: Scene | undefined,
): Scene {
  const place = groundOf(sheet, scope);
  const placed = new Map<string, Placed>();
  const several = severalRates(sheet);
  const blocks = Object.entries(place?.blocks ?? {});
  const first = placesFor(sheet, scope, old);
  for (const [name, block] of blocks) {
    const spot = place?.layout[name];
    const [x, y] = astray[name] ?? (spot === undefined ? (first(name) ?? [0, 0]) : pointOf(spot));
    const before = old?.cards.get(name);
    const found = entry(solved, `${prefix}${name}`);
    const from = [block, spot !== undefined && isFlipped(spot), found, several, madeFrom(sheet, scope, block)];
    const same = before?.from.every((one, index) => one === from[index]) === true;
    const { description, card } = same ? before : cardFor(sheet, scope, name, block, found);
    const still = same && before.x === x && before.y === y;
    placed.set(name, still ? before : { name, block, description, card, x, y, from });
  }
  const ports = new Map<string, PortPlace>();
  for (const one of placed.values())
    for (const port of one.card.ports)
      ports.set(`${one.name}.${port.name}`, portPlace(`${one.name}.${port.name}`, one.name, one, port));
  const wires = new Map(Object.entries(place?.wires ?? {}));
  const cardBounds = united([...placed.values()].map(areaOfCard));
  const group = scope === '' ? undefined : entry(sheet.shelf, scope);
  const ends = typeof group === 'object' ? groupEnds(group, cardBounds, (end) => ports.get(end)?.y) : [];
  for (const end of ends)
    for (const port of end.card.ports) ports.set(end.name, portPlace(end.name, flagCard(end.name), end, port));
  const routes = routeNets({
    cards: Object.fromEntries([
      ...[...placed.values()].map((one) => [one.name, obstacleOf(one)]),
      ...ends.map((end) => [flagCard(end.name), areaOfCard(end)]),
    ]),
    nets: netsOf(ports, wires, (input) => scope === '' && Object.hasOwn(sheet.desk.taps, input)),
    ...(old === undefined ? {} : { old: old.routes }),
    pinned: scope === '' ? pinnedOf({ ...sheet.desk.lines, ...bent }) : {},
    quick: Object.keys(astray).length > 0,
  });
  return {
    scope,
    path: prefix,
    sheet,
    cards: placed,
    ports,
    ends,
    wires,
    routes,
    ground: groundUnder([...placed.values()], routes),
    bounds: united([...(cardBounds === undefined ? [] : [cardBounds]), ...ends.map(areaOfCard)]),
    settingsOf: (name) => {
      const block = place?.blocks[name];
      if (block === undefined) return [];
      return settingsOf(sheet, block).map((setting) => ({ name: setting.name, value: settingText(block, setting) }));
    },
  };
}

export function areaOfCard({ x, y, card }: Pick<Placed, 'x' | 'y' | 'card'>): Area {
  return { x, y, width: card.width, height: card.height };
}

/** The name a group's port goes by among the cards that lines keep clear of. */
function flagCard(name: string): string {
  return `port ${name}`;
}

function portPlace(name: string, card: string, at: Pick<Placed, 'x' | 'y'>, port: CardPort): PortPlace {
  const { direction, side, logic, size } = port;
  return { name, card, port: port.name, direction, side, x: at.x + port.x, y: at.y + port.y, logic, size };
}

/** Places for blocks that have none, in signal order below those that have; asked for only where one has none. */
function placesFor(sheet: Sheet, scope: string, old: Scene | undefined): (name: string) => Point | undefined {
  let places: ReturnType<typeof firstPlaces> | undefined;
  const find = (): ReturnType<typeof firstPlaces> => {
    const place = groundOf(sheet, scope);
    const bare = Object.entries(place?.blocks ?? {}).filter(([name]) => place?.layout[name] === undefined);
    const cards = bare.map(([name, block]) => ({
      name,
      ...sizeOf(old?.cards.get(name)?.card ?? cardFor(sheet, scope, name, block, undefined).card),
    }));
    const feeds = Object.entries(place?.wires ?? {}).map(([to, from]) => [endOf(from).block, endOf(to).block] as const);
    const below = Math.max(0, ...Object.values(place?.layout ?? {}).map((spot) => pointOf(spot)[1] + 200));
    return firstPlaces(cards, feeds, 0, below);
  };
  return (name) => {
    places ??= find();
    const at = places[name];
    return at === undefined ? undefined : [at.x, at.y];
  };
}

function sizeOf({ width, height }: Card): { width: number; height: number } {
  return { width, height };
}

/** What lines keep clear of: the card with its signs. */
function obstacleOf({ x, y, card: { obstacle } }: Placed): Area {
  return { ...obstacle, x: x + obstacle.x, y: y + obstacle.y };
}

/** One net an output, with the drawn inputs it feeds. */
function netsOf(
  ports: ReadonlyMap<string, PortPlace>,
  wires: ReadonlyMap<string, string>,
  isTorn: (input: string) => boolean,
): Net[] {
  const nets = new Map<string, { from: RoutePort; to: RoutePort[] }>();
  for (const [input, output] of wires) {
    const [from, to] = [ports.get(output), ports.get(input)];
    if (from === undefined || to === undefined || isTorn(input)) continue;
    const net = nets.get(output) ?? { from, to: [] };
    net.to.push(to);
    nets.set(output, net);
  }
  return [...nets.values()];
}

function pinnedOf(lines: Stir['bent']): Readonly<Record<string, readonly RouteSegment[]>> {
  return Object.fromEntries(
    Object.entries(lines).map(([input, segments]) => [
      input,
      segments.map(([from, to]) => ({ from: { x: from[0], y: from[1] }, to: { x: to[0], y: to[1] } })),
    ]),
  );
}

export function united(areas: readonly Area[]): Area | undefined {
  if (areas.length === 0) return undefined;
  const x = Math.min(...areas.map((area) => area.x));
  const y = Math.min(...areas.map((area) => area.y));
  const right = Math.max(...areas.map((area) => area.x + area.width));
  const bottom = Math.max(...areas.map((area) => area.y + area.height));
  return { x, y, width: right - x, height: bottom - y };
}
