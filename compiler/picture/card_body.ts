/** What stands inside a card: its law or its little curve, and the settings that are blanks below it. */

import type { Equation, Expression } from '../language/syntax.ts';
import type { CardDescription, CurveDescription, Field, Plot } from './card_size.ts';
import type { Formula } from './formula.ts';
import { layoutEquation, layoutFormula } from './formula.ts';
import type { Mark } from './marks.ts';
import { fitText, textWidth } from './metrics.ts';

const LAW_SIZE = 15;
const LAW_WIDTH = 320;
const LAW_GAP = 10;
const SETTING_SIZE = 12.5;
const SETTING_PITCH = 19;
const VALUE_WIDTH = 130;
const PLOT_WIDTH = 104;
const PLOT_HEIGHT = 52;
const CORNER_SIZE = 11.5;

export interface PlacedBody {
  readonly marks: readonly Mark[];
  readonly fields: readonly Field[];
  readonly plot: Plot | undefined;
}

export interface Body {
  readonly width: number;
  /** How far it reaches above and below the card's axis. */
  readonly above: number;
  readonly below: number;
  place(x: number, axis: number): PlacedBody;
  /** The law's head, as large as fits between the edges given. */
  head(left: number, right: number, top: number, bottom: number): readonly Mark[];
}

interface Part {
  readonly width: number;
  readonly above: number;
  readonly below: number;
  place(x: number, axis: number): PlacedBody;
}

export function layoutBody(description: CardDescription): Body {
  const main = description.curve === undefined ? lawPart(description) : curvePart(description.curve);
  const settings = settingsPart(description);
  const head = (left: number, right: number, top: number, bottom: number) =>
    description.inside !== undefined
      ? insideMarks(description.inside, left, right, top, bottom)
      : description.curve === undefined
        ? headMarks(description, left, right, top, bottom)
        : curvePart({ ...description.curve, corners: [] }).place((left + right - PLOT_WIDTH) / 2, (top + bottom) / 2)
            .marks;
  if (main === undefined) return { ...(settings ?? nothing), head };
  if (settings === undefined) return { ...main, head };
  const width = Math.max(main.width, settings.width);
  const down = main.below + settings.above + 7;
  return {
    width,
    above: main.above,
    below: down + settings.below,
    place(x, axis) {
      const upper = main.place(x + (width - main.width) / 2, axis);
      const lower = settings.place(x + (width - settings.width) / 2, axis + down);
      return {
        marks: [...upper.marks, ...lower.marks],
        fields: [...upper.fields, ...lower.fields],
        plot: upper.plot,
      };
    },
    head,
  };
}

const nothing: Part = { width: 20, above: 0, below: 0, place: () => ({ marks: [], fields: [], plot: undefined }) };

/** The equations below each other; a single one has its axis on the card's. */
function lawPart(description: CardDescription): Part | undefined {
  const formulas = description.law.map((equation) =>
    layoutEquation(equation, { size: LAW_SIZE, maxWidth: LAW_WIDTH, values: description.values }),
  );
  const [only] = formulas;
  if (only === undefined) return undefined;
  const heights = formulas.map((formula) => formula.ascent + formula.descent);
  const total = heights.reduce((sum, height) => sum + height, 0) + LAW_GAP * (formulas.length - 1);
  const above = formulas.length === 1 ? only.ascent - only.axis : total / 2;
  return {
    width: Math.max(...formulas.map((formula) => formula.width)),
    above,
    below: total - above,
    place(x, axis) {
      let y = axis - above;
      const placed = formulas.map((formula, i) => {
        const here = formulaMarks(formula, x, y + formula.ascent);
        y += (heights[i] ?? 0) + LAW_GAP;
        return here;
      });
      return {
        marks: placed.flatMap((each) => each.marks),
        fields: placed.flatMap((each) => each.fields),
        plot: undefined,
      };
    },
  };
}

/** A formula with its baseline's left end at a place. */
export function formulaMarks(
  formula: Formula,
  x: number,
  y: number,
): { readonly marks: Mark[]; readonly fields: Field[] } {
  const marks: Mark[] = [];
  const fields: Field[] = [];
  for (const run of formula.runs) {
    const { size, text, face, setting } = run;
    marks.push({
      shape: 'text',
      role: 'law',
      x: x + run.x,
      y: y + run.y,
      size,
      text,
      face,
      anchor: 'start',
      ...(setting === undefined ? {} : { setting }),
    });
  }
  for (const rule of formula.rules) {
    const { width, height, setting } = rule;
    const left = x + rule.x;
    const top = y + rule.y;
    marks.push({
      shape: 'path',
      role: setting === undefined ? 'law' : 'blank',
      d: `M${round(left)} ${round(top)}h${round(width)}v${round(height)}h${round(-width)}z`,
    });
    if (setting === undefined) continue;
    const own = formula.runs.filter(
      (run) =>
        run.setting === setting &&
        run.x >= rule.x - 1 &&
        run.x <= rule.x + width &&
        Math.abs(run.y - rule.y) < 2 * run.size,
    );
    const size = Math.max(...own.map((run) => run.size), 8);
    fields.push({
      setting,
      text: own.map((run) => run.text).join(''),
      fontSize: size,
      x: left,
      y: top - size,
      width,
      height: size + 3,
    });
  }
  return { marks, fields };
}

/** A line for each setting: its name, then its value over a blank. */
function settingsPart(description: CardDescription): Part | undefined {
  const lines = description.settings.map((setting) => ({
    ...setting,
    value: fitText(setting.value, VALUE_WIDTH, SETTING_SIZE),
  }));
  if (lines.length === 0) return undefined;
  const names = Math.max(...lines.map((line) => textWidth(line.name, SETTING_SIZE)));
  const values = Math.max(24, ...lines.map((line) => textWidth(line.value, SETTING_SIZE)));
  const half = (lines.length * SETTING_PITCH) / 2;
  return {
    width: names + 10 + values,
    above: half,
    below: half,
    place(x, axis) {
      const marks: Mark[] = [];
      const fields: Field[] = [];
      lines.forEach((line, i) => {
        const y = axis - half + i * SETTING_PITCH + 14;
        const left = x + names + 10;
        const text = {
          shape: 'text',
          role: 'setting',
          y,
          size: SETTING_SIZE,
          face: 'upright',
          anchor: 'start',
        } as const;
        marks.push({ ...text, role: 'port', x, text: line.name });
        marks.push({ ...text, x: left, text: line.value, setting: line.name });
        marks.push({
          shape: 'path',
          role: 'blank',
          d: `M${round(left)} ${y + 2.5}h${round(values)}v0.75h${round(-values)}z`,
        });
        fields.push({
          setting: line.name,
          text: line.value,
          fontSize: SETTING_SIZE,
          x: left,
          y: y - 12,
          width: values,
          height: 16,
        });
      });
      return { marks, fields, plot: undefined };
    },
  };
}

function curvePart(curve: CurveDescription): Part {
  const xs = range(curve.points.map((point) => point.x));
  const ys = range(curve.points.map((point) => point.y));
  const labels = curve.corners.length > 0 ? 13 : 2;
  return {
    width: PLOT_WIDTH,
    above: PLOT_HEIGHT / 2 + labels,
    below: PLOT_HEIGHT / 2 + labels,
    place(left, axis) {
      const top = axis - PLOT_HEIGHT / 2;
      const x = (value: number) => left + ((value - xs[0]) / (xs[1] - xs[0])) * PLOT_WIDTH;
      const y = (value: number) => top + PLOT_HEIGHT - ((value - ys[0]) / (ys[1] - ys[0])) * PLOT_HEIGHT;
      const line = curve.points
        .map((point, i) => `${i === 0 ? 'M' : 'L'}${round(x(point.x))} ${round(y(point.y))}`)
        .join('');
      const zeroX = xs[0] <= 0 && xs[1] >= 0 ? `M${round(x(0))} ${top - 4}V${top + PLOT_HEIGHT + 4}` : '';
      const zeroY = ys[0] <= 0 && ys[1] >= 0 ? `M${left - 4} ${round(y(0))}H${left + PLOT_WIDTH + 4}` : '';
      const marks: Mark[] = [
        { shape: 'path', role: 'axis', d: zeroX + zeroY },
        { shape: 'path', role: 'curve', d: line },
      ];
      const fields: Field[] = [];
      for (const corner of curve.corners) {
        const width = textWidth(corner.value, CORNER_SIZE);
        const { flatRight, above } = cornerShape(curve, corner.at.x);
        const free = flatRight ? x(corner.at.x) : x(corner.at.x) - width;
        const textX = Math.min(Math.max(free, left), left + PLOT_WIDTH - width);
        const textY = y(corner.at.y) + (above ? -5 : 12);
        marks.push({
          shape: 'text',
          role: 'setting',
          x: textX,
          y: textY,
          size: CORNER_SIZE,
          text: corner.value,
          face: 'upright',
          anchor: 'start',
          setting: corner.setting,
        });
        marks.push({
          shape: 'path',
          role: 'blank',
          d: `M${round(textX)} ${round(textY + 2)}h${round(width)}v0.75h${round(-width)}z`,
        });
        fields.push({
          setting: corner.setting,
          text: corner.value,
          fontSize: CORNER_SIZE,
          x: textX,
          y: textY - 11,
          width,
          height: 14,
        });
      }
      const area = { x: left, y: top, width: PLOT_WIDTH, height: PLOT_HEIGHT };
      return { marks, fields, plot: { area, x: xs, y: ys } };
    },
  };
}

function range(values: readonly number[]): readonly [number, number] {
  const low = Math.min(...values);
  const high = Math.max(...values);
  return high > low ? [low, high] : [low - 1, high + 1];
}

/** On which side of a corner the curve is flatter, and whether it bends down there. */
function cornerShape(curve: CurveDescription, x: number): { readonly flatRight: boolean; readonly above: boolean } {
  const before = slope(curve, x, -1);
  const after = slope(curve, x, 1);
  return { flatRight: Math.abs(after) <= Math.abs(before), above: after < before };
}

function slope(curve: CurveDescription, x: number, side: -1 | 1): number {
  const points =
    side < 0 ? curve.points.filter((point) => point.x < x).reverse() : curve.points.filter((point) => point.x > x);
  const [near, far] = points;
  if (near === undefined || far === undefined || near.x === far.x) return 0;
  return (far.y - near.y) / (far.x - near.x);
}

/** Across an outline, and how far the blocks in it are apart, of the drawing a group shows from a distance. */
const SMALL = { width: 22, height: 13, across: 200, down: 110 };

/** What is inside a group, small: its blocks as outlines where they stand, joined by the shortest lines. */
function insideMarks(
  { blocks, wires }: NonNullable<CardDescription['inside']>,
  left: number,
  right: number,
  top: number,
  bottom: number,
): Mark[] {
  if (blocks.length === 0) return [];
  const xs = range(blocks.map((block) => block.x));
  const ys = range(blocks.map((block) => block.y));
  const wide = Math.min(right - left - SMALL.width - 24, ((xs[1] - xs[0]) / SMALL.across) * 2 * SMALL.width);
  const high = Math.min(bottom - top - SMALL.height - 14, ((ys[1] - ys[0]) / SMALL.down) * 2 * SMALL.height);
  if (wide < 0 || high < 0) return [];
  const places = blocks.map((block) => ({
    x: round((left + right - wide) / 2 + ((block.x - xs[0]) / (xs[1] - xs[0])) * wide),
    y: round((top + bottom - high) / 2 + ((block.y - ys[0]) / (ys[1] - ys[0])) * high),
  }));
  const outline = ({ x, y }: { x: number; y: number }) =>
    `M${round(x - SMALL.width / 2)} ${round(y - SMALL.height / 2)}h${SMALL.width}v${SMALL.height}h${-SMALL.width}z`;
  const line = wires.flatMap(([from, to]) => {
    const [a, b] = [places[from], places[to]];
    return a === undefined || b === undefined ? [] : [`M${a.x} ${a.y}L${b.x} ${b.y}`];
  });
  return [
    { shape: 'path', role: 'axis', d: line.join('') },
    { shape: 'path', role: 'inside', d: places.map(outline).join('') },
  ];
}

/** The first equation's head: its fraction if it is one times a signal, else its right side. */
function headMarks(description: CardDescription, left: number, right: number, top: number, bottom: number): Mark[] {
  const [first] = description.law;
  if (first === undefined) return [];
  for (const size of [22, 19, 16, 13]) {
    const formula = layoutFormula(headOf(first), { size, values: description.values });
    if (formula.width > right - left - 16 || formula.ascent + formula.descent > bottom - top - 8) continue;
    const x = (left + right - formula.width) / 2;
    const y = (top + bottom) / 2 + (formula.ascent - formula.descent) / 2;
    return formulaMarks(formula, x, y).marks;
  }
  const dots = layoutFormula({ kind: 'word', word: '…', at: { line: 1, column: 1 } }, { size: 22 });
  return formulaMarks(dots, (left + right - dots.width) / 2, (top + bottom) / 2).marks;
}

function headOf(equation: Equation): Expression {
  let head = equation.value;
  while (head.kind === 'binary' && head.op === '*') {
    const part: Expression =
      [head.left, head.right].find((side) => side.kind === 'binary' && side.op === '/') ?? head.left;
    if (part.kind !== 'binary') break;
    head = part;
  }
  return head;
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
