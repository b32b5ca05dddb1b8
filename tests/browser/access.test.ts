/** Draw for everyone: no accessibility fault that a checker can find, in light and dark, at 390 px and at 400 %; a small first load. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import {
  browser,
  downloadedSheet,
  firstLoadBytes,
  middleOf,
  openEditor,
  openOnce,
  openSample,
  served,
} from './harness.ts';

openOnce();

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** What axe finds, as lines one can act on. */
async function faults(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const axe = (
      window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { target: unknown[] }[] }[] }> } }
    ).axe;
    const { violations } = await axe.run();
    return violations.flatMap(({ id, nodes }) => nodes.map(({ target }) => `${id}: ${target.join(' ')}`));
  });
}

describe.each(['light', 'dark'] as const)('in %s', (theme) => {
  test('a checker finds no fault on a sheet, a marked block, the shelf, find, and the outline', async () => {
    const { page, context, errors } = await openEditor(browser, served.address, { dark: theme === 'dark' });
    await openSample(page, 'first loop');
    expect(await faults(page)).toEqual([]);
    await page.getByRole('application').focus();
    await page.keyboard.press('ArrowRight');
    expect(await faults(page)).toEqual([]);
    await page.getByRole('button', { name: 'Compensate', exact: true }).click();
    expect(await faults(page)).toEqual([]);
    await page.getByRole('button', { name: 'Compensate', exact: true }).click();
    await page.getByRole('application').focus();
    await page.keyboard.press('o');
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('Escape');
    await page.keyboard.press('/');
    await page.keyboard.type('gain');
    expect(await faults(page)).toEqual([]);
    expect(errors).toEqual([]);
    await context.close();
  });

  test('nor in the other views, on a run that goes and in an explanation', async () => {
    const { page, context, errors } = await openEditor(browser, served.address, { dark: theme === 'dark' });
    await page.getByText('row_scout is open.').first().waitFor();
    const { x, y } = await middleOf(page, 'block gate');
    await page.mouse.click(x, y);
    await page.keyboard.press('Control+Enter');
    await page.keyboard.press('?');
    await page.getByRole('region', { name: 'Why gate is as it is' }).waitFor();
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('3');
    await page.getByRole('slider', { name: /^Chart Lean/ }).waitFor();
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('4');
    await page.getByRole('button', { name: /download row_scout\.zip/ }).waitFor();
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('2');
    await page.getByText('How a loop behaves').waitFor();
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('F1');
    expect(await faults(page)).toEqual([]);
    expect(errors).toEqual([]);
    await context.close();
  });
});

test.each([
  ['a phone', 390, 844],
  ['a page at 400 %', 320, 256],
] as const)('on %s nothing sticks out at the side and every region is there', async (_what, width, height) => {
  const { page, context } = await openEditor(browser, served.address, { width, height });
  await openSample(page, 'first loop');
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  expect(over).toBeLessThanOrEqual(0);
  for (const name of ['Paper', 'Margin', 'Rail']) expect(await page.locator(`[aria-label="${name}"]`).count()).toBe(1);
  await context.close();
});

test('F6 goes round the regions and comes back to the same place', async () => {
  const { page, context } = await openEditor(browser, served.address);
  await openSample(page, 'first loop');
  await page.getByRole('application').focus();
  const region = () =>
    page.evaluate(() => document.activeElement?.closest<HTMLElement>('[data-region]')?.dataset.region);
  const round: (string | undefined)[] = [];
  for (let step = 0; step < 5; step++) {
    await page.keyboard.press('F6');
    round.push(await region());
  }
  expect(round).toEqual(['margin', 'rail', 'bar', 'shelf', 'paper']);
  expect(await page.evaluate(() => document.activeElement?.getAttribute('role'))).toBe('application');
  await page.keyboard.press('Shift+F6');
  expect(await region()).toBe('shelf');
  await context.close();
});

test('the first load, fonts and threads with it, is under 500 kB as it travels', async () => {
  const bytes = await firstLoadBytes(browser, served.address);
  expect(bytes).toBeGreaterThan(100_000);
  expect(bytes).toBeLessThan(500_000);
});

test('two taps wire two ports, and a finger pans the paper', async () => {
  const { page, context, errors } = await openEditor(browser, served.address, {
    width: 1024,
    height: 768,
    touch: true,
  });
  await openSample(page, 'first loop');
  await page.waitForTimeout(300);
  const from = await middleOf(page, 'output knob.y');
  const to = await middleOf(page, 'input table.load');
  await page.touchscreen.tap(from.x, from.y);
  await page.getByRole('status').filter({ hasText: 'Wiring from knob.y' }).waitFor({ state: 'attached' });
  await page.touchscreen.tap(to.x, to.y);
  const sheet = JSON.parse(await downloadedSheet(page));
  expect(sheet.wires['table.load']).toBe('knob.y');
  const before = await middleOf(page, 'block gain');
  const session = await context.newCDPSession(page);
  const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', x: number, y: number) =>
    session.send('Input.dispatchTouchEvent', { type, touchPoints: type === 'touchEnd' ? [] : [{ x, y }] });
  await touch('touchStart', 300, 600);
  for (let step = 1; step <= 6; step++) await touch('touchMove', 300, 600 - 20 * step);
  await touch('touchEnd', 300, 480);
  await page.waitForTimeout(300);
  const after = await middleOf(page, 'block gain');
  expect(before.y - after.y).toBeGreaterThan(60);
  expect(errors).toEqual([]);
  await context.close();
});
