/** What can be done to a sheet, as recipes for `change`: each writes into a draft and knows nothing of screens. */
import type { Draft } from 'immer';
import type { BlockOnSheet, Group, Point, SettingValue, Sheet, Spot } from '../../compiler/sheet/sheet.ts';
import { isFlipped, isGroup, pointOf } from '../../compiler/sheet/sheet.ts';

/** Where blocks stand: the sheet itself (empty scope) or a group on its shelf. */
export interface Ground {
  blocks: Record<string, Draft<BlockOnSheet>>;
  wires: Record<string, string>;
  layout: Record<string, Draft<Spot>>;
}

/** The ports a line goes straight through: what feeds `input` then feeds what `output` fed. */
export interface Passage {
  readonly input: string;
  readonly output: string;
}

/** The part of a sheet, or of its draft, that holds a scope's blocks; undefined when there is no such group. */
export function groundOf<S extends Sheet | Draft<Sheet>>(
  sheet: S,
  scope: string,
): (S | Extract<S['shelf'][string], object>) | undefined {
  if (scope === '') return sheet;
  const item = Object.hasOwn(sheet.shelf, scope) ? sheet.shelf[scope] : undefined;
  return typeof item === 'object' ? (item as Extract<S['shelf'][string], object>) : undefined;
}

function ground(sheet: Draft<Sheet>, scope: string): Ground {
  const found = groundOf(sheet, scope);
  if (found === undefined) throw new Error(`There is no group "${scope}" on the shelf.`);
  return found as Ground;
}

/** `base`, or `base_2`, `base_3`… : the first that is not taken. */
export function freshName(base: string, taken: (name: string) => boolean): string {
  const clean = base.replaceAll(/[^A-Za-z0-9_]/g, '_').replace(/^[^A-Za-z]+/, '') || 'block';
  if (!taken(clean)) return clean;
  const stem = clean.replace(/_\d+$/, '');
  for (let n = 2; ; n++) if (!taken(`${stem}_${n}`)) return `${stem}_${n}`;
}

/** The block and the port of an end of a wire; a name without a dot is a port of the group around it. */
export function endOf(end: string): { block: string; port: string } {
  const dot = end.indexOf('.');
  return dot < 0 ? { block: '', port: end } : { block: end.slice(0, dot), port: end.slice(dot + 1) };
}

export function addBlock(sheet: Draft<Sheet>, scope: string, name: string, block: BlockOnSheet, at: Spot): void {
  const place = ground(sheet, scope);
  place.blocks[name] = block as Draft<BlockOnSheet>;
  place.layout[name] = at as Draft<Spot>;
}

export function wire(sheet: Draft<Sheet>, scope: string, from: string, to: string): void {
  ground(sheet, scope).wires[to] = from;
}

export function unwire(sheet: Draft<Sheet>, scope: string, to: string): void {
  delete ground(sheet, scope).wires[to];
  if (scope !== '') return;
  delete sheet.desk.lines[to];
  delete sheet.desk.taps[to];
}

/** Gives a block with open-ended inputs one more, of a kind (`+`). */
export function addInput(sheet: Draft<Sheet>, scope: string, block: string, input: string, kind: string): void {
  const found = ground(sheet, scope).blocks[block];
  if (found !== undefined) found.inputs = { ...found.inputs, [input]: kind };
}

/** Takes a named input away from a block with open-ended inputs, and its wire with it. */
export function removeInput(sheet: Draft<Sheet>, scope: string, block: string, input: string): void {
  const found = ground(sheet, scope).blocks[block];
  if (found?.inputs !== undefined) delete found.inputs[input];
  unwire(sheet, scope, `${block}.${input}`);
}

/** Puts a setting, or takes what the block's text says when `value` is undefined. */
export function setSetting(
  sheet: Draft<Sheet>,
  scope: string,
  block: string,
  name: string,
  value: SettingValue | undefined,
): void {
  const found = ground(sheet, scope).blocks[block];
  if (found === undefined) return;
  if (value === undefined) {
    if (found.set !== undefined) delete found.set[name];
    if (found.set !== undefined && Object.keys(found.set).length === 0) delete found.set;
  } else found.set = { ...found.set, [name]: value as Draft<SettingValue> };
}

/** Puts one of the facts about how a block stands on the sheet, or leaves it unsaid. */
export function setFact<K extends 'every' | 'phase' | 'side' | 'when'>(
  sheet: Draft<Sheet>,
  scope: string,
  block: string,
  fact: K,
  value: BlockOnSheet[K] | undefined,
): void {
  const found: Partial<Pick<Draft<BlockOnSheet>, K>> | undefined = ground(sheet, scope).blocks[block];
  if (found === undefined) return;
  if (value === undefined) delete found[fact];
  else found[fact] = value as Draft<BlockOnSheet>[K];
}

export function move(sheet: Draft<Sheet>, scope: string, to: Readonly<Record<string, Point>>): void {
  const { layout, blocks } = ground(sheet, scope);
  for (const [name, point] of Object.entries(to)) {
    if (!(name in blocks)) continue;
    const old = layout[name];
    layout[name] = old !== undefined && isFlipped(old as Spot) ? { at: [...point], flip: true } : [...point];
  }
}

/** Turns a card so that its inputs are on its other side. */
export function flip(sheet: Draft<Sheet>, scope: string, name: string): void {
  const { layout } = ground(sheet, scope);
  const old = (layout[name] ?? [0, 0]) as Spot;
  layout[name] = isFlipped(old) ? [...pointOf(old)] : { at: [...pointOf(old)], flip: true };
}

/**
 * Removes blocks. With a passage for a block, the line through it heals: whatever its `output` fed takes what fed its
 * `input`, also through several removed blocks in a row. Without one the gap stays.
 */
export function removeBlocks(
  sheet: Draft<Sheet>,
  scope: string,
  names: readonly string[],
  passage: (name: string) => Passage | undefined = () => undefined,
): void {
  const place = ground(sheet, scope);
  const gone = new Set(names);
  const healed = (from: string, seen: ReadonlySet<string> = new Set()): string | undefined => {
    const { block, port } = endOf(from);
    if (!gone.has(block)) return from;
    const through = passage(block);
    if (through === undefined || through.output !== port || seen.has(block)) return undefined;
    const feeds = place.wires[`${block}.${through.input}`];
    return feeds === undefined ? undefined : healed(feeds, new Set([...seen, block]));
  };
  const after: Record<string, string | undefined> = {};
  for (const [to, from] of Object.entries(place.wires))
    after[to] = gone.has(endOf(to).block) ? undefined : healed(from);
  for (const [to, from] of Object.entries(after)) {
    if (from === undefined) delete place.wires[to];
    else if (place.wires[to] !== from) place.wires[to] = from;
  }
  for (const name of names) {
    delete place.blocks[name];
    delete place.layout[name];
  }
  if (scope === '') clearDesk(sheet, gone);
}

/** Puts a block into a line: the input `to` takes the block's output, and the block takes what fed it. */
export function insertOnLine(sheet: Draft<Sheet>, scope: string, to: string, block: string, passage: Passage): void {
  const { wires } = ground(sheet, scope);
  const from = wires[to];
  if (from === undefined) return;
  wires[`${block}.${passage.input}`] = from;
  wires[to] = `${block}.${passage.output}`;
}

/** Nothing is drawn for a block that is gone. */
function clearDesk(sheet: Draft<Sheet>, gone: ReadonlySet<string>): void {
  const { desk } = sheet;
  for (const record of [desk.show, desk.pins, desk.lines, desk.taps])
    for (const port of Object.keys(record)) if (gone.has(endOf(port).block)) delete record[port];
  for (const [name, chart] of Object.entries(desk.charts)) {
    const left = chart.traces.filter((trace) => !gone.has(endOf(trace).block));
    if (left.length === 0) delete desk.charts[name];
    else if (left.length < chart.traces.length) chart.traces = left;
  }
}

/** Every dotted path from the sheet at which a shelf group's inside stands; `['']` for the sheet itself. */
export function instancesOf(sheet: Sheet | Draft<Sheet>, scope: string): string[] {
  if (scope === '') return [''];
  const found: string[] = [];
  const walk = (blocks: Readonly<Record<string, { readonly is: string }>>, prefix: string, open: readonly string[]) => {
    for (const [name, block] of Object.entries(blocks)) {
      const item = Object.hasOwn(sheet.shelf, block.is) ? sheet.shelf[block.is] : undefined;
      if (item === undefined || typeof item === 'string' || open.includes(block.is)) continue;
      if (block.is === scope) found.push(`${prefix}${name}.`);
      walk(item.blocks, `${prefix}${name}.`, [...open, block.is]);
    }
  };
  walk(sheet.blocks, '', []);
  return found;
}

/** Makes one block of several: they become a group on the shelf, wired through its ports, and an instance stands for them. */
export function makeGroup(
  sheet: Draft<Sheet>,
  scope: string,
  names: readonly string[],
  groupName: string,
  at: Point,
): void {
  const place = ground(sheet, scope);
  const inside = new Set(names);
  const group: Draft<Group> = { ports: {}, blocks: {}, wires: {}, layout: {} };
  const portFor = new Map<string, string>();
  const port = (base: string, direction: 'in' | 'out') => {
    const name = freshName(base, (candidate) => candidate in group.ports || inside.has(candidate));
    group.ports[name] = direction === 'in' ? { in: '' } : { out: '' };
    return name;
  };
  for (const [to, from] of Object.entries(place.wires).sort(([a], [b]) => (a < b ? -1 : 1))) {
    const into = inside.has(endOf(to).block);
    const outOf = inside.has(endOf(from).block);
    if (!into && !outOf) continue;
    delete place.wires[to];
    if (into && outOf) group.wires[to] = from;
    else if (into) {
      const name = portFor.get(`in ${from}`) ?? port(endOf(to).port, 'in');
      portFor.set(`in ${from}`, name);
      group.wires[to] = name;
      place.wires[`${groupName}.${name}`] = from;
    } else {
      const name = portFor.get(`out ${from}`) ?? port(endOf(from).port, 'out');
      portFor.set(`out ${from}`, name);
      group.wires[name] = from;
      place.wires[to] = `${groupName}.${name}`;
    }
  }
  for (const name of names) {
    const block = place.blocks[name];
    const spot = place.layout[name];
    if (block !== undefined) group.blocks[name] = block;
    if (spot !== undefined) group.layout[name] = spot;
    delete place.blocks[name];
    delete place.layout[name];
  }
  sheet.shelf[groupName] = group;
  place.blocks[groupName] = { is: groupName };
  place.layout[groupName] = [...at];
}

/** Whether a name on the shelf is a group of this sheet. */
export function isGroupName(sheet: Sheet, name: string): boolean {
  const item = Object.hasOwn(sheet.shelf, name) ? sheet.shelf[name] : undefined;
  return item !== undefined && isGroup(item);
}
