/** Writes a sheet as its canonical text: the same sheet gives the same bytes, one block or wire a line. */

import type { BlockOnSheet, Desk, Group, Named, Run, Sheet } from './sheet.ts';

/** The order of keys in records whose keys are fixed; what is not named here stands in the order of its names. */
const BLOCK_KEYS: readonly (keyof BlockOnSheet)[] = ['is', 'every', 'phase', 'when', 'side', 'inputs', 'set'];
const DESK_KEYS: readonly (keyof Desk)[] = ['show', 'pins', 'charts', 'frames', 'notes', 'lines', 'taps'];
const ENTRY_KEYS = [
  ...['at', 'for', 'port', 'setting', 'add', 'to'],
  ...['size', 'title', 'text', 'label', 'in', 'out', 'traces', 'order', 'height', 'low', 'high', 'trace', 'flip'],
  ...['result', 'hash'],
];

/**
 * The text of a sheet's file. Records stand in the code-point order of their names, so that two people's changes meet
 * in a merge only where they touch the same thing; empty records are left out. `loadSheet` gives the same sheet back.
 */
export function saveSheet(sheet: Sheet): string {
  const parts: Part[] = [
    ['loopwright', inline(sheet.loopwright)],
    ['title', inline(sheet.title)],
    ['tick', inline(sheet.tick)],
    ['number', inline(sheet.number)],
    ['schedule', inline(sheet.schedule)],
    ['outputs', inline(sheet.outputs)],
  ];
  if (sheet.overrun !== 'skip') parts.push(['overrun', inline(sheet.overrun)]);
  if (sheet.plant_steps !== 1) parts.push(['plant_steps', inline(sheet.plant_steps)]);
  parts.push(
    ...lines('names', sheet.names, 1),
    ['blocks', blocksText(sheet.blocks, 1)],
    ['wires', listed(entries(sheet.wires), 1)],
  );
  if (hasAny(sheet.shelf)) {
    const shelf = names(sheet.shelf).map((name): Part => {
      const thing = sheet.shelf[name] ?? '';
      return [name, typeof thing === 'string' ? inline(thing) : groupText(thing, 2)];
    });
    parts.push(['shelf', listed(shelf, 1)]);
  }
  if (hasAny(sheet.runs)) {
    const runs = names(sheet.runs).map((name): Part => [name, runText(sheet.runs[name] ?? {}, 2)]);
    parts.push(['runs', listed(runs, 1)]);
  }
  const desk = DESK_KEYS.flatMap((key) => lines(key, sheet.desk[key], 2));
  if (desk.length > 0) parts.push(['desk', listed(desk, 1)]);
  parts.push(
    ...lines('silenced', sheet.silenced, 1),
    ...lines('checked', sheet.checked, 1),
    ...lines('versions', sheet.versions, 1),
    ...lines('layout', sheet.layout, 1),
  );
  return `${listed(parts, 0)}\n`;
}

type Part = readonly [key: string, text: string];

function groupText(group: Group, depth: number): string {
  const parts: Part[] = [];
  if (group.about !== undefined) parts.push(['about', inline(group.about)]);
  parts.push(
    ['ports', listed(entries(group.ports), depth + 1)],
    ['blocks', blocksText(group.blocks, depth + 1)],
    ['wires', listed(entries(group.wires), depth + 1)],
    ...lines('layout', group.layout, depth + 1),
  );
  return listed(parts, depth);
}

function blocksText(blocks: Named<BlockOnSheet>, depth: number): string {
  return listed(
    names(blocks).map((name): Part => [name, inline(blocks[name], BLOCK_KEYS)]),
    depth,
  );
}

function runText(run: Run, depth: number): string {
  const parts: Part[] = [];
  if (run.for !== undefined) parts.push(['for', inline(run.for)]);
  if (run.seed !== undefined) parts.push(['seed', inline(run.seed)]);
  if (run.set !== undefined) parts.push(['set', inline(run.set)]);
  if (run.record !== undefined) parts.push(['record', inline(run.record)]);
  if (run.nudges !== undefined) parts.push(['nudges', listed(entries(run.nudges), depth + 1)]);
  if (run.expect !== undefined) parts.push(['expect', listed(entries(run.expect), depth + 1)]);
  return listed(parts, depth);
}

/** A record with one entry a line, or nothing if it is empty. */
function lines(key: string, record: Named<unknown>, depth: number): Part[] {
  return hasAny(record) ? [[key, listed(entries(record), depth)]] : [];
}

function entries(record: Named<unknown>): Part[] {
  return names(record).map((name): Part => [name, inline(record[name], ENTRY_KEYS)]);
}

function listed(parts: readonly Part[], depth: number): string {
  if (parts.length === 0) return '{}';
  const indent = '  '.repeat(depth + 1);
  const rows = parts.map(([key, text]) => `${indent}${JSON.stringify(key)}: ${text}`);
  return `{\n${rows.join(',\n')}\n${'  '.repeat(depth)}}`;
}

/** A value on one line; keys in the order given, then by name. */
function inline(value: unknown, order: readonly string[] = []): string {
  if (Array.isArray(value)) return `[${value.map((item) => inline(item, order)).join(', ')}]`;
  if (typeof value === 'object' && value !== null) {
    const record = value as Named<unknown>;
    const keys = [
      ...order.filter((key) => Object.hasOwn(record, key)),
      ...names(record).filter((key) => !order.includes(key)),
    ].filter((key) => record[key] !== undefined);
    if (keys.length === 0) return '{}';
    return `{ ${keys.map((key) => `${JSON.stringify(key)}: ${inline(record[key])}`).join(', ')} }`;
  }
  return Object.is(value, -0) ? '-0' : JSON.stringify(value);
}

function names(record: Named<unknown>): string[] {
  return Object.keys(record).sort();
}

function hasAny(record: Named<unknown>): boolean {
  return Object.keys(record).length > 0;
}
