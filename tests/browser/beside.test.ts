/** A table beside the sheet: asked for where it is missing, dropped on the paper, kept through a reload, played back, taken away. */
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { browser, chooseFiles, downloadedSheet, newSheet, openEditor, openOnce, served, textOf } from './harness.ts';

const SHEET = fileURLToPath(new URL('sheets/played.sheet.json', import.meta.url));
const LOG = 't,a,b\n0,1,5\n0.02,3,6\n0.04,-2,7\n';

openOnce();

const csv = (name: string, text: string) => ({ name, mimeType: 'text/csv', buffer: Buffer.from(text) });

/** The finding in the margin that has these words. */
const finding = (page: Page, words: string) =>
  page.getByRole('region', { name: 'Findings' }).getByRole('button').filter({ hasText: words });

test('a missing file and a missing column are findings with their places; the file put there is played back', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await chooseFiles(page, SHEET);
  await finding(page, 'there is no file “log.csv” beside the sheet').waitFor();
  expect(await finding(page, 'log.csv').textContent()).toContain('log');
  await chooseFiles(page, [csv('log.csv', 't,c\n0,1\n1,2\n')]);
  await finding(page, 'log.csv has no column a').waitFor();
  await chooseFiles(page, [csv('log.csv', LOG)]);
  await page.getByText('Nothing found').waitFor();
  await page.getByRole('status').filter({ hasText: 'with 3 rows of t, a, b' }).waitFor({ state: 'attached' });
  await page.keyboard.press('3');
  await page.getByLabel('pace').selectOption({ label: 'as fast as possible' });
  await page.getByRole('button', { name: 'Run', exact: false }).filter({ hasText: 'Ctrl' }).click();
  await page.getByRole('button', { name: 'Run again' }).waitFor();
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'Export CSV' }).click(),
  ]);
  // By hand: twice the column a, each row from its time on.
  expect(
    (await textOf(download))
      .trimEnd()
      .split('\n')
      .map((line) => line.split(',')[2]),
  ).toEqual(['twice.y', '2', '2', '6', '6', '-4']);
  await page.keyboard.press('1');
  await page.reload();
  await page.getByText('Nothing found').waitFor();
  await page.getByRole('button', { name: 'Take log.csv away' }).click();
  await finding(page, 'there is no file “log.csv” beside the sheet').waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

test('a table dropped on an empty sheet offers a block that plays it back, and stays with its own sheet', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await newSheet(page);
  await page.locator('.drawing').evaluate((drawing, text) => {
    const transfer = new DataTransfer();
    transfer.items.add(new File([text], 'step.csv', { type: 'text/csv' }));
    for (const type of ['dragover', 'drop'])
      drawing.dispatchEvent(new DragEvent(type, { dataTransfer: transfer, bubbles: true, cancelable: true }));
  }, LOG);
  await page.getByRole('button', { name: 'Play it back' }).click();
  const sheet = JSON.parse(await downloadedSheet(page));
  expect(sheet.blocks).toEqual({ recorded: { is: 'recorded', set: { columns: ['a', 'b'], file: 'step.csv' } } });
  await page.getByRole('application', { name: /^Paper, 1 block/ }).waitFor();
  expect(await page.getByRole('region', { name: 'Findings' }).getByText('no file').count()).toBe(0);
  await newSheet(page);
  expect(await page.getByText('step.csv').count()).toBe(0);
  expect(errors).toEqual([]);
  await context.close();
});

test('a table that cannot be read says which line is wrong', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await chooseFiles(page, SHEET);
  await chooseFiles(page, [csv('log.csv', 't,a\n0,1\n1,wet\n')]);
  await page
    .getByRole('alert')
    .filter({ hasText: 'log.csv, line 3: a is "wet", which is no number' })
    .waitFor({ state: 'attached' });
  await finding(page, 'log.csv, line 3').waitFor();
  await context.close();
});
