/** How wide and high texts are in the three faces, from the glyph table alone: the same on every machine. */

import { glyphTable } from './glyphs.ts';
import type { Face } from './marks.ts';

/** In thousandths of the font size. */
export interface Glyph {
  readonly advance: number;
  /** Of the ink above and below the baseline. */
  readonly ascent: number;
  readonly descent: number;
  /** How far a slanted glyph leans out at its top. */
  readonly correction: number;
  /** Where an accent stands above it, from its left. */
  readonly accent: number;
}

/** For characters that the font does not have; screens take them from another font. */
const missing: Glyph = { advance: 600, ascent: 700, descent: 200, correction: 0, accent: 300 };

const tables: Readonly<Record<Face, ReadonlyMap<string, Glyph>>> = {
  upright: read(glyphTable.upright),
  italic: read(glyphTable.italic),
  bold: read(glyphTable.bold),
};

function read(table: string): ReadonlyMap<string, Glyph> {
  const glyphs = new Map<string, Glyph>();
  for (const row of table.split(/[\n\t]/)) {
    if (row === '') continue;
    const [advance = 0, ascent = 0, descent = 0, correction = 0, accent = 0] = row.slice(2).split(' ').map(Number);
    glyphs.set(row.charAt(0), { advance, ascent, descent, correction, accent });
  }
  return glyphs;
}

/** One character; a face that lacks it has the upright one. */
export function glyphOf(character: string, face: Face): Glyph {
  return tables[face].get(character) ?? tables.upright.get(character) ?? missing;
}

/** Whether the font can draw a character in a face. */
export function hasGlyph(character: string, face: Face): boolean {
  return tables[face].has(character);
}

/** Width of a text in px. */
export function textWidth(text: string, size: number, face: Face = 'upright'): number {
  let width = 0;
  for (const character of text) width += glyphOf(character, face).advance;
  return (width * size) / 1000;
}

/** A text cut to fit, with an ellipsis where something was left out. */
export function fitText(text: string, width: number, size: number, face: Face = 'upright'): string {
  if (textWidth(text, size, face) <= width) return text;
  const characters = [...text];
  while (characters.length > 0 && textWidth(`${characters.join('')}…`, size, face) > width) characters.pop();
  return `${characters.join('').trimEnd()}…`;
}
