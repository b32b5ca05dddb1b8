/** Serves the built editor as it is served for real, and opens it in a browser that is driven by input events only. */

import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { createServer, request } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import {
  type Browser,
  type BrowserContext,
  chromium,
  type Download,
  type FileChooser,
  type Page,
} from 'playwright-core';
import { afterAll, beforeAll } from 'vitest';
import { editorServer } from '../../runtime/command/editor_server.ts';

const ROOT = fileURLToPath(new URL('../../dist/editor', import.meta.url));

export interface Served {
  readonly address: string;
  close(): Promise<void>;
}

/** Serves `dist/editor` on a free port, by the server that serves it for real. */
export async function serveEditor(): Promise<Served> {
  if (!existsSync(join(ROOT, 'index.html'))) throw new Error('dist/editor is not built: npm run build.');
  const server = editorServer([['/', ROOT]]);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('The server has no port.');
  return {
    address: `http://127.0.0.1:${address.port}/`,
    close: () =>
      new Promise((resolve, reject) => {
        server.closeAllConnections();
        server.close((error) => (error === undefined ? resolve() : reject(error)));
      }),
  };
}

export function launch(): Promise<Browser> {
  return chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

/** The editor as served and the browser it is opened in, once `openOnce` was called: one of each for all tests of a file. */
export let served: Served;
export let browser: Browser;

/** Serves the editor before the first test of a file, launches a browser, and ends both after the last. */
export function openOnce(): void {
  beforeAll(async () => {
    served = await serveEditor();
    browser = await launch();
  });
  afterAll(async () => {
    await browser?.close();
    await served?.close();
  });
}

/** Bytes of bodies, as they travel, until the editor can first be edited and for a while after: page, fonts and threads. */
export async function firstLoadBytes(browser: Browser, address: string): Promise<number> {
  let bytes = 0;
  const between = createServer((asked, answered) => {
    const { host } = new URL(address);
    const headers = { ...asked.headers, host };
    const on = request(new URL(asked.url ?? '/', address), { method: asked.method, headers }, (answer) => {
      answered.writeHead(answer.statusCode ?? 500, answer.headers);
      answer.on('data', (part: Buffer) => {
        bytes += part.length;
      });
      answer.pipe(answered);
    });
    asked.pipe(on);
  });
  await new Promise<void>((resolve) => between.listen(0, '127.0.0.1', resolve));
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
  try {
    const { port } = between.address() as AddressInfo;
    const page = await context.newPage();
    await page.goto(`http://127.0.0.1:${port}/`);
    await page.getByRole('application', { name: /^Paper/ }).waitFor();
    await page.waitForTimeout(1500);
    return bytes;
  } finally {
    await context.close();
    between.closeAllConnections();
    between.close();
  }
}

export interface Look {
  readonly width?: number;
  readonly height?: number;
  readonly dark?: boolean;
  readonly still?: boolean;
  /** Fingers instead of a mouse. */
  readonly touch?: boolean;
}

/** An editor of its own, with nothing kept from before, and what went wrong in its page. */
export interface OpenEditor {
  readonly context: BrowserContext;
  readonly page: Page;
  /** Errors on the page's console and uncaught ones. */
  readonly errors: string[];
}

export async function openEditor(browser: Browser, address: string, look: Look = {}): Promise<OpenEditor> {
  const context = await browser.newContext({
    viewport: { width: look.width ?? 1280, height: look.height ?? 800 },
    colorScheme: look.dark === true ? 'dark' : 'light',
    reducedMotion: look.still === false ? 'no-preference' : 'reduce',
    hasTouch: look.touch === true,
    isMobile: look.touch === true,
    permissions: ['clipboard-read', 'clipboard-write'],
  });
  const page = await context.newPage();
  const errors: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(String(error)));
  // Heard from the start on, so that a dialog asked for at once is answered by the test and not by the browser.
  page.on('filechooser', () => {});
  await page.goto(address);
  await page.getByRole('application', { name: /^Paper/ }).waitFor();
  return { context, page, errors };
}

/** Opens a machine that comes with the editor, through the file menu. */
export async function openSample(page: Page, name: string): Promise<void> {
  await page.getByRole('button', { name: 'File', exact: true }).click();
  await page.getByRole('menuitem', { name: new RegExp(`^${name} sample$`) }).click();
  await page.getByRole('button', { name: `File name: ${name.replaceAll(' ', '_')}` }).waitFor();
}

/** Chooses files in the dialog of the open command. */
export async function chooseFiles(page: Page, files: Parameters<FileChooser['setFiles']>[0]): Promise<void> {
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.keyboard.press('Control+o')]);
  await chooser.setFiles(files);
}

/** Starts an empty sheet, through the file menu. */
export async function newSheet(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'File', exact: true }).click();
  await page.getByRole('menuitem', { name: 'New sheet' }).click();
  await page.getByRole('application', { name: 'Paper, 0 blocks' }).waitFor();
}

/** What the download key hands over, as text. */
export async function downloadedSheet(page: Page): Promise<string> {
  const [download] = await Promise.all([page.waitForEvent('download'), page.keyboard.press('Control+Shift+S')]);
  return textOf(download);
}

export async function textOf(download: Download): Promise<string> {
  return readFile(await download.path(), 'utf8');
}

/** The middle of a card, a port or a line on the screen: `block tilt`, `output tilt.y`. */
export async function middleOf(page: Page, thing: string): Promise<{ x: number; y: number }> {
  const box = await page.locator(`[id="thing_${thing.replace(' ', '_')}"]`).boundingBox();
  if (box === null) throw new Error(`${thing} is not in view.`);
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
}

/** Drags with the mouse from one thing to another. */
export async function drag(page: Page, from: { x: number; y: number }, to: { x: number; y: number }): Promise<void> {
  await page.mouse.move(from.x, from.y);
  await page.mouse.down();
  await page.mouse.move((from.x + to.x) / 2, (from.y + to.y) / 2, { steps: 4 });
  await page.mouse.move(to.x, to.y, { steps: 4 });
  await page.mouse.up();
}
