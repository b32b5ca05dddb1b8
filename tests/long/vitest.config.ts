/** The long tier: what takes too long for every change. `npm run test:long`. */

import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/long/**/*.test.ts'],
    testTimeout: 700_000,
    hookTimeout: 60_000,
    reporters: ['verbose'],
  },
});
