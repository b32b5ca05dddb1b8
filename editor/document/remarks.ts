/** What stands beside the blocks and means nothing: notes, frames, held and torn lines. Recipes for `change`. */
import type { Draft } from 'immer';
import type { Point, Segment, Sheet } from '../../compiler/sheet/sheet.ts';
import { freshName } from './edits.ts';

const within = (scope: string) => (scope === '' ? {} : { in: scope });

/** Puts a note down and gives its name. */
export function addNote(sheet: Draft<Sheet>, scope: string, at: Point, text: string): string {
  const name = freshName('note', (one) => one in sheet.desk.notes);
  sheet.desk.notes[name] = { at: [...at], text, ...within(scope) };
  return name;
}

/** Writes a note; an empty one is taken away. */
export function writeNote(sheet: Draft<Sheet>, name: string, text: string): void {
  const note = sheet.desk.notes[name];
  if (text.trim() === '') delete sheet.desk.notes[name];
  else if (note !== undefined) note.text = text;
}

export function moveNote(sheet: Draft<Sheet>, name: string, at: Point): void {
  const note = sheet.desk.notes[name];
  if (note !== undefined) note.at = [...at];
}

export function addFrame(sheet: Draft<Sheet>, scope: string, at: Point, size: Point): string {
  const name = freshName('frame', (one) => one in sheet.desk.frames);
  sheet.desk.frames[name] = { at: [...at], size: [...size], title: 'frame', ...within(scope) };
  return name;
}

/** Titles a frame; without a title it is taken away. */
export function titleFrame(sheet: Draft<Sheet>, name: string, title: string): void {
  const frame = sheet.desk.frames[name];
  if (title.trim() === '') delete sheet.desk.frames[name];
  else if (frame !== undefined) frame.title = title.trim();
}

/** Holds a line to segments; without any it finds its own way. */
export function holdLine(sheet: Draft<Sheet>, input: string, segments: readonly Segment[]): void {
  if (segments.length === 0) delete sheet.desk.lines[input];
  else
    sheet.desk.lines[input] = segments.map(([[a, b], [c, d]]) => [
      [a, b],
      [c, d],
    ]);
}

/** Draws a line as two torn ends, or whole again. */
export function turnTap(sheet: Draft<Sheet>, input: string): void {
  if (input in sheet.desk.taps) delete sheet.desk.taps[input];
  else sheet.desk.taps[input] = {};
}
