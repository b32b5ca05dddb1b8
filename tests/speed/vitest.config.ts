/** Runs the measurements, one after another so that none slows another; `npm run speed` prints them. */

import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/speed/**/*.test.ts'],
    fileParallelism: false,
    testTimeout: 300_000,
    reporters: ['verbose'],
    disableConsoleIntercept: true,
  },
});
