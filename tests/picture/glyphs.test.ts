/** The glyph table against the font it was made from, read here from its own bytes (WOFF 1.0, W3C; OpenType `cmap`, `hmtx`, `MATH`). */

import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { inflateSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { mathConstants } from '../../compiler/picture/glyphs.ts';
import { fitText, glyphOf, hasGlyph, textWidth } from '../../compiler/picture/metrics.ts';

const root = join(import.meta.dirname, '../..');
const woff = readFileSync(
  join(root, 'node_modules/@fontsource/stix-two-math/files/stix-two-math-latin-400-normal.woff'),
);

function table(tag: string): DataView {
  for (let i = 0; i < woff.readUInt16BE(12); i++) {
    const at = 44 + 20 * i;
    if (woff.toString('latin1', at, at + 4) !== tag) continue;
    const [offset, packed, length] = [woff.readUInt32BE(at + 4), woff.readUInt32BE(at + 8), woff.readUInt32BE(at + 12)];
    const raw = woff.subarray(offset, offset + packed);
    const bytes = packed < length ? inflateSync(raw) : raw;
    return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }
  throw new Error(`no table ${tag}`);
}

/** Glyph of a character by the `cmap` subtable of format 12. */
function glyphIndex(code: number): number {
  const cmap = table('cmap');
  for (let i = 0; i < cmap.getUint16(2); i++) {
    const at = cmap.getUint32(4 + 8 * i + 4);
    if (cmap.getUint16(at) !== 12) continue;
    for (let group = 0; group < cmap.getUint32(at + 12); group++) {
      const [start, end, first] = [0, 4, 8].map((k) => cmap.getUint32(at + 16 + 12 * group + k));
      if (start !== undefined && end !== undefined && first !== undefined && code >= start && code <= end)
        return first + code - start;
    }
  }
  throw new Error(`no glyph for ${code.toString(16)}`);
}

function advance(code: number): number {
  const long = table('hhea').getUint16(34);
  return table('hmtx').getUint16(4 * Math.min(glyphIndex(code), long - 1));
}

test('upright letters, digits and signs are as wide as in the font', () => {
  for (const character of 'abcxyzABCXYZ0123456789+=()[]−·≤≠√∑θωΩ°⁺')
    expect(glyphOf(character, 'upright').advance, character).toBe(advance(character.codePointAt(0) ?? 0));
});

test('slanted and bold letters are those of the mathematical alphabets', () => {
  for (let i = 0; i < 26; i++) {
    const letter = String.fromCharCode(97 + i);
    expect(glyphOf(letter, 'bold').advance, letter).toBe(advance(0x1d41a + i));
    const slanted = letter === 'h' ? 0x210e : 0x1d44e + i;
    // The slanted f is set closer, so that words hold together.
    expect(glyphOf(letter, 'italic').advance, letter).toBe(advance(slanted) - (letter === 'f' ? 75 : 0));
  }
});

test('the constants are those of the MATH table', () => {
  const math = table('MATH');
  const constants = math.getUint16(4);
  // MathConstants of OpenType 1.9: two percentages and two minimum heights, then values with device offsets.
  const value = (index: number) => math.getInt16(constants + 8 + 4 * index);
  expect(mathConstants.scriptScale).toBe(math.getInt16(constants));
  expect(mathConstants.scriptScriptScale).toBe(math.getInt16(constants + 2));
  expect(mathConstants.axisHeight).toBe(value(1));
});

test('texts are as wide as their glyphs, and are cut to fit', () => {
  expect(textWidth('ab', 1000)).toBe(glyphOf('a', 'upright').advance + glyphOf('b', 'upright').advance);
  const cut = fitText('a long description', 40, 12);
  expect(cut.endsWith('…')).toBe(true);
  expect(textWidth(cut, 12)).toBeLessThanOrEqual(40);
  expect(fitText('short', 400, 12)).toBe('short');
});

test('every character that formulas and cards write is in its face', () => {
  for (const character of 'abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.-– ')
    for (const face of ['upright', 'italic', 'bold'] as const)
      expect(hasGlyph(character, face), `${character} ${face}`).toBe(true);
});

test('the three fonts together are under 40 kB', () => {
  const sizes = ['', '_italic', '_bold'].map(
    (face) => statSync(join(root, `editor/fonts/loopwright_math${face}.woff2`)).size,
  );
  expect(sizes.reduce((sum, size) => sum + size, 0)).toBeLessThan(40_000);
});
