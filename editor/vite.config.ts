/** Builds the editor into `dist/editor`: no inline scripts, so that a strict content security policy can be served with it. */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';
import { licencesOf } from './licences.ts';

const here = fileURLToPath(new URL('.', import.meta.url));
const stix = {
  name: 'STIX Two Math and Text (fonts, a subset)',
  version: '',
  licence: 'OFL-1.1',
  text: readFileSync(fileURLToPath(new URL('fonts/OFL.txt', import.meta.url)), 'utf8').trim(),
};
const licences = licencesOf([stix]);

export default defineConfig({
  root: here,
  base: './',
  plugins: [react(), licences.page()],
  worker: { format: 'es', plugins: () => [licences.thread()] },
  server: { host: '127.0.0.1' },
  build: {
    outDir: '../dist/editor',
    emptyOutDir: true,
    target: 'es2023',
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 4000,
  },
});
