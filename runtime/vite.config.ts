/** Builds the command into one file, `dist/command/main.js`, with the block library's texts in it. */

import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  ssr: { noExternal: true },
  build: {
    ssr: 'command/main.ts',
    outDir: '../dist/command',
    emptyOutDir: true,
    target: 'node20',
    minify: false,
    rolldownOptions: { output: { entryFileNames: 'main.js', codeSplitting: false } },
  },
});
