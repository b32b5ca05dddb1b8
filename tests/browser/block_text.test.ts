/** Block texts of one's own: typed with every key, kept while broken, undone by the one history, and the drawing follows. */
import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { browser, downloadedSheet, newSheet, openEditor, openOnce, openSample, served } from './harness.ts';

openOnce();

async function sheetOf(page: Page): Promise<Sheet> {
  return JSON.parse(await downloadedSheet(page));
}

test('a written block is on the sheet as it is typed, keeps its words while it is broken, and is undone with the rest', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await newSheet(page);
  await page.keyboard.press('/');
  await page.keyboard.type('write a block');
  await page.keyboard.press('Enter');
  const panel = page.getByRole('complementary', { name: 'Text of my_block' });
  await panel.locator('.monaco-editor').first().waitFor();
  await page.waitForTimeout(300);
  await page.keyboard.press('Control+End');
  await page.keyboard.type('# twice as much');
  await page.waitForTimeout(200);
  const typed = (await sheetOf(page)).shelf.my_block;
  expect(typed).toContain('# twice as much');
  expect(typed).toContain('\nexample gain 2: u 3 gives y 6\n');

  await page.keyboard.press('Enter');
  await page.keyboard.type('next nothing = (');
  await panel
    .getByRole('listitem')
    .filter({ hasText: /line \d+/ })
    .first()
    .waitFor();
  expect((await sheetOf(page)).shelf.my_block).toContain('next nothing = (');

  for (let step = 0; step < 6; step++) await page.keyboard.press('Control+Z');
  await page.getByRole('application', { name: 'Paper, 0 blocks' }).waitFor();
  expect((await sheetOf(page)).shelf ?? {}).toEqual({});
  expect(errors).toEqual([]);
  await context.close();
});

test('a library block made one’s own keeps its name on the sheet, and its law on the card follows the text', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await openSample(page, 'first loop');
  await page.getByRole('application').focus();
  await page.keyboard.press('/');
  await page.keyboard.type('gain');
  await page.locator('[id="found_block_gain"]').click();
  await page.getByRole('button', { name: 'Make its text mine' }).click();
  const panel = page.getByRole('complementary', { name: /^Text of/ });
  await panel.locator('.monaco-editor').first().waitFor();
  const { blocks, shelf } = await sheetOf(page);
  const [name = ''] = Object.keys(shelf);
  expect(blocks.gain?.is).toBe(name);
  expect(shelf[name]).toMatch(new RegExp(`^block ${name}\\b`, 'm'));
  await page.waitForTimeout(300);
  await page.keyboard.press('Control+End');
  await page.keyboard.press('Enter');
  await page.keyboard.type('law y = gain * u * 3');
  await page.locator('[id="thing_block_gain"] text', { hasText: '3' }).first().waitFor();
  await page.getByRole('button', { name: 'Close the text' }).click();
  expect(await page.evaluate(() => document.activeElement?.getAttribute('role'))).toBe('application');
  expect(errors).toEqual([]);
  await context.close();
});
