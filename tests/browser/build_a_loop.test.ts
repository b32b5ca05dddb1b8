/** A loop built from nothing, once by mouse and once by keys: the same sheet; undone to nothing, redone, and there again after a reload. */
import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { browser, downloadedSheet, drag, middleOf, newSheet, openEditor, openOnce, served } from './harness.ts';

openOnce();

/** The blocks of the loop in the order they are put down: purpose, label on the shelf, name on the sheet, where the mouse drops it. */
const BLOCKS = [
  ['Drive', 'fixed value', 'fixed', 110, 300],
  ['Combine', 'summing point', 'summing_point', 270, 300],
  ['Compensate', 'gain', 'gain', 410, 300],
  ['Plant', 'turntable', 'turntable', 680, 300],
] as const;

const WIRES = [
  ['output fixed.y', 'input summing_point.a'],
  ['output summing_point.y', 'input gain.u'],
  ['output gain.y', 'input turntable.torque'],
  ['output turntable.angle', 'input summing_point.b'],
] as const;

async function buildByMouse(page: Page): Promise<void> {
  for (const [purpose, label, , x, y] of BLOCKS) {
    await page.getByRole('button', { name: purpose, exact: true }).click();
    const specimen = page.getByRole('button', { name: new RegExp(`^Add ${label}:`) });
    await specimen.scrollIntoViewIfNeeded();
    const box = await specimen.boundingBox();
    if (box === null) throw new Error(`${label} is not on the shelf.`);
    await drag(page, { x: box.x + box.width / 2, y: box.y + 40 }, { x, y: y + 120 });
  }
  for (const [from, to] of WIRES) await drag(page, await middleOf(page, from), await middleOf(page, to));
  const value = await page.locator('[id="thing_block_gain"] .on_card').boundingBox();
  if (value === null) throw new Error('The gain has no blank.');
  await page.mouse.click(value.x + value.width / 2, value.y + value.height / 2);
  await page.keyboard.type('2.5');
  await page.keyboard.press('Enter');
}

/** Walks the mark to a card by going to it through find, as a person without a mouse does. */
async function goByKeys(page: Page, name: string): Promise<void> {
  await page.keyboard.press('/');
  await page.keyboard.type(name);
  await page.locator(`[id="found_block_${name}"]`).waitFor();
  const found = await page
    .locator('#found > [role="option"]')
    .evaluateAll((options) => options.map((option) => option.id));
  for (let index = found.indexOf(`found_block_${name}`); index > 0; index--) await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
}

async function buildByKeys(page: Page): Promise<void> {
  for (const [, , name] of BLOCKS) {
    await page.keyboard.press('Escape');
    await page.keyboard.press('/');
    await page.keyboard.type(name.replaceAll('_', ' '));
    await page.keyboard.press('Enter');
  }
  for (const [from, to] of WIRES) {
    const [, block = '', port = ''] = /^output (\w+)\.(\w+)$/.exec(from) ?? [];
    await goByKeys(page, block);
    await page.keyboard.press('ArrowRight');
    const described = page.getByRole('application', { name: `at output ${port} of ${block}` });
    for (let tries = 0; tries < 4 && (await described.count()) === 0; tries++) await page.keyboard.press('ArrowDown');
    await page.keyboard.press('w');
    await page.keyboard.type(to.replace('input ', ''));
    await page.keyboard.press('Enter');
  }
  await goByKeys(page, 'gain');
  await page.keyboard.press('Enter');
  await page.keyboard.type('2.5');
  await page.keyboard.press('Enter');
}

function withoutLayout(text: string): unknown {
  const { layout: _layout, ...rest } = JSON.parse(text);
  return rest;
}

test('by mouse and by keys the same loop is built; it is undone to nothing, redone, and kept', async () => {
  const mouse = await openEditor(browser, served.address);
  await newSheet(mouse.page);
  await buildByMouse(mouse.page);
  const byMouse = await downloadedSheet(mouse.page);
  const keys = await openEditor(browser, served.address);
  await newSheet(keys.page);
  await buildByKeys(keys.page);
  const byKeys = await downloadedSheet(keys.page);

  expect(withoutLayout(byMouse)).toMatchObject({
    blocks: {
      fixed: { is: 'fixed' },
      summing_point: { is: 'summing_point', inputs: { a: '+', b: '-' } },
      gain: { is: 'gain', set: { gain: 2.5 } },
      turntable: { is: 'turntable' },
    },
    wires: {
      'summing_point.a': 'fixed.y',
      'gain.u': 'summing_point.y',
      'turntable.torque': 'gain.y',
      'summing_point.b': 'turntable.angle',
    },
  });
  expect(withoutLayout(byKeys)).toEqual(withoutLayout(byMouse));

  const { page } = keys;
  const undo = page.getByRole('button', { name: /^Undo/ });
  await page.getByRole('application').focus();
  for (let step = 0; step < 40 && (await undo.getAttribute('aria-disabled')) === 'false'; step++)
    await page.keyboard.press('Control+Z');
  expect(JSON.parse(await downloadedSheet(page))).toMatchObject({ blocks: {} });

  const redo = page.getByRole('button', { name: /^Redo/ });
  for (let step = 0; step < 40 && (await redo.getAttribute('aria-disabled')) === 'false'; step++)
    await page.keyboard.press('Control+Shift+Z');
  expect(await downloadedSheet(page)).toBe(byKeys);

  await page.reload();
  await page.getByRole('application', { name: /4 blocks/ }).waitFor();
  expect(await downloadedSheet(page)).toBe(byKeys);
  await page.getByRole('application').focus();
  await page.keyboard.press('Control+Z');
  expect(withoutLayout(await downloadedSheet(page))).toMatchObject({ blocks: { gain: { is: 'gain' } } });
  expect(JSON.parse(await downloadedSheet(page)).blocks.gain).not.toHaveProperty('set');

  expect(mouse.errors).toEqual([]);
  expect(keys.errors).toEqual([]);
  await mouse.context.close();
  await keys.context.close();
});
