/** The cards of a sheet or a group where they stand, with the group's own ports beside them. */

import type { BlockText } from '../language/syntax.ts';
import type { BlockOnSheet, Group, Named, Sheet, Spot } from '../sheet/sheet.ts';
import { entry, isFlipped, isGroup, pointOf } from '../sheet/sheet.ts';
import type { Card, CardDescription, CardPort } from './card_size.ts';
import { layoutCard } from './card_size.ts';
import type { SolvedBlock } from './describe.ts';
import { describeCard, describeGroup, describePort } from './describe.ts';
import { firstPlaces } from './first_places.ts';
import type { Area } from './marks.ts';
import { flagPlaces, layoutFlag } from './port_flags.ts';
import type { RoutePort } from './route.ts';
import type { TitleBlock } from './sheet_frame.ts';

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

/** What of a sheet or a group is drawn together. */
export interface Place {
  /** Of a group. */
  readonly ports?: Group['ports'];
  readonly blocks: Named<BlockOnSheet>;
  readonly wires: Named<string>;
  readonly layout: Named<Spot>;
}

export function placeOf(sheet: Sheet, scope: string | undefined): Place {
  const onShelf = scope === undefined ? undefined : entry(sheet.shelf, scope);
  return onShelf !== undefined && isGroup(onShelf) ? onShelf : sheet;
}

/** Every block whose text is known, and a group's own ports. */
export function placedCards(
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
  const placed = cards.map(({ name, description, card }) => {
    const spot = spots[name];
    const { x, y } = spot === undefined ? (first[name] ?? { x: 0, y: 0 }) : { x: spot[0], y: spot[1] };
    return { name, description, card, x, y };
  });
  return [...placed, ...flagsOf(place, placed)];
}

/** The group's own ports as flags beside its blocks; a sheet has none. */
function flagsOf(place: Place, blocks: readonly PlacedCard[]): PlacedCard[] {
  const ports = portsOf(blocks);
  const flags = Object.keys(place.ports ?? {})
    .sort()
    .flatMap((name) => {
      const described = describePort(name, entry(place.ports ?? {}, name));
      if (described === undefined) return [];
      const { port, direction } = described;
      const joined = Object.entries(place.wires).flatMap(([to, from]) => {
        const end =
          direction === 'in' && from === name
            ? ports.get(`in ${to}`)
            : direction === 'out' && to === name
              ? ports.get(`out ${from}`)
              : undefined;
        return end === undefined ? [] : [end.y];
      });
      return [{ name, direction, card: layoutFlag(port, direction), levels: joined }];
    });
  const left = Math.min(...blocks.map((each) => each.x), Infinity);
  const right = Math.max(...blocks.map((each) => each.x + each.card.width), -Infinity);
  const top = Math.min(...blocks.map((each) => each.y), Infinity);
  const places = flagPlaces(
    flags.map(({ name, direction, card, levels }) => ({ name, direction, width: card.width, levels })),
    Number.isFinite(left) ? left : 0,
    Number.isFinite(right) ? right : 0,
    Number.isFinite(top) ? top : 0,
  );
  return flags.map(({ name, card }) => {
    const spot = entry(place.layout, name);
    const { x, y } =
      spot === undefined ? (places[name] ?? { x: 0, y: 0 }) : { x: pointOf(spot)[0], y: pointOf(spot)[1] };
    return { name: `${FLAG}${name}`, description: flagDescription(name), card, x, y };
  });
}

/** Sets a flag's card apart from a block of the same name. */
const FLAG = ':';

/** A card's name as it is said. */
export function saidName(card: PlacedCard): string {
  return card.name.startsWith(FLAG) ? card.name.slice(FLAG.length) : card.name;
}

function flagDescription(name: string): CardDescription {
  return {
    name,
    kind: 'port',
    drawnAs: 'card',
    law: [],
    values: {},
    settings: [],
    inputs: [],
    outputs: [],
    comb: undefined,
    ground: 'none',
    guards: false,
    rows: [],
    flip: false,
  };
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

/** The block of a port; of a group's own port its flag. */
export function blockOf(port: string): string {
  const dot = port.lastIndexOf('.');
  return dot < 0 ? FLAG + port : port.slice(0, dot);
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

/** By `in NAME` and `out NAME`. */
export function portsOf(cards: readonly PlacedCard[]): ReadonlyMap<string, PortOnPaper> {
  return new Map(
    cards.flatMap(({ name, card, x, y }) =>
      card.ports.map((port): [string, PortOnPaper] => {
        const full = name.startsWith(FLAG) ? port.name : `${name}.${port.name}`;
        const { direction, side } = port;
        return [
          `${direction} ${full}`,
          { name: full, card: name, x: x + port.x, y: y + port.y, side, direction, port },
        ];
      }),
    ),
  );
}
