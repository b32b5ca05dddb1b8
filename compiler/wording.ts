/** The one place where findings become sentences. */

import type { Finding } from './findings.ts';
import { languageWording, type Wording } from './language/wording.ts';
import { motionWording } from './linear/motion_wording.ts';
import { transferWording } from './linear/transfer_wording.ts';
import { linearWording } from './linear/wording.ts';
import { sheetWording } from './sheet/wording.ts';
import { stageWording } from './stages/wording.ts';

const tables = [stageWording, languageWording, sheetWording, linearWording, motionWording, transferWording];

/** The words for a finding; an id without words is our own mistake and shows as itself. */
export function sentence(finding: Finding): Wording {
  for (const table of tables) {
    const make = Object.hasOwn(table, finding.id) ? table[finding.id] : undefined;
    if (make !== undefined) return make(finding.facts);
  }
  return { brief: finding.id, full: `${finding.id} ${JSON.stringify(finding.facts)}`, help: '' };
}

/** Every finding id that has words. */
export function wordedIds(): string[] {
  return [...new Set(tables.flatMap((table) => Object.keys(table)))].sort();
}
