/** The paper round a sheet: a double frame with zone letters and numbers, and the title block at the bottom right. */

import type { Area, Mark, Point, Role } from './marks.ts';
import { fitText, textWidth } from './metrics.ts';

export interface TitleEntry {
  readonly label: string;
  readonly value: string;
}

/** What stands in the title block, at the bottom right of the paper. */
export interface TitleBlock {
  readonly title: string;
  readonly entries: readonly TitleEntry[];
  /** A stamp across its end: `same bits`. */
  readonly stamp?: string;
}

/** Between the outer and the inner line of the frame, where the zone marks stand. */
const BAND = 20;
const OUTSIDE = 14;
const INSIDE = 36;
const ZONE = 320;

export interface Frame {
  readonly paper: Area;
  readonly marks: readonly Mark[];
}

export function frameMarks(bounds: Area, titleBlock: TitleBlock | undefined): Frame {
  const block = titleBlock === undefined ? undefined : layoutTitleBlock(titleBlock);
  const inner = innerFrame(bounds, block);
  const outer = grown(inner, BAND);
  const paper = grown(outer, OUTSIDE);
  const marks: Mark[] = [
    { shape: 'path', role: 'frame_fine', d: rectangle(outer) },
    { shape: 'path', role: 'frame', d: rectangle(inner) },
    ...zoneMarks(inner, outer),
    ...(block?.place(inner.x + inner.width - block.width, inner.y + inner.height - block.height) ?? []),
  ];
  return { paper, marks };
}

/** What lies inside the frame, and how many zones it is divided into each way. */
export interface ZoneGrid {
  readonly area: Area;
  readonly columns: number;
  readonly rows: number;
}

export function zoneGrid(bounds: Area, titleBlock: TitleBlock | undefined): ZoneGrid {
  const area = innerFrame(bounds, titleBlock === undefined ? undefined : layoutTitleBlock(titleBlock));
  return { area, columns: zones(area.width), rows: zones(area.height) };
}

/** The zone that a point of the paper is in: `C4`. */
export function zoneOf(point: Point, bounds: Area, titleBlock: TitleBlock | undefined): string {
  const { area, columns, rows } = zoneGrid(bounds, titleBlock);
  const index = (at: number, size: number, count: number) =>
    Math.min(count - 1, Math.max(0, Math.floor((at * count) / size)));
  return (
    zoneLetters(index(point.y - area.y, area.height, rows)) + String(index(point.x - area.x, area.width, columns) + 1)
  );
}

function zones(length: number): number {
  return Math.max(1, Math.round(length / ZONE));
}

function innerFrame(bounds: Area, block: TitleLayout | undefined): Area {
  return {
    x: bounds.x - INSIDE,
    y: bounds.y - INSIDE,
    width: Math.max(bounds.width + 2 * INSIDE, (block?.width ?? 0) + INSIDE),
    height: bounds.height + 2 * INSIDE + (block === undefined ? 0 : block.height + 12),
  };
}

function grown(area: Area, by: number): Area {
  return { x: area.x - by, y: area.y - by, width: area.width + 2 * by, height: area.height + 2 * by };
}

function rectangle({ x, y, width, height }: Area): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`;
}

/** Letters down the sides, numbers along top and bottom. */
function zoneMarks(inner: Area, outer: Area): Mark[] {
  const marks: Mark[] = [];
  let ticks = '';
  const columns = zones(inner.width);
  const rows = zones(inner.height);
  const text = { shape: 'text', role: 'zone', size: 11.5, face: 'upright', anchor: 'middle' } as const;
  for (let i = 0; i < columns; i++) {
    const x = inner.x + (inner.width * (i + 0.5)) / columns;
    for (const y of [outer.y, inner.y + inner.height])
      marks.push({ ...text, x, y: y + BAND / 2 + 4, text: String(i + 1) });
    const edge = Math.round(inner.x + (inner.width * i) / columns);
    if (i > 0) ticks += `M${edge} ${outer.y}v${BAND}M${edge} ${inner.y + inner.height}v${BAND}`;
  }
  for (let j = 0; j < rows; j++) {
    const y = inner.y + (inner.height * (j + 0.5)) / rows;
    for (const x of [outer.x, inner.x + inner.width])
      marks.push({ ...text, x: x + BAND / 2, y: y + 4, text: zoneLetters(j) });
    const edge = Math.round(inner.y + (inner.height * j) / rows);
    if (j > 0) ticks += `M${outer.x} ${edge}h${BAND}M${inner.x + inner.width} ${edge}h${BAND}`;
  }
  return [...(ticks === '' ? [] : [{ shape: 'path', role: 'frame_fine', d: ticks } as const]), ...marks];
}

/** The letters of a row of zones, from 0: A … Z, AA … */
export function zoneLetters(index: number): string {
  const letter = String.fromCharCode(65 + (index % 26));
  return index < 26 ? letter : zoneLetters(Math.floor(index / 26) - 1) + letter;
}

interface TitleLayout {
  readonly width: number;
  readonly height: number;
  place(x: number, y: number): Mark[];
}

const TITLE_SIZE = 19;
const TITLE_ROW = 36;
const ENTRY_ROW = 36;
const LABEL_SIZE = 10.5;
const VALUE_SIZE = 13;
const CELL_PADDING = 10;
const WIDEST_VALUE = 180;

/** The title over a row of entries, with the stamp beside the title. */
export function layoutTitleBlock(block: TitleBlock): TitleLayout {
  const cells = block.entries.map((entry) => {
    const value = fitText(entry.value, WIDEST_VALUE, VALUE_SIZE);
    const width =
      Math.ceil(Math.max(textWidth(value, VALUE_SIZE), textWidth(entry.label, LABEL_SIZE))) + 2 * CELL_PADDING;
    return { label: entry.label, value, width };
  });
  const entriesWidth = cells.reduce((sum, cell) => sum + cell.width, 0);
  const stampWidth = block.stamp === undefined ? 0 : textWidth(block.stamp, VALUE_SIZE, 'italic') + 44;
  const titleWidth = textWidth(block.title, TITLE_SIZE, 'bold') + 2 * CELL_PADDING + stampWidth;
  const width = Math.ceil(Math.min(Math.max(entriesWidth, titleWidth, 240), 720));
  const spare = cells.length === 0 ? 0 : Math.max(0, width - entriesWidth) / cells.length;
  const height = TITLE_ROW + (cells.length === 0 ? 0 : ENTRY_ROW);
  return {
    width,
    height,
    place(x, y) {
      const title = fitText(block.title, width - 2 * CELL_PADDING - stampWidth, TITLE_SIZE, 'bold');
      const marks: Mark[] = [
        { shape: 'path', role: 'title_block', d: rectangle({ x, y, width, height }) },
        textMark('title', x + CELL_PADDING, y + 25, TITLE_SIZE, title, 'bold'),
        ...(block.stamp === undefined ? [] : stampMarks(block.stamp, x + width - CELL_PADDING, y + TITLE_ROW / 2)),
      ];
      let left = x;
      let dividers = cells.length === 0 ? '' : `M${x} ${y + TITLE_ROW}h${width}`;
      cells.forEach((cell, i) => {
        if (i > 0) dividers += `M${Math.round(left)} ${y + TITLE_ROW}v${ENTRY_ROW}`;
        marks.push(textMark('entry_label', left + CELL_PADDING, y + TITLE_ROW + 14, LABEL_SIZE, cell.label, 'upright'));
        marks.push(textMark('entry', left + CELL_PADDING, y + TITLE_ROW + 29, VALUE_SIZE, cell.value, 'upright'));
        left += cell.width + spare;
      });
      if (dividers !== '') marks.push({ shape: 'path', role: 'frame_fine', d: dividers });
      return marks;
    },
  };
}

function textMark(role: Role, x: number, y: number, size: number, text: string, face: 'upright' | 'bold'): Mark {
  return { shape: 'text', role, x, y, size, text, face, anchor: 'start' };
}

/** A rubber stamp: words in a slanted frame. */
function stampMarks(text: string, right: number, middle: number): Mark[] {
  const width = textWidth(text, VALUE_SIZE, 'italic') + 20;
  const left = right - width;
  return [
    { shape: 'path', role: 'stamp', d: `M${left + 3} ${middle - 10}H${right}L${right - 3} ${middle + 10}H${left}z` },
    {
      shape: 'text',
      role: 'stamp_text',
      x: left + width / 2,
      y: middle + 4.5,
      size: VALUE_SIZE,
      text,
      face: 'italic',
      anchor: 'middle',
    },
  ];
}
