/** Brings a sheet written by an older version up to this one, a numbered step at a time. */

import { SHEET_VERSION } from './sheet.ts';

export type RawSheet = Readonly<Record<string, unknown>>;

/** One step: takes a file of version `from` to version `from` + 1. Steps are never changed once released. */
export interface Migration {
  readonly from: number;
  /** What changed, in one sentence. */
  readonly what: string;
  /** Pure; what it does not know it leaves as it is, for the schema to name. */
  readonly change: (raw: RawSheet) => RawSheet;
}

/** Every step there has been, in order. Version 1 is the first, so there is none yet. */
export const migrations: readonly Migration[] = [];

/** The sheet as the newest version has it; `loopwright` counts up by one a step. */
export function migrate(
  raw: RawSheet,
  from: number,
  steps: readonly Migration[] = migrations,
  newest: number = SHEET_VERSION,
): RawSheet {
  let sheet = raw;
  for (let version = from; version < newest; version++) {
    const step = steps.find((candidate) => candidate.from === version);
    if (step === undefined) throw new Error(`There is no migration from sheet version ${version}.`);
    sheet = { ...step.change(sheet), loopwright: version + 1 };
  }
  return sheet;
}
