/** A whole sheet as SVG text: paper, ground, cards, lines, marks, title block and zones. */

import { glyphPath } from './glyph_paths.ts';
import type { Ground } from './ground.ts';
import type { Area, Face, Mark, TextMark } from './marks.ts';
import { glyphOf } from './metrics.ts';
import type { Palette, Style, Theme } from './palette.ts';
import { palettes, styles } from './palette.ts';
import type { TitleBlock } from './sheet_frame.ts';
import { frameMarks } from './sheet_frame.ts';

export type { TitleBlock, TitleEntry } from './sheet_frame.ts';

export interface CardOnSheet {
  readonly name: string;
  /** In words, for a reader. */
  readonly spoken: string;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  readonly marks: readonly Mark[];
}

export interface SheetPicture {
  /** What is to be on the paper, without the margin. */
  readonly bounds: Area;
  readonly ground: Ground;
  readonly cards: readonly CardOnSheet[];
  /** Marks of the lines, in paper coordinates. */
  readonly lines: readonly Mark[];
  /** Frames and notes, below the cards. */
  readonly remarks: readonly Mark[];
  readonly titleBlock: TitleBlock | undefined;
}

export interface SvgOptions {
  readonly theme?: Theme;
  /** `outlines` needs no font; `font` writes text in `Loopwright Math`. */
  readonly text?: 'outlines' | 'font';
  /** Whether the paper has its frame with zone letters and numbers. */
  readonly framed?: boolean;
}

/** A picture as a file of its own. The same picture and options always give the same text. */
export function drawSheet(picture: SheetPicture, options: SvgOptions = {}): string {
  const palette = palettes[options.theme ?? 'light'];
  const pen = new Pen(palette, options.text ?? 'outlines');
  const frame = options.framed === false ? undefined : frameMarks(picture.bounds, picture.titleBlock);
  const paper = frame?.paper ?? padded(picture.bounds, 24);
  const body = [
    `<rect x="${paper.x}" y="${paper.y}" width="${paper.width}" height="${paper.height}" fill="${palette.paper}"/>`,
    groundText(picture.ground, palette),
    group('remarks', pen.marks(picture.remarks)),
    group('lines', pen.marks(picture.lines)),
    ...picture.cards.map((card) => cardText(card, pen)),
    frame === undefined ? '' : group('frame', pen.marks(frame.marks)),
  ];
  const title = escapeText(picture.titleBlock?.title ?? 'sheet');
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="${paper.x} ${paper.y} ${paper.width} ${paper.height}" width="${paper.width}" height="${paper.height}" role="img" aria-label="${title}">`,
    `<title>${title}</title>`,
    `<defs>${hatchPattern(palette)}${pen.definitions()}</defs>`,
    ...body.filter((part) => part !== ''),
    '</svg>',
    '',
  ].join('\n');
}

function padded(area: Area, by: number): Area {
  return { x: area.x - by, y: area.y - by, width: area.width + 2 * by, height: area.height + 2 * by };
}

function group(name: string, content: string): string {
  return content === '' ? '' : `<g class="${name}">${content}</g>`;
}

function cardText(card: CardOnSheet, pen: Pen): string {
  const label = escapeText(card.spoken === '' ? card.name : `${card.name}: ${card.spoken}`);
  return `<g class="card" transform="translate(${card.x} ${card.y})"><title>${label}</title>${pen.marks(card.marks)}</g>`;
}

/** Flat tint with a hatch in a band along the edge only: under text it would hurt reading. */
function groundText(ground: Ground, palette: Palette): string {
  if (ground.d === '') return '';
  return [
    `<clipPath id="inside"><path d="${ground.d}" clip-rule="evenodd"/></clipPath>`,
    `<path d="${ground.d}" fill="${palette.ground}" fill-rule="evenodd"/>`,
    `<path d="${ground.d}" fill="none" stroke="url(#hatch)" stroke-width="20" stroke-linejoin="miter" clip-path="url(#inside)"/>`,
    `<path d="${ground.d}" fill="none" stroke="${palette.hatch}" stroke-width="1"/>`,
  ].join('');
}

function hatchPattern(palette: Palette): string {
  return `<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V6" stroke="${palette.hatch}" stroke-width="1.6"/></pattern>`;
}

/** Writes marks, and keeps the glyphs they used. */
class Pen {
  private readonly palette: Palette;
  private readonly text: 'outlines' | 'font';
  private readonly used = new Map<string, string>();

  constructor(palette: Palette, text: 'outlines' | 'font') {
    this.palette = palette;
    this.text = text;
  }

  marks(marks: readonly Mark[]): string {
    return marks
      .map((mark) => {
        if (mark.shape === 'path') return `<path d="${mark.d}"${this.attributes(styles[mark.role])}/>`;
        return this.text === 'font' ? this.plainText(mark) : this.outlinedText(mark);
      })
      .join('');
  }

  definitions(): string {
    return [...this.used].map(([id, d]) => `<path id="${id}" d="${d}"/>`).join('');
  }

  private attributes(style: Style): string {
    const fill = ` fill="${style.fill === undefined ? 'none' : this.palette[style.fill]}"`;
    if (style.stroke === undefined) return fill;
    const dash = style.dash === undefined ? '' : ` stroke-dasharray="${style.dash}"`;
    return `${fill} stroke="${this.palette[style.stroke]}" stroke-width="${style.width ?? 1}"${dash}`;
  }

  private plainText(mark: TextMark): string {
    const face = { upright: '', italic: ' font-style="italic"', bold: ' font-weight="bold"' }[mark.face];
    const anchor = mark.anchor === 'start' ? '' : ` text-anchor="${mark.anchor}"`;
    return `<text x="${round(mark.x)}" y="${round(mark.y)}" font-family="Loopwright Math" font-size="${round(mark.size)}"${face}${anchor} fill="${this.colour(mark)}">${escapeText(mark.text)}</text>`;
  }

  private outlinedText(mark: TextMark): string {
    const scale = mark.size / 1000;
    let x = 0;
    let uses = '';
    for (const character of mark.text) {
      const id = this.glyph(character, mark.face);
      if (id !== undefined) uses += x === 0 ? `<use href="#${id}"/>` : `<use href="#${id}" x="${x}"/>`;
      x += glyphOf(character, mark.face).advance;
    }
    const shift = mark.anchor === 'start' ? 0 : mark.anchor === 'end' ? x * scale : (x * scale) / 2;
    return `<g transform="translate(${round(mark.x - shift)} ${round(mark.y)}) scale(${round(scale, 5)})" fill="${this.colour(mark)}">${uses}</g>`;
  }

  private glyph(character: string, face: Face): string | undefined {
    const d = glyphPath(character, face);
    if (d === undefined) return undefined;
    const id = `${face.charAt(0)}${character.codePointAt(0)?.toString(16)}`;
    this.used.set(id, d);
    return id;
  }

  private colour(mark: TextMark): string {
    return this.palette[styles[mark.role].fill ?? 'ink'];
  }
}

function round(value: number, digits = 2): number {
  return Number(value.toFixed(digits));
}

function escapeText(text: string): string {
  return text.replace(/&/g, '&amp;').replace(/</g, '&lt;').replace(/>/g, '&gt;').replace(/"/g, '&quot;');
}
