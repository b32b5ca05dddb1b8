/** What explains itself: why a block is as it is, a tick walked block by block, conversions, copies of a group, what is gone after a reload, licences. */
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { browser, chooseFiles, middleOf, openEditor, openOnce, openSample, served } from './harness.ts';

const TWINS = fileURLToPath(new URL('sheets/twins.sheet.json', import.meta.url));

openOnce();

async function select(page: Page, block: string): Promise<void> {
  const { x, y } = await middleOf(page, `block ${block}`);
  const box = await page.locator(`[id="thing_block_${block}"]`).boundingBox();
  await page.mouse.click(x, box === null ? y : box.y + 6);
}

/** Runs a few ticks and holds. */
async function ticks(page: Page, count: number): Promise<void> {
  for (let i = 0; i < count; i++) {
    await page.keyboard.press('.');
    await page.locator('.where_tick', { hasText: `tick ${i}` }).waitFor();
  }
}

const why = (page: Page, block: string) => page.getByRole('region', { name: `Why ${block} is as it is` });

test('the question mark explains the block at the mark with its values, and goes with the mark', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await chooseFiles(page, TWINS);
  await page.getByRole('application', { name: /3 blocks/ }).waitFor();
  await select(page, 'sum');
  await page.keyboard.press('?');
  await why(page, 'sum').getByText('Its values stand here once it has run').waitFor();
  await ticks(page, 2);
  // 2 · 3 + 5 · 3, by hand.
  await why(page, 'sum').locator('[data-output]').filter({ hasText: '21.00' }).waitFor();
  await page.getByRole('status').filter({ hasText: /sum/ }).waitFor({ state: 'attached' });
  await page.keyboard.press('?');
  expect(await why(page, 'sum').count()).toBe(0);
  await page.keyboard.press('?');
  await select(page, 'left');
  await why(page, 'left').waitFor();
  await page.getByRole('button', { name: 'Close the explanation' }).click();
  expect(await why(page, 'left').count()).toBe(0);
  expect(errors).toEqual([]);
  await context.close();
});

test('a tick is walked block by block, into the copies of a group, in the order they run', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await chooseFiles(page, TWINS);
  await page.getByRole('application', { name: /3 blocks/ }).waitFor();
  await page.getByRole('application').focus();
  await ticks(page, 1);
  const visited: string[] = [];
  for (let i = 0; i < 5; i++) {
    await page.keyboard.press('Shift+Period');
    const said = page.getByRole('status').filter({ hasText: /^Tick 0, / });
    await expect.poll(async () => (await said.textContent()) ?? '').not.toBe(visited.at(-1) ?? '');
    visited.push((await said.textContent()) ?? '');
  }
  const blocks = visited.map((words) => /^Tick 0, ([\w.]+):/.exec(words)?.[1]);
  expect([...blocks].sort()).toEqual(['left.number', 'left.times', 'right.number', 'right.times', 'sum']);
  expect(blocks.at(-1)).toBe('sum');
  expect(visited.find((words) => words.includes('left.times'))).toMatch(/y 6\.000/);
  expect(visited.find((words) => words.includes('right.times'))).toMatch(/y 15\.00/);
  await page.keyboard.press('Shift+Comma');
  await page
    .getByRole('status')
    .filter({ hasText: blocks[3] ?? '' })
    .waitFor({ state: 'attached' });
  await context.close();
});

test('going into a group used twice shows the copy that was entered, and the other one by choice', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await chooseFiles(page, TWINS);
  await page.getByRole('application', { name: /3 blocks/ }).waitFor();
  await page.getByRole('application').focus();
  await ticks(page, 1);
  await select(page, 'right');
  await page.keyboard.press(']');
  await page.getByRole('application', { name: /2 blocks/ }).waitFor();
  await select(page, 'times');
  await page.keyboard.press('?');
  await why(page, 'times').locator('[data-output]').filter({ hasText: '15.00' }).waitFor();
  await page.keyboard.press('?');
  const { x, y } = await middleOf(page, 'block times');
  await page.mouse.click(x, y + 200);
  await page.getByLabel('with the values of').selectOption('left.');
  await select(page, 'times');
  await page.keyboard.press('?');
  await why(page, 'times').locator('[data-output]').filter({ hasText: '6.000' }).waitFor();
  await page.keyboard.press('[');
  await page.getByRole('application', { name: /3 blocks, at left/ }).waitFor();
  await context.close();
});

test('a setting typed in another unit says what that is in its own', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await openSample(page, 'row scout');
  await select(page, 'gate');
  await page.getByRole('button', { name: 'dwell of gate' }).last().click();
  await page.keyboard.press('Control+a');
  await page.keyboard.type('250 ms');
  await page.keyboard.press('Enter');
  await page.getByRole('note').filter({ hasText: 'ms ▸ 0.25 s' }).waitFor();
  await context.close();
});

test('after a reload the rail says that the run is gone, until it runs again', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await chooseFiles(page, TWINS);
  await page.getByRole('application', { name: /3 blocks/ }).waitFor();
  await page.getByRole('application').focus();
  await ticks(page, 2);
  await page.waitForTimeout(400);
  await page.reload();
  const gone = page.getByText('The run went with the page it was in');
  await gone.waitFor();
  await page.getByRole('application').focus();
  await ticks(page, 1);
  expect(await gone.count()).toBe(0);
  await context.close();
});

test('help lists what the editor is made from, each with its licence and text', async () => {
  const { page, context, errors } = await openEditor(browser, served.address);
  await page.keyboard.press('F1');
  const made = page.locator('.made_from');
  await made.getByText(/Loopwright is under the MIT licence/).click();
  for (const [name, licence] of [
    ['react', 'MIT'],
    ['@xyflow/react', 'MIT'],
    ['elkjs', 'EPL-2.0 OR GPL-3.0-or-later'],
    ['uplot', 'MIT'],
    ['STIX Two', 'OFL-1.1'],
  ] as const)
    await made.getByRole('listitem').filter({ hasText: name }).filter({ hasText: licence }).first().waitFor();
  await made.getByRole('listitem').filter({ hasText: 'STIX Two' }).locator('summary').click();
  await made.getByText('SIL OPEN FONT LICENSE', { exact: false }).first().waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

test('Shape says what answers for a loop today, and leads there', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await page.getByRole('application').focus();
  await page.keyboard.press('2');
  await page.getByText('loopwright bench row_scout.sheet.json').waitFor();
  await page.locator('.shape').getByRole('button', { name: /^Run/ }).click();
  await page.getByRole('region', { name: 'Charts' }).waitFor();
  await context.close();
});
