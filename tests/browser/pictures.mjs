/** Takes pictures of every view, in light and dark, large and small, into `out/pictures`, to be looked at. */

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = join(root, 'out/pictures');
const views = { 1: 'draw', 2: 'shape', 3: 'run', 4: 'ship' };
const looks = [
  { name: 'light', colorScheme: 'light', viewport: { width: 1440, height: 900 } },
  { name: 'dark', colorScheme: 'dark', viewport: { width: 1440, height: 900 } },
  { name: 'narrow', colorScheme: 'light', viewport: { width: 390, height: 844 } },
];

const server = spawn(process.execPath, [join(root, 'runtime/command/loopwright.mjs'), 'serve', '--json'], {
  stdio: ['ignore', 'pipe', 'inherit'],
});
const [said] = await Promise.race([once(server.stdout, 'data'), once(server, 'exit').then(() => process.exit(1))]);
const { address } = JSON.parse(said.toString());
const args = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'];
const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args });
mkdirSync(folder, { recursive: true });
try {
  for (const { name, ...look } of looks) {
    const page = await browser.newPage({ ...look, reducedMotion: 'reduce' });
    page.on('pageerror', (error) => process.stderr.write(`${name}: ${error}\n`));
    await page.goto(address);
    await page.getByRole('application', { name: /^Paper/ }).waitFor();
    for (const [key, view] of Object.entries(views)) {
      await page.keyboard.press(key);
      await page.waitForTimeout(1_500);
      const path = join(folder, `${view}_${name}.png`);
      await page.screenshot({ path });
      process.stdout.write(`${path}\n`);
    }
    await page.close();
  }
} finally {
  await browser.close();
  server.kill('SIGTERM');
}
