/** Settings put from outside a sheet, as a run or a command does before it is compiled. */

import { type Edit, type Finding, type Found, nearestNames } from '../findings.ts';
import { applyEdits } from './edits.ts';
import { entry, type Named, type SettingValue, type Sheet } from './sheet.ts';

/**
 * The sheet with settings put by dotted path: `outer.gain`, or `balance.tilt.corner` inside a group. Whether a block
 * has such a setting is found when it is compiled; a block that is not there is found here.
 */
export function withSettings(sheet: Sheet, set: Named<SettingValue>): Found<Sheet> {
  const edits: Edit[] = [];
  const findings: Finding[] = [];
  for (const path of Object.keys(set).sort()) {
    const [block = '', ...rest] = path.split('.');
    if (rest.length === 0 || entry(sheet.blocks, block) === undefined) {
      const near = nearestNames(block, Object.keys(sheet.blocks))[0] ?? '';
      findings.push({ id: 'no_block_to_set', level: 'error', at: { path }, facts: { block, near } });
    } else edits.push({ path: ['blocks', block, 'set', rest.join('.')], value: set[path] });
  }
  return findings.length > 0 ? { value: undefined, findings } : { value: applyEdits(sheet, edits), findings };
}
