/**
 * Takes pictures of Draw, Run and Ship of the samples, light and dark, in two sizes, into `out/pictures`, to be looked at;
 * and those the README shows into `editor/pictures`. Everything is done by input events in the running editor.
 */

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = join(root, 'out/pictures');
const shown = join(root, 'editor/pictures');
const readme = ['row_scout_draw_light_1280', 'row_scout_run_light_1280', 'row_scout_ship_light_1280'];
const samples = { row_scout: 'row_scout/row_scout.sheet.json', first_loop: 'first_loop/first_loop.sheet.json' };
const views = { 1: 'draw', 3: 'run', 4: 'ship' };
const sizes = [
  { width: 1280, height: 800 },
  { width: 1920, height: 1080 },
];

const server = spawn(process.execPath, [join(root, 'runtime/command/loopwright.mjs'), 'serve', '--json'], {
  stdio: ['ignore', 'pipe', 'inherit'],
});
const [said] = await Promise.race([once(server.stdout, 'data'), once(server, 'exit').then(() => process.exit(1))]);
const { address } = JSON.parse(said.toString());
const args = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'];
const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args });
for (const place of [folder, shown]) mkdirSync(place, { recursive: true });
try {
  for (const viewport of sizes)
    for (const colorScheme of ['light', 'dark'])
      for (const [name, file] of Object.entries(samples)) {
        const page = await browser.newPage({ viewport, colorScheme, reducedMotion: 'reduce' });
        page.on('pageerror', (error) => process.stderr.write(`${name}: ${error}\n`));
        page.on('filechooser', () => {});
        await page.goto(address);
        await page.getByRole('application', { name: /^Paper/ }).waitFor();
        const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.keyboard.press('Control+o')]);
        await chooser.setFiles(join(root, 'samples', file));
        await page.waitForTimeout(1_500);
        await page.keyboard.press('Control+Enter');
        await page.waitForTimeout(7_000);
        for (const [key, view] of Object.entries(views)) {
          await page.keyboard.press(key);
          await page.waitForTimeout(2_000);
          const picture = `${name}_${view}_${colorScheme}_${viewport.width}`;
          const path = join(folder, `${picture}.png`);
          await page.screenshot({ path });
          if (readme.includes(picture)) copyFileSync(path, join(shown, `${picture}.png`));
          process.stdout.write(`${path}\n`);
        }
        await page.close();
      }
} finally {
  await browser.close();
  server.kill('SIGTERM');
}
