/** The samples as pictures: every card drawn, no line through a card, nothing blocked, and no two cards on each other. */

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import type { Area } from '../../compiler/picture/marks.ts';
import { pictureOf } from '../../compiler/picture/sheet_picture.ts';
import { drawSheet } from '../../compiler/picture/svg.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { entry, isGroup } from '../../compiler/sheet/sheet.ts';
import { textOf } from './shelf.ts';

const folder = join(import.meta.dirname, '../../samples');
const files = readdirSync(folder, { recursive: true, encoding: 'utf8' })
  .filter((file) => file.endsWith('.sheet.json'))
  .sort();

test('there are samples', () => {
  expect(files.length).toBeGreaterThan(0);
});

describe.each(files)('%s', (file) => {
  const sheet = loadSheet(readFileSync(join(folder, file), 'utf8')).value;
  const scopes = [undefined, ...Object.keys(sheet?.shelf ?? {}).filter((name) => isGroup(sheet?.shelf[name] ?? ''))];

  test.each(scopes)('scope %s', (scope) => {
    if (sheet === undefined) throw new Error(`cannot load ${file}`);
    const own = (name: string) => {
      const text = entry(sheet.shelf, name);
      return typeof text === 'string' ? parseBlock(text, name).value : textOf(name);
    };
    const picture = pictureOf(sheet, own, {
      ...(scope === undefined ? {} : { scope }),
      isPlant: (block) => library.get(block.is)?.shelf === 'plant',
    });
    const group = scope === undefined ? sheet : entry(sheet.shelf, scope);
    if (group === undefined || typeof group === 'string') throw new Error('no group');
    const ports = 'ports' in group ? Object.keys(group.ports) : [];
    expect(picture.cards.map((card) => card.name).sort()).toEqual([...Object.keys(group.blocks), ...ports].sort());
    expect(picture.lines.filter((mark) => mark.role === 'line_blocked')).toEqual([]);
    const areas = picture.cards.map((card): Area & { name: string } => ({
      name: card.name,
      x: card.x,
      y: card.y,
      width: card.width,
      height: card.height,
    }));
    areas.forEach((a, i) => {
      for (const b of areas.slice(i + 1))
        expect(
          a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height,
          `${a.name} on ${b.name}`,
        ).toBe(false);
    });
    expect(drawSheet(picture)).not.toMatch(/NaN|undefined/);
  });
});
