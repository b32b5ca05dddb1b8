/** What tells one design from another: a hash of all of a sheet that means something. */

import { saveSheet } from './save.ts';
import { blankSheet, type Group, type Named, type Sheet } from './sheet.ts';

/** SHA-256 in hexadecimal of the sheet's canonical text without its desk and layouts: moving a card changes nothing. */
export async function sheetHash(sheet: Sheet): Promise<string> {
  const shelf: Record<string, string | Group> = {};
  for (const [name, thing] of Object.entries(sheet.shelf))
    shelf[name] = typeof thing === 'string' ? thing : { ...thing, layout: {} };
  const bare: Sheet = { ...sheet, shelf: shelf satisfies Named<string | Group>, desk: blankSheet().desk, layout: {} };
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(saveSheet(bare)));
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}
