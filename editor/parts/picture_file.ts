/** The present paper as a file: SVG with outlines for text, or PNG at twice its size. */
import type { SolvedBlock } from '../../compiler/picture/describe.ts';
import { pictureOf } from '../../compiler/picture/sheet_picture.ts';
import { drawSheet } from '../../compiler/picture/svg.ts';
import { instancesOf } from '../document/edits.ts';
import { hand } from '../document/files.ts';
import { textOf } from '../draw/shelf_items.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';

/** Pixels a point of the paper has in a PNG. */
const SHARPNESS = 2;

/** The paper as SVG text, in the theme on screen. */
export function pictureText({ document, session, checker }: Workbench): string {
  const sheet = document.sheet();
  const { scope } = session.getState();
  const prefix = instancesOf(sheet, scope)[0] ?? '';
  const solved: Record<string, SolvedBlock> = {};
  for (const [path, { every, phase, side, sizes }] of Object.entries(checker.latest().solved))
    if (path.startsWith(prefix) && !path.slice(prefix.length).includes('.'))
      solved[path.slice(prefix.length)] = { every, phase, sizes, ...(side === 'shore' ? {} : { side }) };
  const picture = pictureOf(sheet, (name) => textOf(sheet, name), {
    ...(scope === '' ? {} : { scope }),
    solved,
    titleBlock: {
      title: scope === '' ? sheet.title || 'untitled' : scope,
      entries: [
        { label: 'tick', value: String(sheet.tick) },
        { label: 'number', value: sheet.number === 'f32' ? '32 bits' : '64 bits' },
        { label: 'schedule', value: sheet.schedule },
      ],
    },
  });
  return drawSheet(picture, { theme: isDark() ? 'dark' : 'light' });
}

function isDark(): boolean {
  return getComputedStyle(document.documentElement).colorScheme === 'dark';
}

function nameOf({ journal, session }: Workbench): string {
  const { scope } = session.getState();
  const name = journal.status().kept?.name ?? 'sheet';
  return scope === '' ? name : `${name}_${scope}`;
}

export function downloadSvg(workbench: Workbench): void {
  hand(`${nameOf(workbench)}.svg`, new Blob([pictureText(workbench)], { type: 'image/svg+xml' }));
}

export async function downloadPng(workbench: Workbench): Promise<void> {
  const address = URL.createObjectURL(new Blob([pictureText(workbench)], { type: 'image/svg+xml' }));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement('canvas');
    canvas.width = image.naturalWidth * SHARPNESS;
    canvas.height = image.naturalHeight * SHARPNESS;
    canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, 'image/png'));
    if (blob === null) throw new Error('the picture is too large');
    hand(`${nameOf(workbench)}.png`, blob);
  } catch (error) {
    say(
      workbench.session,
      `The picture could not be made (${error instanceof Error ? error.message : 'no reason given'}); take the SVG.`,
    );
  } finally {
    URL.revokeObjectURL(address);
  }
}
