/** The export as a user takes it: held, downloaded, unpacked, compiled by gcc under the contract's warnings, and checked by itself. */

import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { unzipSync } from 'fflate';
import { expect, test } from 'vitest';
import { compileC, hasCommand, strict } from '../agree/programs_c.ts';
import { browser, openEditor, openOnce, served } from './harness.ts';

openOnce();

test('what is downloaded compiles, and its self-check passes', async () => {
  const { context, page, errors } = await openEditor(browser, served.address);
  await page.getByText('row_scout is open.').first().waitFor();
  await page.keyboard.press('4');
  const button = page.getByRole('button', { name: /download row_scout\.zip/ });
  await button.waitFor();
  await page.getByLabel('self-check of').selectOption('push_left');
  const box = await button.boundingBox();
  if (box === null) throw new Error('The button is not in view.');
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  // A tap does nothing: it must be held.
  await page.mouse.down();
  await page.mouse.up();
  const downloaded = page.waitForEvent('download');
  await page.mouse.down();
  const download = await downloaded;
  await page.mouse.up();
  expect(download.suggestedFilename()).toBe('row_scout.zip');
  const files = unzipSync(readFileSync(await download.path()));
  expect(Object.keys(files).sort()).toEqual(
    ['README.txt', 'row_scout.c', 'row_scout.h', 'selfcheck.c'].map((name) => `row_scout/${name}`),
  );
  expect(new TextDecoder().decode(files['row_scout/README.txt'])).toContain('not a certified safety function');
  if (hasCommand('gcc')) {
    const folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
    try {
      for (const [name, bytes] of Object.entries(files)) {
        mkdirSync(dirname(join(folder, name)), { recursive: true });
        writeFileSync(join(folder, name), bytes);
      }
      const sources = ['row_scout/row_scout.c', 'row_scout/selfcheck.c'];
      const path = compileC(folder, 'gcc', [...strict, '-O2', '-ffp-contract=off'], sources);
      const { status, stdout } = spawnSync(path, { encoding: 'utf8' });
      expect(stdout).toMatch(/^[1-9]\d* passed, 0 failed\n$/);
      expect(status).toBe(0);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  }
  expect(errors).toEqual([]);
  await context.close();
});

test('lines of the selected block are lit, and bits are compared only when asked', async () => {
  const { context, page, errors } = await openEditor(browser, served.address);
  await page.getByText('row_scout is open.').first().waitFor();
  await page.keyboard.press('4');
  await page.getByRole('button', { name: 'drive', exact: true }).click();
  const lit = page.locator('.c_text li.lit');
  await lit.first().waitFor();
  expect((await lit.allTextContents()).join('\n')).toContain('/* drive: channel_out */');
  await page.getByRole('button', { name: 'compare' }).click();
  await page.getByText(/✓ .* ticks × \d+ values/).waitFor();
  expect(errors).toEqual([]);
  await context.close();
});
