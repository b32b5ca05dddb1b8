/** What a change of the sheet is to a run that goes on: settings put, or something a run cannot follow. */

import type { BlockOnSheet, SettingValue, Sheet } from '../../compiler/sheet/sheet.ts';

export interface SheetChange {
  /** Settings that are other now; without a value, the block's own. */
  readonly settings: readonly { readonly setting: string; readonly value: SettingValue | undefined }[];
  /** Nothing else that matters to the run is other. */
  readonly same: boolean;
}

/** What of a sheet decides how it runs, besides its blocks; runs are taken up at the next start. */
const MEANING = ['tick', 'number', 'schedule', 'overrun', 'outputs', 'plant_steps', 'names', 'wires', 'shelf'] as const;
const FACTS = ['is', 'every', 'phase', 'when', 'side', 'inputs'] as const;

export function compareSheets(before: Sheet, after: Sheet): SheetChange {
  const settings: { setting: string; value: SettingValue | undefined }[] = [];
  let same = MEANING.every((key) => equal(before[key], after[key]));
  for (const name of new Set([...Object.keys(before.blocks), ...Object.keys(after.blocks)])) {
    const [old, now] = [before.blocks[name], after.blocks[name]];
    if (old === now) continue;
    if (old === undefined || now === undefined) same = false;
    else if (!FACTS.every((fact) => equal(old[fact], now[fact]))) same = false;
    else settings.push(...settingsPut(name, old, now));
  }
  return { settings, same };
}

function settingsPut(name: string, old: BlockOnSheet, now: BlockOnSheet): SheetChange['settings'] {
  const [from, to] = [old.set ?? {}, now.set ?? {}];
  return [...new Set([...Object.keys(from), ...Object.keys(to)])]
    .filter((key) => !equal(from[key], to[key]))
    .map((key) => ({ setting: `${name}.${key}`, value: to[key] }));
}

function equal(a: unknown, b: unknown): boolean {
  return a === b || JSON.stringify(a) === JSON.stringify(b);
}
