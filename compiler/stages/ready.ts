/** What could come next in an order, kept so that a sheet of ten thousand blocks is not gone through for each. */

import { compareText } from '../text_order.ts';
import type { Definition } from './definitions.ts';
import type { Zone } from './order.ts';

/** Everything of one zone that waits for nothing. */
interface Waiting {
  readonly zone: Zone;
  readonly blocks: Map<string, Heap<Definition>>;
  /** Blocks of which everything that is left is here, and blocks of which anything is; some may be used up. */
  readonly whole: Heap<string>;
  readonly some: Heap<string>;
  /** How many of it wait here. */
  size: number;
  /** How often something of the zone reads what is still to come in another. */
  outside: number;
}

/**
 * What could come next: of the same block if possible, else of the same zone, else of the first zone that has any. Zones
 * that can run whole come before those that would have to stop half-way, and so do blocks in a zone.
 */
export class ReadyQueue {
  private readonly byKey = new Map<string, Waiting>();
  /** By definition's id. */
  private readonly zone: (Waiting | undefined)[] = [];
  private readonly zones = new Heap<Waiting>((a, b) => compareZones(a.zone, b.zone));
  private readonly wholeZones = new Heap<Waiting>((a, b) => compareZones(a.zone, b.zone));
  private readonly left = new Map<string, number>();

  /** For all that is going to be ordered, and what zone each stands in. */
  constructor(all: readonly Definition[], zoneOf: (definition: Definition) => Zone) {
    for (const definition of all) {
      const { path } = definition.instance;
      this.left.set(path, (this.left.get(path) ?? 0) + 1);
      this.zone[definition.id] = this.waiting(zoneOf(definition));
    }
  }

  private waiting(zone: Zone): Waiting {
    let found = this.byKey.get(zone.key);
    if (found === undefined) {
      const [whole, some] = [new Heap<string>(compareText), new Heap<string>(compareText)];
      found = { zone, blocks: new Map(), whole, some, size: 0, outside: 0 };
      this.byKey.set(zone.key, found);
    }
    return found;
  }

  private zoneIn(definition: Definition): Waiting {
    const zone = this.zone[definition.id];
    if (zone === undefined) throw new Error(`${definition.name} is not among what is ordered`);
    return zone;
  }

  /** Notes that a definition reads another that is still to come. */
  wait(reader: Definition, source: Definition): void {
    const zone = this.zoneIn(reader);
    if (zone !== this.zoneIn(source)) zone.outside++;
  }

  /** Notes that what a definition reads has come. */
  come(reader: Definition, source: Definition): void {
    const zone = this.zoneIn(reader);
    if (zone !== this.zoneIn(source) && --zone.outside === 0 && zone.size > 0) this.wholeZones.add(zone);
  }

  /** Puts in what waits for nothing any more. */
  add(definition: Definition): void {
    const zone = this.zoneIn(definition);
    const { path } = definition.instance;
    let list = zone.blocks.get(path);
    if (list === undefined) {
      list = new Heap<Definition>((a, b) => a.id - b.id);
      zone.blocks.set(path, list);
      zone.some.add(path);
    }
    list.add(definition);
    if (list.size === this.left.get(path)) zone.whole.add(path);
    if (zone.size++ > 0) return;
    this.zones.add(zone);
    if (zone.outside === 0) this.wholeZones.add(zone);
  }

  take(last: Definition | undefined): Definition | undefined {
    const zone = last === undefined ? undefined : this.zone[last.id];
    if (last !== undefined && zone !== undefined && zone.size > 0)
      return this.fromBlock(zone, last.instance.path) ?? this.fromZone(zone);
    const isHere = (waiting: Waiting): boolean => waiting.size > 0;
    const first = this.wholeZones.first(isHere) ?? this.zones.first(isHere);
    return first === undefined ? undefined : this.fromZone(first);
  }

  private fromZone(zone: Waiting): Definition | undefined {
    const isHere = (path: string): boolean => zone.blocks.has(path);
    const path = zone.whole.first(isHere) ?? zone.some.first(isHere);
    return path === undefined ? undefined : this.fromBlock(zone, path);
  }

  /** The block's definition that was written first. */
  private fromBlock(zone: Waiting, path: string): Definition | undefined {
    const list = zone.blocks.get(path);
    const taken = list?.take();
    if (list === undefined || taken === undefined) return undefined;
    zone.size--;
    this.left.set(path, (this.left.get(path) ?? 1) - 1);
    if (list.size === 0) zone.blocks.delete(path);
    return taken;
  }
}

/** The base zone first, then faster before slower. */
function compareZones(a: Zone, b: Zone): number {
  return a.every - b.every || a.phase - b.phase || compareText(a.key, b.key);
}

/** A binary heap: the least first. */
class Heap<T> {
  private readonly items: T[] = [];
  private readonly compare: (a: T, b: T) => number;

  constructor(compare: (a: T, b: T) => number) {
    this.compare = compare;
  }

  get size(): number {
    return this.items.length;
  }

  /** The least for which this still holds; those before it are dropped. */
  first(holds: (item: T) => boolean): T | undefined {
    for (let item = this.items[0]; item !== undefined; item = this.items[0]) {
      if (holds(item)) return item;
      this.take();
    }
    return undefined;
  }

  add(item: T): void {
    const { items } = this;
    let at = items.length;
    items.push(item);
    while (at > 0) {
      const above = (at - 1) >> 1;
      const parent = items[above] as T;
      if (this.compare(parent, item) <= 0) break;
      items[at] = parent;
      at = above;
    }
    items[at] = item;
  }

  take(): T | undefined {
    const { items } = this;
    const least = items[0];
    const last = items.pop();
    if (items.length === 0 || last === undefined) return least;
    let at = 0;
    for (let below = 1; below < items.length; below = 2 * at + 1) {
      const right = below + 1;
      if (right < items.length && this.compare(items[right] as T, items[below] as T) < 0) below = right;
      if (this.compare(last, items[below] as T) <= 0) break;
      items[at] = items[below] as T;
      at = below;
    }
    items[at] = last;
    return least;
  }
}
