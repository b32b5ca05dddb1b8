/** Working on a sheet as people do: values, names, lines, notes, broken files, a second tab; nothing typed is lost. */
import { readFile } from 'node:fs/promises';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import {
  browser,
  downloadedSheet,
  drag,
  middleOf,
  type OpenEditor,
  openEditor,
  openOnce,
  openSample,
  served,
} from './harness.ts';

openOnce();

async function sheetOf(page: Page): Promise<Sheet> {
  return JSON.parse(await downloadedSheet(page));
}

async function withFirstLoop(work: (editor: OpenEditor) => Promise<void>): Promise<void> {
  const editor = await openEditor(browser, served.address);
  await openSample(editor.page, 'first loop');
  await work(editor);
  expect(editor.errors).toEqual([]);
  await editor.context.close();
}

/** Clicks a card, so that the mark is on it and the paper has the keys. */
async function goToCard(page: Page, name: string): Promise<void> {
  const { x, y } = await cornerOf(page, name);
  await page.mouse.click(x, y);
  await page.getByRole('application', { name: new RegExp(`at ${name}\\b`) }).waitFor();
}

/** A place on a card where there is neither port nor blank. */
async function cornerOf(page: Page, name: string): Promise<{ x: number; y: number }> {
  const box = await page.locator(`[id="thing_block_${name}"]`).boundingBox();
  if (box === null) throw new Error(`${name} is not in view.`);
  return { x: box.x + 12, y: box.y + box.height - 8 };
}

describe('a value', () => {
  test('that will not do gets a sentence, stays as it was typed, and comes back after a reload', () =>
    withFirstLoop(async ({ page }) => {
      await goToCard(page, 'table');
      await page.keyboard.press('Enter');
      await page.keyboard.type('0.02 kg m');
      await page.keyboard.press('Enter');
      await page.getByRole('alert').filter({ hasText: 'kg m^2' }).waitFor();
      expect((await sheetOf(page)).blocks.table?.set?.inertia).not.toBe('0.02 kg m');
      await page.waitForTimeout(400);
      await page.reload();
      await page.getByRole('application', { name: /^Paper/ }).waitFor();
      await goToCard(page, 'table');
      await page.keyboard.press('Enter');
      const field = page.getByRole('textbox', { name: 'inertia of table' });
      expect(await field.inputValue()).toBe('0.02 kg m');
      await field.fill('0.02 kg m^2');
      await page.keyboard.press('Enter');
      expect((await sheetOf(page)).blocks.table?.set?.inertia).toBe('0.02 kg m^2');
    }));

  test('goes on to the next blank with Tab, each a step of its own', () =>
    withFirstLoop(async ({ page }) => {
      await goToCard(page, 'table');
      await page.keyboard.press('Enter');
      await page.keyboard.type('0.5');
      await page.keyboard.press('Tab');
      await page.keyboard.type('0.25');
      await page.keyboard.press('Enter');
      const { set } = (await sheetOf(page)).blocks.table ?? {};
      expect(Object.values(set ?? {}).filter((value) => value === 0.5 || value === 0.25)).toHaveLength(2);
      await page.keyboard.press('Control+Z');
      expect(Object.values((await sheetOf(page)).blocks.table?.set ?? {})).not.toContain(0.25);
    }));
});

test('a new name is taken everywhere, the mark stays on the block, and undo brings the old one back', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    await goToCard(page, 'gain');
    await page.keyboard.press('F2');
    await page.keyboard.type('law');
    await page.keyboard.press('Enter');
    await page.getByRole('application', { name: /at law\b/ }).waitFor();
    const after = await sheetOf(page);
    expect(JSON.stringify(after)).not.toMatch(/"gain"\s*:\s*\{\s*"is"|gain\.[uy]\b/);
    expect(after.blocks.law).toEqual(before.blocks.gain);
    await page.keyboard.press('Control+Z');
    expect(await sheetOf(page)).toEqual(before);
    await page.getByRole('application', { name: /at gain\b/ }).waitFor();
  }));

test('a deleted block heals its line, Shift leaves the gap, and undo brings all of it back', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    const fed = Object.entries(before.wires).find(([, from]) => from === 'gain.y')?.[0] ?? '';
    await goToCard(page, 'gain');
    await page.keyboard.press('Delete');
    const healed = await sheetOf(page);
    expect(healed.blocks).not.toHaveProperty('gain');
    expect(healed.wires[fed]).toBe(before.wires['gain.u']);
    await page.keyboard.press('Control+Z');
    expect(await sheetOf(page)).toEqual(before);
    await goToCard(page, 'gain');
    await page.keyboard.press('Shift+Delete');
    expect((await sheetOf(page)).wires).not.toHaveProperty([fed]);
  }));

test('a block named while the mark is on a line is put into that line', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    const fed = Object.entries(before.wires).find(([, from]) => from === 'gain.y')?.[0] ?? '';
    await goToCard(page, 'gain');
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    await page.getByRole('application', { name: 'line from gain.y' }).waitFor();
    await page.keyboard.press('/');
    await page.keyboard.type('low-pass');
    await page.keyboard.press('Enter');
    const { wires } = await sheetOf(page);
    expect(wires).toMatchObject({ 'low_pass.u': 'gain.y', [fed]: 'low_pass.y' });
  }));

test('a line dropped on the paper offers only blocks that fit, and wires the one chosen', () =>
  withFirstLoop(async ({ page }) => {
    const from = await middleOf(page, 'output table.speed');
    await drag(page, from, { x: from.x - 20, y: from.y + 120 });
    await page.getByRole('combobox', { name: /fits table.speed/ }).waitFor();
    await page.keyboard.type('sensor');
    await page.getByRole('option', { name: /sensor channel/ }).waitFor();
    expect(await page.getByRole('option', { name: /^latch/ }).count()).toBe(0);
    await page.keyboard.press('Enter');
    expect((await sheetOf(page)).wires['channel_in.truth']).toBe('table.speed');
  }));

test('carried by the arrow keys, a card goes by the grid and is put down as one step', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    await goToCard(page, 'gain');
    await page.keyboard.press('m');
    for (const key of ['ArrowDown', 'ArrowDown', 'ArrowRight']) await page.keyboard.press(key);
    await page.keyboard.press('Enter');
    const [x = 0, y = 0] = before.layout.gain as [number, number];
    expect((await sheetOf(page)).layout.gain).toEqual([x + 20, y + 40]);
    await page.keyboard.press('m');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Escape');
    expect((await sheetOf(page)).layout.gain).toEqual([x + 20, y + 40]);
    await page.keyboard.press('Control+Z');
    expect(await sheetOf(page)).toEqual(before);
  }));

test('copied blocks come with the lines between them, under fresh names', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    await page.getByRole('application').focus();
    await page.keyboard.press('Control+A');
    await page.keyboard.press('Control+C');
    await page.keyboard.press('Control+V');
    await page
      .getByRole('application', { name: new RegExp(`^Paper, ${2 * Object.keys(before.blocks).length} blocks`) })
      .waitFor();
    const { wires } = await sheetOf(page);
    expect(Object.keys(wires)).toHaveLength(2 * Object.keys(before.wires).length);
    expect(wires['gain_2.u']).toBe('error_2.y');
  }));

describe('a file', () => {
  test('that cannot be read says so with its line, changes nothing, and opens once it is mended', () =>
    withFirstLoop(async ({ page }) => {
      const before = await sheetOf(page);
      const text = await readFile(new URL('../../samples/first_loop/first_loop.sheet.json', import.meta.url), 'utf8');
      const broken = text.replace('"tick"', '"tock"');
      await page.getByRole('button', { name: 'File', exact: true }).click();
      const [chooser] = await Promise.all([
        page.waitForEvent('filechooser'),
        page.getByRole('menuitem', { name: /^Open a file/ }).click(),
      ]);
      await chooser.setFiles({ name: 'mended.sheet.json', mimeType: 'application/json', buffer: Buffer.from(broken) });
      const region = page.getByRole('region', { name: 'File that cannot be read' });
      await region.getByText(/tock/).first().waitFor();
      expect(await region.getByText(/line \d+/).count()).toBeGreaterThan(0);
      expect(await sheetOf(page)).toEqual(before);
      const box = region.getByRole('textbox');
      expect(await box.inputValue()).toBe(broken);
      await box.fill(text.replace('First loop', 'Mended loop'));
      await region.getByRole('button', { name: 'Read it again' }).click();
      await page.getByRole('button', { name: 'Title: Mended loop' }).waitFor();
      await region.waitFor({ state: 'detached' });
      expect((await sheetOf(page)).title).toBe('Mended loop');
    }));
});

test('a line dragged by a segment is held there, and let go again', () =>
  withFirstLoop(async ({ page }) => {
    const before = await sheetOf(page);
    const middle = await page.locator('[data-line="table.torque"]').evaluate((path: SVGPathElement) => {
      const matrix = path.getScreenCTM();
      const { x, y } = path.getPointAtLength(path.getTotalLength() / 2);
      return matrix === null ? undefined : { x: matrix.a * x + matrix.e, y: matrix.d * y + matrix.f };
    });
    if (middle === undefined) throw new Error('The line is not in view.');
    await drag(page, middle, { x: middle.x + 20, y: middle.y });
    const held = await sheetOf(page);
    expect(held.desk.lines['table.torque']).toHaveLength(1);
    expect(held.wires).toEqual(before.wires);
    await page.keyboard.press('Control+Z');
    expect(await sheetOf(page)).toEqual(before);
  }));

test('a note is written by keys where the mark is, and goes away when it is emptied', () =>
  withFirstLoop(async ({ page }) => {
    await goToCard(page, 'gain');
    await page.keyboard.press('n');
    await page.keyboard.type('try less first');
    await page.keyboard.press('Enter');
    expect(Object.values((await sheetOf(page)).desk.notes).map((note) => note.text)).toEqual(['try less first']);
    await page.getByRole('button', { name: 'Note: try less first' }).click();
    await page.getByRole('textbox', { name: 'Note' }).fill('');
    await page.keyboard.press('Enter');
    expect((await sheetOf(page)).desk?.notes ?? {}).toEqual({});
  }));

test('a second tab follows the first, takes over when asked, and the first follows then', () =>
  withFirstLoop(async ({ page, context }) => {
    const second = await context.newPage();
    await second.goto(served.address);
    await second.getByRole('button', { name: 'Write here instead' }).waitFor();
    await goToCard(page, 'gain');
    await page.keyboard.press('Delete');
    await second.getByRole('application', { name: /^Paper, 5 blocks/ }).waitFor();
    await second.getByRole('application').focus();
    await second.keyboard.press('Control+Z');
    await second.waitForTimeout(200);
    expect(await second.getByRole('application', { name: /^Paper, 5 blocks/ }).count()).toBe(1);
    await second.getByRole('button', { name: 'Write here instead' }).click();
    await page.getByRole('button', { name: 'Write here instead' }).waitFor();
    await second.getByRole('application').focus();
    await second.keyboard.press('Control+Z');
    await page.getByRole('application', { name: /^Paper, 6 blocks/ }).waitFor();
  }));

test('a killed tab comes back with every step, its undo, and what was looked at', () =>
  withFirstLoop(async ({ page, context }) => {
    await goToCard(page, 'gain');
    await page.keyboard.press('F2');
    await page.keyboard.type('law');
    await page.keyboard.press('Enter');
    await page.getByRole('application', { name: /at law\b/ }).waitFor();
    await page.waitForTimeout(400);
    await page.close({ runBeforeUnload: false });
    const again = await context.newPage();
    await again.goto(served.address);
    await again.getByRole('application', { name: /at law\b/ }).waitFor();
    await again.getByRole('application').focus();
    await again.keyboard.press('Control+Z');
    await again.getByRole('application', { name: /at gain\b/ }).waitFor();
  }));
