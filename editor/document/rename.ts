/** Renames a block everywhere it is spoken of: wires, layout, runs, expectations, charts, pins, silenced findings, checks. */
import type { Draft } from 'immer';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { endOf, groundOf, instancesOf } from './edits.ts';
import type { Rename } from './sheet.ts';

/** What a block may be called. */
export const NAME = /^[A-Za-z][A-Za-z0-9_]*$/;

/** Why a block may not be called that, or true. */
export function mayBeNamed(sheet: Sheet, scope: string, from: string, to: string): true | string {
  if (!NAME.test(to)) return 'A name starts with a letter and goes on with letters, digits and underscores.';
  const place = groundOf(sheet, scope);
  if (to !== from && place !== undefined && Object.hasOwn(place.blocks, to))
    return `There is a block called ${to} already.`;
  return true;
}

export function renameBlock(sheet: Draft<Sheet>, scope: string, from: string, to: string): readonly Rename[] {
  const place = groundOf(sheet, scope);
  const block = place?.blocks[from];
  if (place === undefined || block === undefined || from === to) return [];
  const prefixes = instancesOf(sheet, scope);
  rekey(place.blocks, (name) => (name === from ? to : name));
  rekey(place.layout, (name) => (name === from ? to : name));
  const end = (text: string) => (endOf(text).block === from ? `${to}.${endOf(text).port}` : text);
  rekey(place.wires, end);
  for (const [input, source] of Object.entries(place.wires))
    if (end(source) !== source) place.wires[input] = end(source);
  for (const other of Object.values(place.blocks)) if (other.when !== undefined) other.when = end(other.when);
  for (const prefix of prefixes) renamePath(sheet, `${prefix}${from}`, `${prefix}${to}`);
  return [{ scope, from, to }];
}

/** Renames a dotted path in all that is keyed by, or speaks of, full paths. */
function renamePath(sheet: Draft<Sheet>, from: string, to: string): void {
  const path = (text: string) =>
    text === from ? to : text.startsWith(`${from}.`) ? `${to}${text.slice(from.length)}` : text;
  const dotted = new RegExp(`(?<![A-Za-z0-9_.])${from.replaceAll('.', '\\.')}(?=\\.[A-Za-z])`, 'g');
  const spoken = (text: string) => text.replaceAll(dotted, to);
  const last = (text: string) => text.replace(/\S+$/, path);
  const { desk } = sheet;
  rekey(desk.show, path);
  rekey(desk.pins, path);
  rekey(desk.lines, path);
  rekey(desk.taps, path);
  rekey(sheet.checked, path);
  rekey(sheet.silenced, last);
  for (const chart of Object.values(desk.charts)) replaceEach(chart.traces, path);
  for (const run of Object.values(sheet.runs)) {
    if (run.set !== undefined) rekey(run.set, path);
    if (run.record !== undefined) replaceEach(run.record, path);
    for (const nudge of Object.values(run.nudges ?? {})) {
      if ('port' in nudge) nudge.port = path(nudge.port);
      if ('setting' in nudge) nudge.setting = path(nudge.setting);
    }
    for (const [name, sentence] of Object.entries(run.expect ?? {}))
      if (run.expect !== undefined && spoken(sentence) !== sentence) run.expect[name] = spoken(sentence);
  }
  renameInstanceSettings(sheet, from, to);
}

/** An instance of a group puts settings of the blocks inside by dotted path; those paths follow too. */
function renameInstanceSettings(sheet: Draft<Sheet>, from: string, to: string): void {
  const steps = from.split('.');
  const last = to.split('.').at(-1) ?? to;
  for (let depth = 1; depth < steps.length; depth++) {
    const instance = blockAt(sheet, steps.slice(0, depth));
    if (instance?.set === undefined) continue;
    const inner = steps.slice(depth).join('.');
    const renamed = [...steps.slice(depth, -1), last].join('.');
    rekey(instance.set, (key) => (key.startsWith(`${inner}.`) ? `${renamed}${key.slice(inner.length)}` : key));
  }
}

function blockAt(sheet: Draft<Sheet>, steps: readonly string[]): Draft<Sheet>['blocks'][string] | undefined {
  let scope = '';
  let block: Draft<Sheet>['blocks'][string] | undefined;
  for (const step of steps) {
    block = groundOf(sheet, scope)?.blocks[step];
    if (block === undefined) return undefined;
    scope = block.is;
  }
  return block;
}

function rekey<T>(record: Record<string, T>, renamed: (key: string) => string): void {
  for (const [key, value] of Object.entries(record)) {
    const next = renamed(key);
    if (next === key) continue;
    delete record[key];
    record[next] = value;
  }
}

function replaceEach(items: string[], renamed: (item: string) => string): void {
  for (const [index, item] of items.entries()) if (renamed(item) !== item) items[index] = renamed(item);
}
