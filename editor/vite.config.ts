/** Builds the editor into `dist/editor`: no inline scripts, so that a strict content security policy can be served with it. */
import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';

const here = fileURLToPath(new URL('.', import.meta.url));

export default defineConfig({
  root: here,
  base: './',
  plugins: [react()],
  worker: { format: 'es' },
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
