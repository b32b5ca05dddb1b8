/** Texts as outlines, so that an exported picture looks the same where the font is not at hand. */

import type { Face } from './marks.ts';
import { hasGlyph } from './metrics.ts';
import { outlineTable } from './outlines.ts';

const paths: Readonly<Record<Face, ReadonlyMap<string, string>>> = {
  upright: read(outlineTable.upright),
  italic: read(outlineTable.italic),
  bold: read(outlineTable.bold),
};

function read(table: string): ReadonlyMap<string, string> {
  return new Map(
    table
      .split('\n')
      .filter((row) => row !== '')
      .map((row) => [row.charAt(0), row.slice(2)]),
  );
}

/** Path data of one glyph, 1000 to the font size, y down, or undefined for a blank or a character the font lacks. */
export function glyphPath(character: string, face: Face): string | undefined {
  const own: Face = hasGlyph(character, face) ? face : 'upright';
  const path = paths[own].get(character);
  return path === '' ? undefined : path;
}
