/** What leaves the editor and what comes in: pictures, links, a sheet of a thousand blocks; and what is left as it is. */
import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import {
  browser,
  downloadedSheet,
  drag,
  newSheet,
  openEditor,
  openOnce,
  openSample,
  served,
  textOf,
} from './harness.ts';

openOnce();

async function sheetOf(page: Page): Promise<Sheet> {
  return JSON.parse(await downloadedSheet(page));
}

/** Runs a command by its name, through find. */
async function command(page: Page, name: string): Promise<void> {
  await page.getByRole('application').focus();
  await page.keyboard.press('/');
  await page.keyboard.type(name);
  const option = page.getByRole('option', { name: new RegExp(`^${name}\\b`) }).last();
  await option.click();
}

test('the picture of a sheet has its title, its cards and no script, and needs no font', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await openSample(page, 'first loop');
  await page.getByRole('button', { name: 'File', exact: true }).click();
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('menuitem', { name: 'Download a picture', exact: true }).click(),
  ]);
  expect(download.suggestedFilename()).toBe('first_loop.svg');
  const svg = await textOf(download);
  expect(svg).toContain('<title>First loop</title>');
  expect(svg).not.toMatch(/<script|<text|href="http/);
  const viewer = await context.newPage();
  await viewer.setContent(svg);
  const { width, height } = (await viewer.locator('svg').first().boundingBox()) ?? { width: 0, height: 0 };
  expect(Math.min(width, height)).toBeGreaterThan(200);
  expect(errors).toEqual([]);
  await context.close();
});

test('a link holds the whole sheet and opens as a sheet of one’s own', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await openSample(page, 'first loop');
  const sent = await sheetOf(page);
  await page.getByRole('button', { name: 'File', exact: true }).click();
  await page.getByRole('menuitem', { name: 'Copy a link to the sheet' }).click();
  await page.getByRole('status').filter({ hasText: 'The link is copied' }).waitFor({ state: 'attached' });
  const link = await page.evaluate(() => navigator.clipboard.readText());
  await context.close();
  const other = await openEditor(browser, link);
  await other.page.getByRole('button', { name: 'File name: first_loop' }).waitFor();
  expect(await sheetOf(other.page)).toEqual(sent);
  expect(new URL(other.page.url()).hash).toBe('');
  expect([...errors, ...other.errors]).toEqual([]);
  await other.context.close();
});

test('a finding left as it is needs a reason, is kept with it, and comes back when it is looked at again', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await newSheet(page);
  await page.keyboard.press('/');
  await page.keyboard.type('fixed value');
  await page.keyboard.press('Enter');
  const leave = page.getByRole('button', { name: /^Leave it as it is/ });
  await leave.click();
  await page.keyboard.press('Enter');
  expect((await sheetOf(page)).silenced ?? {}).toEqual({});
  await leave.click();
  await page.getByRole('textbox', { name: /^Leave it/ }).fill('for later');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'Nothing found' }).waitFor();
  expect(Object.values((await sheetOf(page)).silenced)).toEqual(['for later']);
  await page.getByText('One is left as it is').click();
  await page.getByRole('button', { name: 'look again' }).click();
  await page.getByRole('heading', { name: 'One finding' }).waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

test('tidying moves cards and nothing else, apart from one another, as one step', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await openSample(page, 'first loop');
  const before = await sheetOf(page);
  await command(page, 'Tidy');
  await page.getByRole('status').filter({ hasText: 'Placed.' }).waitFor({ state: 'attached' });
  const after = await sheetOf(page);
  expect({ ...after, layout: before.layout }).toEqual(before);
  expect(after.layout).not.toEqual(before.layout);
  await page.waitForTimeout(300);
  const boxes = await page
    .locator('.card')
    .evaluateAll((cards) => cards.map((card) => card.getBoundingClientRect().toJSON()));
  for (const [i, a] of boxes.entries())
    for (const b of boxes.slice(i + 1))
      expect(a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top).toBe(true);
  await page.getByRole('application').focus();
  await page.keyboard.press('Control+Z');
  expect(await sheetOf(page)).toEqual(before);
  expect(errors).toEqual([]);
  await context.close();
});

test('a sheet of a thousand blocks opens, is drawn from afar without a card in the page, and a card can be moved there', async () => {
  const count = 1000;
  const names = Array.from({ length: count }, (_, index) => `b${index}`);
  const large: Sheet = {
    ...blankSheet('large'),
    blocks: Object.fromEntries(names.map((name) => [name, { is: 'gain' }])),
    wires: Object.fromEntries(names.slice(1).map((name, index) => [`${name}.u`, `${names[index]}.y`])),
    layout: Object.fromEntries(names.map((name, index) => [name, [(index % 40) * 180, Math.floor(index / 40) * 160]])),
  };
  const { page, context, errors } = await openEditor(browser, served.address);
  await page.getByRole('button', { name: 'File', exact: true }).click();
  const [chooser] = await Promise.all([
    page.waitForEvent('filechooser'),
    page.getByRole('menuitem', { name: /^Open a file/ }).click(),
  ]);
  await chooser.setFiles({
    name: 'large.sheet.json',
    mimeType: 'application/json',
    buffer: Buffer.from(JSON.stringify(large)),
  });
  await page.getByRole('application', { name: `Paper, ${count} blocks` }).waitFor();
  await page.locator('canvas.far').waitFor();
  expect(await page.locator('.card').count()).toBe(0);
  const start = await sheetOf(page);
  await page.getByRole('application').focus();
  await page.keyboard.press('/');
  await page.keyboard.type('b0');
  await page.locator('[id="found_block_b0"]').click();
  const paper = await page.locator('.drawing').boundingBox();
  if (paper === null) throw new Error('The paper is not in view.');
  // With everything in view the first card is at the top left; its place follows from the zoom that is shown.
  const zoom = Number(
    await page.locator('.drawing').evaluate((drawing) => getComputedStyle(drawing).getPropertyValue('--zoom')),
  );
  const [wide, high] = [39 * 180 + 80, 24 * 160 + 80];
  const at = {
    x: paper.x + (paper.width - wide * zoom) / 2 + 40 * zoom,
    y: paper.y + (paper.height - high * zoom) / 2 + 50 * zoom,
  };
  await drag(page, at, { x: at.x + 200 * zoom, y: at.y - 200 * zoom });
  const moved = await sheetOf(page);
  expect(moved.layout.b0).not.toEqual(start.layout.b0);
  expect({ ...moved, layout: { ...moved.layout, b0: [0, 0] } }).toEqual({
    ...start,
    layout: { ...start.layout, b0: [0, 0] },
  });
  expect(errors).toEqual([]);
  await context.close();
});
