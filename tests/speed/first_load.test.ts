/** What travels before the first possible edit: page, fonts and threads, compressed as served. */

import { expect, test } from 'vitest';
import { firstLoadBytes, launch, serveEditor } from '../browser/harness.ts';

test('the first load', async () => {
  const [served, browser] = [await serveEditor(), await launch()];
  try {
    const bytes = await firstLoadBytes(browser, served.address);
    console.log(`before the first possible edit: ${(bytes / 1000).toFixed(0)} kB`);
    expect(bytes).toBeLessThan(500_000);
  } finally {
    await browser.close();
    await served.close();
  }
});
