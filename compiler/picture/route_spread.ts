/** Spreads runs that lie on or near each other over the channel between the cards, so that each line can be followed. */

import { AreaIndex } from './area_index.ts';
import type { Area } from './marks.ts';
import type { Stretch } from './route_grid.ts';
import { boxOf } from './route_shape.ts';
import type { Bar, Joint, Tree } from './route_tree.ts';
import { extent, jogOf, joinJog, place, stretchOf } from './route_tree.ts';

/** Lines next to each other, and lines from cards, keep these distances where there is room. */
const LINE_GAP = 10;
const CARD_GAP = 20;
/** Shortest piece between a run and what hangs on it. */
const SHORTEST = 10;
/** Furthest that a run looks for a better place. */
const REACH = 120;
const PASSES = 3;
/** With more runs than this one pass must do. */
const MANY = 3000;

const costs = { offset: 0.12, crossing: 30, overlap: 600, near: 6, nearCard: 0.6, shortEnd: 1.2, touch: 60, jog: 90 };

export interface SpreadRequest {
  readonly trees: readonly Tree[];
  readonly cards: readonly Area[];
  readonly clearance: number;
  /** Lines that stay where they are. */
  readonly fixed: readonly Stretch[];
  /** Coordinates of the earlier routes, kept where a run still lies on one. */
  readonly old: readonly Stretch[];
}

/** A run with where it lies; one without a run of its own stays where it is. */
interface Lane {
  readonly bar: Bar | undefined;
  readonly tree: Tree | undefined;
  stretch: Stretch;
}

interface MovableLane extends Lane {
  readonly bar: Bar;
  readonly tree: Tree;
}

export function spread(request: SpreadRequest): void {
  for (const round of [0, 1]) {
    const crowd = new Crowd(request);
    if (round === 0) crowd.straighten();
    crowd.settleAll();
    if (!crowd.straighten()) return;
  }
}

/** All lines on the paper, with what can be moved. */
class Crowd {
  private readonly request: SpreadRequest;
  private readonly own: MovableLane[];
  private readonly lanes: Lane[];
  private readonly laneOf: Map<Bar, MovableLane>;
  /** Runs that were joined to others. */
  private readonly gone = new Set<Lane>();
  private readonly cards: AreaIndex;
  /** Lanes by where they were at the beginning of a pass, in boxes that hold all their moves in it. */
  private index: AreaIndex;

  constructor(request: SpreadRequest) {
    this.request = request;
    this.cards = new AreaIndex(request.cards);
    this.own = request.trees.flatMap((tree) => tree.bars.map((bar) => ({ bar, tree, stretch: stretchOf(bar) })));
    this.lanes = [...this.own, ...request.fixed.map((stretch) => ({ bar: undefined, tree: undefined, stretch }))];
    this.laneOf = new Map(this.own.map((lane) => [lane.bar, lane]));
    this.index = this.indexed();
  }

  /** Moves run after run to its best place, the long ones first, until none moves. */
  settleAll(): void {
    const movable = this.own.filter((lane) => !lane.bar.fixed);
    movable.sort(
      (a, b) =>
        length(b.stretch) - length(a.stretch) ||
        Number(a.bar.upright) - Number(b.bar.upright) ||
        a.stretch.at - b.stretch.at ||
        a.stretch.from - b.stretch.from,
    );
    let stirred: AreaIndex | undefined;
    const passes = movable.length > MANY ? 1 : PASSES;
    for (let pass = 0; pass < passes; pass++) {
      const moved: Area[] = [];
      this.index = this.indexed();
      for (const lane of movable) {
        const around = grown(boxOf(lane.stretch), REACH);
        if (stirred !== undefined && stirred.near(around).length === 0) continue;
        if (this.settle(lane)) moved.push(around);
      }
      if (moved.length === 0) break;
      stirred = new AreaIndex(moved);
    }
  }

  private indexed(): AreaIndex {
    return new AreaIndex(
      this.lanes.map((lane) => grown(boxOf(lane.stretch), lane.bar === undefined ? 0 : REACH + LINE_GAP)),
    );
  }

  /** Cards that a run could come near to. */
  private cardsNear(stretch: Stretch): Area[] {
    return this.cards.near(grown(boxOf(stretch), REACH + CARD_GAP)).flatMap((i) => this.cards.all[i] ?? []);
  }

  /** Takes out jogs where one side can be moved in line with the other; says whether there were any. */
  straighten(): boolean {
    let found = false;
    this.index = this.indexed();
    for (const lane of [...this.own]) {
      const jog = lane.bar.fixed || !lane.tree.bars.includes(lane.bar) ? undefined : jogOf(lane.bar);
      if (jog === undefined) continue;
      for (const [side, goal] of [
        [jog.before, jog.beyond],
        [jog.beyond, jog.before],
      ] as const) {
        if (side.fixed || !this.canJoin(side, goal.at, lane)) continue;
        joinJog(lane.tree, jog);
        this.forget([lane.bar, jog.beyond]);
        for (const bar of [jog.before, ...hangingOn(jog.before)]) this.refresh(bar);
        found = true;
        break;
      }
    }
    return found;
  }

  /** Moves a run in line with another if that disturbs no more than the two bends are worth; otherwise leaves it. */
  private canJoin(side: Bar, at: number, jog: MovableLane): boolean {
    const lane = this.laneOf.get(side);
    if (lane === undefined) return false;
    const [low, high] = freedom(side, this.cardsNear(lane.stretch), this.request.clearance, jog.bar);
    if (at < low || at > high) return false;
    const group = this.group(lane);
    const others = this.nearby(group, Math.min(at, side.at), Math.max(at, side.at)).filter(
      (other) => other.bar === undefined || (other.bar !== jog.bar && !hangingOn(jog.bar).includes(other.bar)),
    );
    const start = side.at;
    const before = this.cost(group, others, Infinity);
    side.at = at;
    for (const each of group) this.refresh(each.bar);
    if (this.cost(group, others, Infinity) <= before + costs.jog) return true;
    side.at = start;
    for (const each of group) this.refresh(each.bar);
    return false;
  }

  /** Puts one run where it is cheapest; says whether it moved. */
  private settle(lane: MovableLane): boolean {
    const { bar } = lane;
    const start = bar.at;
    const cards = this.cardsNear(lane.stretch);
    const [low, high] = freedom(bar, cards, this.request.clearance);
    if (high - low < 1) return false;
    const beside = cards.filter((card) => isBeside(lane.stretch, card, low, high));
    const group = this.group(lane);
    const others = this.nearby(group, low, high);
    const wanted = wantedPlace(lane, low, high, this.request);
    let best = start;
    let least = Infinity;
    for (const candidate of candidates(start, wanted, low, high)) {
      bar.at = candidate;
      for (const each of group) each.stretch = stretchOf(each.bar);
      const place = Math.abs(candidate - wanted) * costs.offset + endCost(bar) + cardCost(lane.stretch, beside);
      const cost = place + this.cost(group, others, least - place);
      if (cost < least - 1e-9) {
        least = cost;
        best = candidate;
      }
    }
    bar.at = best;
    for (const each of group) each.stretch = stretchOf(each.bar);
    return best !== start;
  }

  /** Everything that a run and what hangs on it could come near to while it moves between two coordinates. */
  private nearby(group: readonly MovableLane[], low: number, high: number): Lane[] {
    let [left, right, top, bottom] = [Infinity, -Infinity, Infinity, -Infinity];
    for (const { stretch } of group) {
      const { upright, at, from, to } = stretch;
      left = Math.min(left, upright ? at : from);
      right = Math.max(right, upright ? at : to);
      top = Math.min(top, upright ? from : at);
      bottom = Math.max(bottom, upright ? to : at);
    }
    const upright = group[0]?.bar.upright === true;
    left = (upright ? Math.min(left, low) : left) - LINE_GAP;
    right = (upright ? Math.max(right, high) : right) + LINE_GAP;
    top = (upright ? top : Math.min(top, low)) - LINE_GAP;
    bottom = (upright ? bottom : Math.max(bottom, high)) + LINE_GAP;
    const found: Lane[] = [];
    for (const i of this.index.near({ x: left, y: top, width: right - left, height: bottom - top })) {
      const lane = this.lanes[i];
      if (lane === undefined || this.gone.has(lane)) continue;
      const { at, from, to } = lane.stretch;
      const isFar = lane.stretch.upright
        ? at < left || at > right || to < top || from > bottom
        : at < top || at > bottom || to < left || from > right;
      if (!isFar && (lane.bar === undefined || !group.some((own) => own === lane))) found.push(lane);
    }
    return found;
  }

  /** A run, first, with the runs that change with it. */
  private group(lane: MovableLane): MovableLane[] {
    return [lane, ...hangingOn(lane.bar).flatMap((other) => this.laneOf.get(other) ?? [])];
  }

  private cost(group: readonly MovableLane[], others: readonly Lane[], limit: number): number {
    let cost = 0;
    for (const each of group) {
      cost += disturbance(each, others, each === group[0]);
      if (cost >= limit) break;
    }
    return cost;
  }

  private refresh(bar: Bar): void {
    const lane = this.laneOf.get(bar);
    if (lane !== undefined) lane.stretch = stretchOf(bar);
  }

  private forget(bars: readonly Bar[]): void {
    for (const bar of bars) {
      const lane = this.laneOf.get(bar);
      if (lane === undefined) continue;
      this.laneOf.delete(bar);
      this.own.splice(this.own.indexOf(lane), 1);
      this.gone.add(lane);
    }
  }
}

function length(stretch: Stretch): number {
  return stretch.to - stretch.from;
}

function grown({ x, y, width, height }: Area, by: number): Area {
  return { x: x - by, y: y - by, width: width + 2 * by, height: height + 2 * by };
}

/** How far a run may move: up to the cards beside it, and not past what hangs on it. */
function freedom(bar: Bar, cards: readonly Area[], c: number, except?: Bar): readonly [number, number] {
  const [from, to] = extent(bar);
  let low = bar.at - REACH;
  let high = bar.at + REACH;
  for (const card of cards) {
    const [start, end] = bar.upright ? [card.y - c, card.y + card.height + c] : [card.x - c, card.x + card.width + c];
    if (start >= to || end <= from) continue;
    const [near, far] = bar.upright ? [card.x - c, card.x + card.width + c] : [card.y - c, card.y + card.height + c];
    if (far <= bar.at) low = Math.max(low, far);
    else if (near >= bar.at) high = Math.min(high, near);
    else return [bar.at, bar.at];
  }
  for (const { distance } of ends(bar, except)) {
    const room = Math.min(SHORTEST, Math.abs(distance));
    if (distance > 0) high = Math.min(high, bar.at + distance - room);
    else low = Math.max(low, bar.at + distance + room);
  }
  return [low, high];
}

interface End {
  /** From the run to the next joint across it; positive to the right or down. */
  readonly distance: number;
  readonly isPort: boolean;
}

/** What hangs on a run, as distances across it to the next joints. */
function ends(bar: Bar, except?: Bar): End[] {
  const found: End[] = [];
  for (const joint of bar.joints) {
    const across = bar.upright ? joint.level : joint.upright;
    if (across === undefined || across === except) continue;
    const at = across.joints.indexOf(joint);
    for (const other of [across.joints[at - 1], across.joints[at + 1]]) {
      if (other === undefined) continue;
      found.push({ distance: acrossOf(other, bar) - bar.at, isPort: other.port !== undefined });
    }
  }
  return found;
}

function acrossOf(joint: Joint, bar: Bar): number {
  return bar.upright ? place(joint).x : place(joint).y;
}

function hangingOn(bar: Bar): Bar[] {
  const found = new Set<Bar>();
  for (const joint of bar.joints) {
    const across = bar.upright ? joint.level : joint.upright;
    if (across !== undefined) found.add(across);
  }
  return [...found];
}

/** Where a run would best lie if it were alone. */
function wantedPlace(lane: MovableLane, low: number, high: number, request: SpreadRequest): number {
  const { bar, stretch } = lane;
  const sticks = request.old.some(
    (old) => old.upright === bar.upright && old.at === bar.at && old.from < stretch.to && old.to > stretch.from,
  );
  if (sticks) return bar.at;
  const sides = ends(bar);
  const before = sides.some((end) => end.distance < 0);
  const beyond = sides.some((end) => end.distance > 0);
  const middle = Math.round((low + high) / 20) * 10;
  if (before && beyond) {
    if (high - low <= 100) return Math.min(high, Math.max(low, middle));
    return Math.min(Math.max(bar.at, low + CARD_GAP), high - CARD_GAP);
  }
  const inner = CARD_GAP - request.clearance;
  return before ? Math.min(Math.max(bar.at, low + inner), middle) : Math.max(Math.min(bar.at, high - inner), middle);
}

function candidates(start: number, wanted: number, low: number, high: number): number[] {
  const found = new Set<number>([wanted, start]);
  const step = high - low > 60 ? LINE_GAP : LINE_GAP / 2;
  for (let at = Math.ceil(low / step) * step; at <= high; at += step) found.add(at);
  found.add(low).add(high);
  return [...found]
    .filter((at) => at >= low && at <= high)
    .sort((a, b) => Math.abs(a - wanted) - Math.abs(b - wanted) || a - b);
}

/** Room for an arrowhead before a port. */
function endCost(bar: Bar): number {
  let cost = 0;
  for (const end of ends(bar)) {
    const distance = Math.abs(end.distance);
    if (end.isPort && distance < CARD_GAP) cost += (CARD_GAP - distance) * costs.shortEnd;
  }
  return cost;
}

/** Whether a card is near where a run between two coordinates could lie. */
function isBeside(stretch: Stretch, card: Area, low: number, high: number): boolean {
  const [start, end] = stretch.upright ? [card.y, card.y + card.height] : [card.x, card.x + card.width];
  const [near, far] = stretch.upright ? [card.x, card.x + card.width] : [card.y, card.y + card.height];
  return start < stretch.to && end > stretch.from && near - CARD_GAP < high && far + CARD_GAP > low;
}

function cardCost(stretch: Stretch, beside: readonly Area[]): number {
  let cost = 0;
  for (const card of beside) {
    const [near, far] = stretch.upright ? [card.x, card.x + card.width] : [card.y, card.y + card.height];
    const distance = stretch.at <= near ? near - stretch.at : stretch.at - far;
    if (distance < CARD_GAP) cost += (CARD_GAP - distance) * costs.nearCard;
  }
  return cost;
}

/** What a run costs by crossing, touching and running along others. */
function disturbance(lane: MovableLane, others: readonly Lane[], whole: boolean): number {
  const own = lane.stretch;
  let cost = 0;
  for (const neighbour of others) {
    const other = neighbour.stretch;
    if (other.upright === own.upright) {
      const distance = Math.abs(other.at - own.at);
      const shared = Math.min(own.to, other.to) - Math.max(own.from, other.from);
      if (distance >= LINE_GAP || shared < -4) continue;
      if (distance < 1) cost += costs.overlap + Math.max(0, shared);
      else if (whole) cost += (LINE_GAP - distance) * costs.near;
    } else if (neighbour.tree !== lane.tree) {
      if (other.at < own.from || other.at > own.to || own.at < other.from || own.at > other.to) continue;
      cost += costs.crossing;
      const toEnd = Math.min(other.at - own.from, own.to - other.at, own.at - other.from, other.to - own.at);
      if (toEnd < 4) cost += costs.touch;
    } else if (other.at > own.from && other.at < own.to && own.at > other.from && own.at < other.to) {
      cost += costs.crossing;
    }
  }
  return cost;
}
