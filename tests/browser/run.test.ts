/** A run as people use it: changed while it goes, looked back on, nudged, judged; its table against the command's, bit for bit. */

import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Nudge } from '../../compiler/sheet/sheet.ts';
import { browser, openEditor, openOnce, served, textOf } from './harness.ts';

const SHEET = fileURLToPath(new URL('sheets/turntable.sheet.json', import.meta.url));
const COMMAND = fileURLToPath(new URL('../../runtime/command/loopwright.mjs', import.meta.url));

let folder: string;

openOnce();
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
});

afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

async function openBench(look: Parameters<typeof openEditor>[2] = {}) {
  const editor = await openEditor(browser, served.address, look);
  const { page } = editor;
  await page.getByRole('button', { name: 'File', exact: true }).click();
  const [chooser] = await Promise.all([
    page.waitForEvent('filechooser'),
    page.getByRole('menuitem', { name: /^Open a file/ }).click(),
  ]);
  await chooser.setFiles(SHEET);
  await page.getByRole('application', { name: /13 blocks/ }).waitFor();
  await page.keyboard.press('3');
  await page.getByRole('button', { name: 'enabled: gate.enabled once until 2 s' }).waitFor();
  return editor;
}

const pace = (page: Page, value: string) => page.getByLabel('pace').selectOption({ label: value });

/** Runs from where it is to the end. */
async function toTheEnd(page: Page): Promise<void> {
  await pace(page, 'as fast as possible');
  // On a busy machine it may be there already; running again would be another run.
  const on = page.getByRole('button', { name: /^(Pause|Run again)/ });
  if ((await on.count()) === 0) await page.keyboard.press('Control+Enter');
  await page.getByRole('button', { name: 'Run again' }).waitFor();
}

async function tickShown(page: Page): Promise<number> {
  return Number((await page.locator('.where_tick').textContent())?.replace('tick ', ''));
}

/** The rows of the table that is handed over. */
async function handedOver(page: Page): Promise<string[]> {
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'as bits' }).click(),
  ]);
  expect(download.suggestedFilename()).toBe('turntable_turn.csv');
  return (await textOf(download)).trimEnd().split('\n');
}

/** The command's rows for the same sheet with one more nudge in the run. */
function commanded(nudge?: Nudge): string[] {
  const sheet = JSON.parse(readFileSync(SHEET, 'utf8'));
  if (nudge !== undefined) sheet.runs.turn.nudges.by_hand = nudge;
  const file = join(folder, 'turntable.sheet.json');
  writeFileSync(file, JSON.stringify(sheet));
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    [COMMAND, 'run', file, '--run', 'turn', '--bits', '--csv', '-'],
    { encoding: 'utf8', maxBuffer: 1 << 26 },
  );
  if (status !== 0) throw new Error(stderr);
  return stdout.trimEnd().split('\n');
}

test('a gain changed while it runs: the unchanged run before, the command with that nudge after, bit for bit', async () => {
  const { context, page, errors } = await openBench();
  await page.keyboard.press('Control+Enter');
  await expect.poll(() => tickShown(page), { timeout: 20_000 }).toBeGreaterThan(150);
  await page.getByRole('button', { name: /^law\.gain: / }).click();
  await page.keyboard.type('0.25 N m/rad');
  await page.keyboard.press('Enter');
  const done = page.getByRole('list', { name: 'Done by hand' });
  await done.getByText('law.gain to 0.25 N m/rad').waitFor();
  await toTheEnd(page);
  const seconds = Number(/^[\d.]+/.exec((await done.textContent()) ?? '')?.[0]);
  const at = Math.round(seconds / 0.005);
  expect(at).toBeGreaterThan(150);

  const rows = await handedOver(page);
  const plain = commanded();
  const changed = commanded({ at: `${seconds} s`, setting: 'law.gain', to: '0.25 N m/rad' });
  expect(rows).toHaveLength(1201);
  expect(rows.slice(0, at + 1)).toEqual(plain.slice(0, at + 1));
  expect(rows.slice(at + 1)).toEqual(changed.slice(at + 1));
  expect(rows).not.toEqual(plain);

  // Undone, it is the sheet's again, and one more event of a run that goes on.
  await page.keyboard.press('Control+Z');
  await page.keyboard.press('3');
  await page.getByRole('button', { name: 'law.gain: 0.4 N m/rad' }).waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

test('an expectation that fails leads to its moment; keys go by ticks and by marks; values follow', async () => {
  const { context, page, errors } = await openBench();
  await toTheEnd(page);
  const rows = commanded();
  const columns = rows[0]?.split(',') ?? [];
  const valueAt = (tick: number, name: string): number => {
    const cell = rows[tick + 1]?.split(',')[columns.indexOf(name)] ?? '';
    return Buffer.from(cell, 'hex').readDoubleBE(0);
  };
  const speed = page.getByRole('row', { name: /table\.speed/ });
  const shows = (tick: number) =>
    expect
      .poll(async () => (await speed.textContent())?.replace('−', '-'))
      .toContain(valueAt(tick, 'table.speed').toFixed(3).slice(0, 4));

  await page.getByRole('button', { name: 'gentle fails at 2.595 s: look there' }).click();
  await expect.poll(() => tickShown(page)).toBe(519);
  await shows(519);
  await page.keyboard.press('.');
  await expect.poll(() => tickShown(page)).toBe(520);
  await page.keyboard.press(',');
  await page.keyboard.press(',');
  await expect.poll(() => tickShown(page)).toBe(518);
  await page.keyboard.press('Control+.');
  await expect.poll(() => tickShown(page)).toBe(519);
  await page.keyboard.press('Control+.');
  await expect.poll(() => tickShown(page)).toBe(900);
  await page.getByRole('slider', { name: 'Time of the run' }).focus();
  await page.keyboard.press('Home');
  await expect.poll(() => tickShown(page)).toBe(0);
  await page.keyboard.press('Shift+ArrowRight');
  await expect.poll(() => tickShown(page)).toBe(10);
  await shows(10);

  // The cursor is put by a click on a chart, and a drag there zooms the common time axis.
  const plot = await page.locator('.u-over').first().boundingBox();
  if (plot === null) throw new Error('There is no chart.');
  await page.mouse.click(plot.x + plot.width / 2, plot.y + 20);
  await expect.poll(async () => Math.abs((await tickShown(page)) - 600)).toBeLessThan(6);
  await page.mouse.move(plot.x + plot.width * 0.25, plot.y + 20);
  await page.mouse.down();
  await page.mouse.move(plot.x + plot.width * 0.5, plot.y + 30, { steps: 4 });
  await page.mouse.up();
  await page.getByRole('button', { name: /whole run/ }).click();
  expect(errors).toEqual([]);
  await context.close();
});

test('a nudge by hand is the same nudge in the run, and can be kept there', async () => {
  const { context, page, errors } = await openBench();
  await page.keyboard.press('Control+Enter');
  await expect.poll(() => tickShown(page), { timeout: 20_000 }).toBeGreaterThan(60);
  await page.getByLabel('What is nudged').fill('table.load');
  await page.getByLabel('By how much').fill('0.1 N m');
  await page.getByRole('form', { name: 'Nudge by hand' }).getByRole('button', { name: 'now' }).click();
  const done = page.getByRole('list', { name: 'Done by hand' });
  await done.getByText('table.load + 0.1 N m for 50 ms').waitFor();
  await toTheEnd(page);
  const seconds = Number(/^[\d.]+/.exec((await done.textContent()) ?? '')?.[0]);
  const rows = await handedOver(page);
  const nudged = commanded({ at: `${seconds} s`, for: '50 ms', port: 'table.load', add: '0.1 N m' });
  expect(rows).toEqual(nudged);
  expect(rows).not.toEqual(commanded());

  await done.getByRole('button', { name: 'keep' }).click();
  await page.keyboard.press('Control+Shift+Enter');
  await page.getByText('by hand table load').waitFor();
  await page.getByRole('button', { name: /^Run (?!again)/ }).waitFor();
  await toTheEnd(page);
  expect(await handedOver(page)).toEqual(rows);
  expect(errors).toEqual([]);
  await context.close();
});

test('a sheet that changes under a run leaves the run what it was, and says so', async () => {
  const { context, page, errors } = await openBench();
  await page.keyboard.press('Control+Enter');
  await expect.poll(() => tickShown(page), { timeout: 20_000 }).toBeGreaterThan(20);
  await page.keyboard.press('Control+Enter');
  await page.keyboard.press('1');
  await page.locator('[id="thing_block_trend"]').click();
  await page.keyboard.press('Delete');
  await page.getByText('run of an earlier sheet, one change ago').waitFor();
  await page.keyboard.press('Control+Z');
  await expect.poll(() => page.getByText('run of an earlier sheet').count()).toBe(0);
  await page.keyboard.press('3');
  await toTheEnd(page);
  expect(await handedOver(page)).toEqual(commanded());
  expect(errors).toEqual([]);
  await context.close();
});

test('a trip is flagged on the rail, and the gate says which row tripped it', async () => {
  const { context, page, errors } = await openBench();
  await page.getByRole('combobox', { name: 'Run', exact: true }).selectOption('hit');
  await page.getByRole('button', { name: /^keeps_on: / }).waitFor();
  await toTheEnd(page);
  await page.locator('.strip_mark[title="gate tripped"]').waitFor();
  await page.getByRole('button', { name: 'keeps_on fails at 4.120 s: look there' }).click();
  const gate = page.getByRole('region', { name: 'Gate gate' });
  await gate.getByText('tripped', { exact: true }).waitFor();
  await gate.getByRole('listitem').filter({ hasText: 'far' }).getByRole('img', { name: 'trips' }).waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

test.each([
  ['light', 1280, 800],
  ['dark', 1280, 800],
  ['light', 390, 844],
] as const)('a checker finds no fault on the bench in %s at %i × %i', async (theme, width, height) => {
  const { context, page, errors } = await openBench({ dark: theme === 'dark', width, height });
  await toTheEnd(page);
  await page.evaluate(AXE);
  const faults = await page.evaluate(async () => {
    const axe = (
      window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { target: unknown[] }[] }[] }> } }
    ).axe;
    const { violations } = await axe.run();
    return violations.flatMap(({ id, nodes }) => nodes.map(({ target }) => `${id}: ${target.join(' ')}`));
  });
  expect(faults).toEqual([]);
  // Nothing lies beyond the right edge, and the readout says the values the chart's slider says.
  expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
  const spoken = await page.getByRole('slider', { name: /table\.speed/ }).getAttribute('aria-valuetext');
  expect(spoken).toMatch(/^5\.995 s: table\.speed [−0-9.]+ rad\/s$/);
  expect(errors).toEqual([]);
  await context.close();
});

test('a value is shown in the unit that is typed beside it, on every place', async () => {
  const { context, page, errors } = await openBench();
  await toTheEnd(page);
  await page.getByRole('button', { name: 'Unit of table.angle: rad' }).click();
  await page.keyboard.type('N');
  await page.keyboard.press('Enter');
  await page.getByText('N is something else than rad.').waitFor();
  await page.keyboard.press('Control+A');
  await page.keyboard.type('deg');
  await page.keyboard.press('Enter');
  const row = page.getByRole('row', { name: /table\.angle/ });
  await expect.poll(() => row.textContent()).toMatch(/28\.6\d.*°$/);
  expect(errors).toEqual([]);
  await context.close();
});
