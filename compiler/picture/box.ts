/** Boxes of mathematics: text, rows, fractions, scripts, roots, brackets and grids, each with its size and its ink. */

import { bracketSizes, mathConstants as constants } from './glyphs.ts';
import type { Face } from './marks.ts';
import { glyphOf, textWidth } from './metrics.ts';

/** Text at a place: `x`, `y` are the left end of its baseline; the box's own baseline is at 0, y goes down. */
export interface Run {
  readonly x: number;
  readonly y: number;
  /** Font size, px. */
  readonly size: number;
  readonly text: string;
  readonly face: Face;
  /** `face === 'italic'`. */
  readonly italic: boolean;
  /** The setting whose value this is, in a law with numbers put in. */
  readonly setting?: string;
}

/** A filled bar: of a fraction, over a root, under a number that can be edited (then `setting` names it). */
export interface Rule {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  readonly setting?: string;
}

export interface Box {
  readonly width: number;
  /** Above and below the baseline; negative where the ink is on the other side. */
  readonly ascent: number;
  readonly descent: number;
  readonly runs: readonly Run[];
  readonly rules: readonly Rule[];
  /** How far its last glyph leans out to the right at its top. */
  readonly lean?: number;
  /** Where an accent stands above it. */
  readonly accent?: number;
}

/** How high above the baseline the axis of a formula is: bars of fractions, arms of plus signs. */
export function axisOf(size: number): number {
  return (constants.axisHeight * size) / 1000;
}

export function space(width: number): Box {
  return { width, ascent: 0, descent: 0, runs: [], rules: [] };
}

/** Text in one face. Ascent and descent are those of its ink. */
export function text(characters: string, size: number, face: Face, setting?: string): Box {
  const glyphs = [...characters].map((character) => glyphOf(character, face));
  const scale = size / 1000;
  const last = glyphs.at(-1);
  const run: Run = {
    x: 0,
    y: 0,
    size,
    text: characters,
    face,
    italic: face === 'italic',
    ...(setting === undefined ? {} : { setting }),
  };
  return {
    width: textWidth(characters, size, face),
    ascent: Math.max(0, ...glyphs.map((glyph) => glyph.ascent)) * scale,
    descent: Math.max(0, ...glyphs.map((glyph) => glyph.descent)) * scale,
    runs: characters.trim() === '' ? [] : [run],
    rules: [],
    lean: (last?.correction ?? 0) * scale,
    accent: glyphs.length === 1 ? (last?.accent ?? 0) * scale : textWidth(characters, size, face) / 2,
  };
}

/** The same box elsewhere in its parent: to the right, and down. */
export function shifted(box: Box, right: number, down: number): Box {
  return {
    ...box,
    ascent: box.ascent - down,
    descent: box.descent + down,
    runs: box.runs.map((run) => ({ ...run, x: run.x + right, y: run.y + down })),
    rules: box.rules.map((rule) => ({ ...rule, x: rule.x + right, y: rule.y + down })),
  };
}

/** Boxes laid over each other where they stand, in a box of the given width. */
export function overlay(width: number, boxes: readonly Box[]): Box {
  return {
    width,
    ascent: Math.max(0, ...boxes.map((box) => box.ascent)),
    descent: Math.max(0, ...boxes.map((box) => box.descent)),
    runs: boxes.flatMap((box) => box.runs),
    rules: boxes.flatMap((box) => box.rules),
  };
}

/** Boxes side by side on one baseline. */
export function row(boxes: readonly Box[]): Box {
  let x = 0;
  const placed = boxes.map((box) => {
    const here = shifted(box, x, 0);
    x += box.width;
    return here;
  });
  const lean = boxes.at(-1)?.lean;
  return { ...overlay(x, placed), ...(lean === undefined ? {} : { lean }), accent: x / 2 };
}

/** Raised or lowered so that the box's middle is on the axis. */
export function centred(box: Box, size: number): Box {
  return shifted(box, 0, (box.ascent - box.descent) / 2 - axisOf(size));
}

export function fraction(above: Box, below: Box, size: number): Box {
  const unit = size / 1000;
  const thickness = constants.fractionRuleThickness * unit;
  const gap = 2 * constants.fractionNumeratorGapMin * unit;
  const axis = axisOf(size);
  const overhang = 0.1 * size;
  const width = Math.max(above.width, below.width) + 2 * overhang;
  const up = Math.max(
    constants.fractionNumeratorShiftUp * unit,
    axis + thickness / 2 + gap + Math.max(above.descent, 0.05 * size),
  );
  const down = Math.max(constants.fractionDenominatorShiftDown * unit, below.ascent + gap + thickness / 2 - axis);
  const bar: Rule = { x: 0, y: -axis - thickness / 2, width, height: thickness };
  const body = overlay(width, [
    shifted(above, (width - above.width) / 2, -up),
    shifted(below, (width - below.width) / 2, down),
    { ...space(width), rules: [bar] },
  ]);
  const side = 0.08 * size;
  return { ...shifted(body, side, 0), width: width + 2 * side };
}

/** A superscript, a subscript or both, set to the right of a base. */
export function scripts(base: Box, above: Box | undefined, below: Box | undefined, size: number): Box {
  const unit = size / 1000;
  const after = constants.spaceAfterScript * unit;
  const parts = [base];
  let width = base.width;
  if (above !== undefined) {
    const up = Math.max(constants.superscriptShiftUp * unit, base.ascent - 0.28 * size);
    parts.push(shifted(above, base.width + (base.lean ?? 0), -up));
    width = Math.max(width, base.width + (base.lean ?? 0) + above.width + after);
  }
  if (below !== undefined) {
    const down = Math.max(constants.subscriptShiftDown * unit, base.descent - 0.05 * size);
    parts.push(shifted(below, base.width, down));
    width = Math.max(width, base.width + below.width + after);
  }
  return overlay(width, parts);
}

/** A bracket at least as high as wanted and no less than the letters, its middle on the axis. */
export function bracket(character: string, wanted: number, size: number): Box {
  const sizes = bracketSizes[character] ?? [];
  const fitting = sizes.find(([, height]) => (height * size) / 1000 >= wanted) ?? sizes.at(-1);
  if (fitting === undefined) return text(character, size, 'upright');
  const [glyph, height] = fitting;
  const stretch = Math.max(1, wanted / ((height * size) / 1000));
  return centred({ ...text(glyph, size * stretch, 'upright'), lean: 0 }, size);
}

/** A box between brackets that grow with it; an empty string leaves a side open. */
export function bracketed(left: string, inside: Box, right: string, size: number): Box {
  const axis = axisOf(size);
  const wanted = 2 * Math.max(inside.ascent - axis, inside.descent + axis, 0.4 * size) * 0.96;
  const side = (character: string) => (character === '' ? [] : [bracket(character, wanted, size)]);
  return row([...side(left), inside, space(inside.lean ?? 0), ...side(right)]);
}

export function root(inside: Box, size: number): Box {
  const unit = size / 1000;
  const thickness = constants.radicalRuleThickness * unit;
  const gap = constants.radicalVerticalGap * unit;
  const ascent = Math.max(inside.ascent, 0.5 * size);
  const wanted = ascent + inside.descent + gap + thickness;
  const sign = bracket('√', wanted, size);
  const top = -(ascent + gap + thickness);
  const hook = shifted(sign, 0, top + sign.ascent);
  const bar: Rule = { x: sign.width - 0.02 * size, y: top, width: inside.width + 0.08 * size, height: thickness };
  return overlay(sign.width + inside.width + 0.1 * size, [
    hook,
    shifted(inside, sign.width + 0.03 * size, 0),
    { ...space(0), ascent: -top, rules: [bar] },
  ]);
}

/** A dot above, as for a rate of change. */
export function dotted(base: Box, size: number, dots: 1 | 2 = 1): Box {
  const accent = dots === 1 ? '˙' : '¨';
  const dot = text(accent, size, 'upright');
  const ink = glyphOf(accent, 'upright');
  const rise = Math.max(0, base.ascent - (constants.accentBaseHeight * size) / 1000);
  const placed = shifted(dot, (base.accent ?? base.width / 2) - (ink.accent * size) / 1000, -rise);
  return { ...overlay(base.width, [base, placed]), lean: base.lean ?? 0 };
}

/** Rows of cells with their columns aligned, the whole centred on the axis. */
export function grid(
  rows: readonly (readonly Box[])[],
  size: number,
  options: { readonly columnGap: number; readonly rowGap: number; readonly align: 'left' | 'middle' },
): Box {
  const columns = Math.max(0, ...rows.map((cells) => cells.length));
  const widths = Array.from({ length: columns }, (_, j) => Math.max(0, ...rows.map((cells) => cells[j]?.width ?? 0)));
  const placed: Box[] = [];
  let y = 0;
  rows.forEach((cells, i) => {
    const ascent = Math.max(0.5 * size, ...cells.map((cell) => cell.ascent));
    const descent = Math.max(0.1 * size, ...cells.map((cell) => cell.descent));
    y += ascent + (i === 0 ? 0 : options.rowGap);
    let x = 0;
    cells.forEach((cell, j) => {
      const width = widths[j] ?? 0;
      placed.push(shifted(cell, options.align === 'left' ? x : x + (width - cell.width) / 2, y));
      x += width + options.columnGap;
    });
    y += descent;
  });
  const width = widths.reduce((sum, each) => sum + each, 0) + Math.max(0, columns - 1) * options.columnGap;
  const whole = overlay(width, placed);
  return centred({ ...whole, ascent: 0, descent: y }, size);
}

/** A thin bar under a box: a blank that can be filled in. */
export function underlined(box: Box, size: number, setting: string): Box {
  const rule: Rule = {
    x: 0,
    y: box.descent + 0.1 * size,
    width: box.width,
    height: Math.max(0.75, 0.05 * size),
    setting,
  };
  return { ...box, descent: rule.y + rule.height, rules: [...box.rules, rule] };
}
