/** What people put beside the blocks: frames, notes, and lines cut into two torn ends. */

import type { Desk, Sheet } from '../sheet/sheet.ts';
import { entry } from '../sheet/sheet.ts';
import { arrowPath } from './line_marks.ts';
import type { Area, Mark, Point } from './marks.ts';
import { fitText, textWidth } from './metrics.ts';
import type { RoutePort } from './router.ts';
import type { TitleBlock } from './sheet_frame.ts';
import { zoneOf } from './sheet_frame.ts';

const NOTE_SIZE = 14;
const NOTE_LINE = 19;
const NOTE_WIDTH = 280;
const TAP = 24;
const TAP_SIZE = 12;

export interface Remarks {
  readonly marks: readonly Mark[];
  readonly areas: readonly Area[];
}

/** Frames with their titles, and notes broken into lines, of the sheet or of one of its groups; larger than usual, what does not fit is cut. */
export function remarkMarks(desk: Desk, scope: string | undefined, size = NOTE_SIZE): Remarks {
  const marks: Mark[] = [];
  const areas: Area[] = [];
  for (const frame of Object.values(desk.frames)) {
    if (frame.in !== scope) continue;
    const [x, y] = frame.at;
    const [width, height] = frame.size;
    areas.push({ x, y: y - 10, width, height: height + 10 });
    marks.push({ shape: 'path', role: 'remark', d: `M${x} ${y}h${width}v${height}h${-width}z` });
    if (frame.title !== undefined)
      marks.push({
        shape: 'text',
        role: 'note',
        x: x + 8,
        y: y - 6,
        size,
        text: size === NOTE_SIZE ? frame.title : fitText(frame.title, width - 16, size, 'italic'),
        face: 'italic',
        anchor: 'start',
      });
  }
  for (const note of Object.values(desk.notes)) {
    if (note.in !== scope) continue;
    const [x, y] = note.at;
    const room = note.size?.[0] ?? NOTE_WIDTH;
    const lines = wrapped(note.text, room);
    const width = Math.max(0, ...lines.map((line) => textWidth(line, NOTE_SIZE)));
    const height = lines.length * NOTE_LINE;
    const pitch = (size * NOTE_LINE) / NOTE_SIZE;
    areas.push({ x, y, width, height });
    const shown =
      size === NOTE_SIZE ? lines : cut(wrapped(note.text, room, size), Math.floor(height / pitch), room, size);
    shown.forEach((text, i) => {
      marks.push({
        shape: 'text',
        role: 'note',
        x,
        y: y + size + i * pitch,
        size,
        text,
        face: 'upright',
        anchor: 'start',
      });
    });
  }
  return { marks, areas };
}

/** The first lines, at least one; the last says that there is more. */
function cut(lines: readonly string[], most: number, width: number, size: number): string[] {
  const kept = lines.slice(0, Math.max(1, most));
  const last = kept.pop() ?? '';
  return [...kept, kept.length + 1 < lines.length ? fitText(`${last} …`, width, size) : last];
}

/** A text in lines no wider than given, broken at spaces. */
export function wrapped(text: string, width: number, size = NOTE_SIZE): string[] {
  return text.split('\n').flatMap((paragraph) => {
    const lines: string[] = [];
    let line = '';
    for (const word of paragraph.split(' ')) {
      const longer = line === '' ? word : `${line} ${word}`;
      if (line !== '' && textWidth(longer, size) > width) {
        lines.push(line);
        line = word;
      } else line = longer;
    }
    return [...lines, line];
  });
}

/** Both ends of each cut line, each with the name and the other end's zone. */
export function tapMarks(
  sheet: Sheet,
  ports: ReadonlyMap<string, RoutePort>,
  bounds: Area,
  titleBlock: TitleBlock | undefined,
): Mark[] {
  const marks: Mark[] = [];
  const torn = new Set<string>();
  for (const [input, tap] of Object.entries(sheet.desk.taps)) {
    const output = entry(sheet.wires, input);
    const to = ports.get(`in ${input}`);
    const from = output === undefined ? undefined : ports.get(`out ${output}`);
    if (to === undefined || from === undefined) continue;
    const label = tap.label ?? from.name;
    marks.push({ shape: 'path', role: 'arrow', d: arrowPath(to, to.side) });
    marks.push(...tornEnd(to, `${zoneOf(from, bounds, titleBlock)} → ${label}`));
    if (!torn.has(from.name)) marks.push(...tornEnd(from, `${label} → ${zoneOf(to, bounds, titleBlock)}`));
    torn.add(from.name);
  }
  return marks;
}

/** A short piece of line with a zigzag end and words beyond it. */
function tornEnd(port: RoutePort, words: string): Mark[] {
  const way = port.side === 'right' ? 1 : port.side === 'left' ? -1 : 0;
  const down = port.side === 'bottom' ? 1 : port.side === 'top' ? -1 : 0;
  const end: Point = { x: port.x + way * TAP, y: port.y + down * TAP };
  const zigzag = way === 0 ? `M${end.x - 5} ${end.y}l3 3l4 -6l3 3` : `M${end.x} ${end.y - 5}l3 3l-6 4l3 3`;
  return [
    { shape: 'path', role: 'line', d: `M${port.x} ${port.y}L${end.x} ${end.y}` },
    { shape: 'path', role: 'torn', d: zigzag },
    {
      shape: 'text',
      role: 'mark_text',
      x: end.x + way * 8,
      y: end.y + 4 + down * 12,
      size: TAP_SIZE,
      text: words,
      face: 'italic',
      anchor: way > 0 ? 'start' : way < 0 ? 'end' : 'middle',
    },
  ];
}
