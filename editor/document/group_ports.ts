/** The ports of a group on the shelf: add, retype, rename and take away, with the wires inside it and at its instances. */
import type { Draft } from 'immer';
import type { Group, Named, Sheet } from '../../compiler/sheet/sheet.ts';
import { isGroup } from '../../compiler/sheet/sheet.ts';

type Direction = 'in' | 'out';

function groupOf(sheet: Draft<Sheet>, name: string): Draft<Group> | undefined {
  const item = Object.hasOwn(sheet.shelf, name) ? sheet.shelf[name] : undefined;
  return typeof item === 'object' ? item : undefined;
}

/** Names that stand in a group already: its ports and its blocks share one set. */
export function isTakenInGroup(sheet: Sheet, scope: string, name: string): boolean {
  const item = Object.hasOwn(sheet.shelf, scope) ? sheet.shelf[scope] : undefined;
  return item !== undefined && isGroup(item) && (Object.hasOwn(item.ports, name) || Object.hasOwn(item.blocks, name));
}

/** Adds a port, or gives one another type; `type` as in the block language, empty for a plain number. */
export function putPort(sheet: Draft<Sheet>, scope: string, port: string, direction: Direction, type: string): void {
  const group = groupOf(sheet, scope);
  if (group !== undefined) group.ports[port] = direction === 'in' ? { in: type } : { out: type };
}

export function removePort(sheet: Draft<Sheet>, scope: string, port: string): void {
  const group = groupOf(sheet, scope);
  if (group === undefined) return;
  delete group.ports[port];
  delete group.layout[port];
  delete group.wires[port];
  for (const [to, from] of Object.entries(group.wires)) if (from === port) delete group.wires[to];
  forInstances(sheet, scope, (wires, block) => {
    delete wires[`${block}.${port}`];
    for (const [to, from] of Object.entries(wires)) if (from === `${block}.${port}`) delete wires[to];
  });
}

export function renamePort(sheet: Draft<Sheet>, scope: string, from: string, to: string): void {
  const group = groupOf(sheet, scope);
  const port = group?.ports[from];
  if (group === undefined || port === undefined || from === to) return;
  delete group.ports[from];
  group.ports[to] = port;
  rewire(group.wires, (end) => (end === from ? to : end));
  forInstances(sheet, scope, (wires, block) => {
    rewire(wires, (end) => (end === `${block}.${from}` ? `${block}.${to}` : end));
  });
}

/** Wires of every place where an instance of the group stands, with the instance's name. */
function forInstances(
  sheet: Draft<Sheet>,
  scope: string,
  act: (wires: Record<string, string>, block: string) => void,
): void {
  const groups = Object.values(sheet.shelf).filter((item) => typeof item === 'object');
  for (const { blocks, wires } of [sheet, ...groups])
    for (const [name, block] of Object.entries(blocks as Named<{ is: string }>))
      if (block.is === scope) act(wires, name);
}

function rewire(wires: Record<string, string>, renamed: (end: string) => string): void {
  for (const [to, from] of Object.entries(wires)) {
    const [newTo, newFrom] = [renamed(to), renamed(from)];
    if (newTo !== to) delete wires[to];
    if (newTo !== to || newFrom !== from) wires[newTo] = newFrom;
  }
}
