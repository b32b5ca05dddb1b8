/** The editor's server: one address, a strict policy, nothing but its folders. */

import { mkdirSync, mkdtempSync, symlinkSync, writeFileSync } from 'node:fs';
import { createServer, type IncomingHttpHeaders, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { brotliDecompressSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { editorServer } from '../../runtime/command/editor_server.ts';
import { EDITOR_PORT } from '../../runtime/command/serve.ts';
import { commandJson, started } from './sheets.ts';

const top = mkdtempSync(join(tmpdir(), 'loopwright-serve-'));
const editor = join(top, 'editor');
const samples = join(top, 'samples');
for (const folder of [editor, join(editor, 'assets'), join(samples, 'first_loop')])
  mkdirSync(folder, { recursive: true });
const script = `export const words = '${'word '.repeat(1_000)}';`;
writeFileSync(join(editor, 'index.html'), '<!doctype html><title>x</title>');
writeFileSync(join(editor, 'assets', 'main-abc.js'), script);
writeFileSync(join(editor, '.hidden'), 'secret');
writeFileSync(join(samples, 'first_loop', 'first_loop.sheet.json'), '{}');
writeFileSync(join(top, 'secret.txt'), 'secret');
symlinkSync(join(top, 'secret.txt'), join(samples, 'link.txt'));

const server = editorServer([
  ['/samples/', samples],
  ['/', editor],
]);
let port = 0;
beforeAll(async () => {
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  port = typeof address === 'object' && address !== null ? address.port : 0;
});
afterAll(() => server.close());

interface Got {
  readonly status: number | undefined;
  readonly headers: IncomingHttpHeaders;
  readonly body: Buffer;
}

/** Asks for a path exactly as it is written, which `fetch` would tidy. */
function get(path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<Got> {
  return new Promise((resolve, reject) => {
    const asked = request({ host: '127.0.0.1', port, path, method, headers }, (response) => {
      const parts: Buffer[] = [];
      response.on('data', (part: Buffer) => parts.push(part));
      response.on('end', () =>
        resolve({ status: response.statusCode, headers: response.headers, body: Buffer.concat(parts) }),
      );
    });
    asked.on('error', reject).end();
  });
}

describe('files', () => {
  test('the editor, its scripts and the samples, each with its type', async () => {
    const page = await get('/');
    expect([page.status, page.headers['content-type'], page.body.toString()]).toEqual([
      200,
      'text/html; charset=utf-8',
      '<!doctype html><title>x</title>',
    ]);
    const code = await get('/assets/main-abc.js?x=1');
    expect(code.headers['content-type']).toBe('text/javascript; charset=utf-8');
    expect(code.headers['cache-control']).toContain('immutable');
    expect(code.body.toString()).toBe(script);
    const sheet = await get('/samples/first_loop/first_loop.sheet.json');
    expect([sheet.status, sheet.headers['content-type']]).toEqual([200, 'application/json; charset=utf-8']);
  });

  test('texts are packed for those who take it, and not sent twice', async () => {
    const packed = await get('/assets/main-abc.js', { 'Accept-Encoding': 'gzip, br' });
    expect(packed.headers['content-encoding']).toBe('br');
    expect(packed.body.length).toBeLessThan(script.length / 10);
    expect(brotliDecompressSync(packed.body).toString()).toBe(script);
    const again = await get('/assets/main-abc.js', { 'If-None-Match': String(packed.headers.etag) });
    expect([again.status, again.body.length]).toEqual([304, 0]);
    const head = await get('/assets/main-abc.js', {}, 'HEAD');
    expect([head.status, head.body.length]).toEqual([200, 0]);
  });

  test.each([
    '/nothing.js',
    '/.hidden',
    '/assets',
    '/samples/',
    '/../secret.txt',
    '/samples/../../secret.txt',
    '/samples/%2e%2e/%2e%2e/secret.txt',
    '/samples/..%2f..%2fsecret.txt',
    '/samples/..\\..\\secret.txt',
    '/%00',
    '/%ff',
    '//etc/passwd',
    '/samples/link.txt',
  ])('%s is not there', async (path) => {
    const { status, body } = await get(path);
    expect(status).toBe(404);
    expect(body.toString()).not.toContain('secret');
  });

  test('files are only read', async () => {
    for (const method of ['POST', 'PUT', 'DELETE', 'OPTIONS']) expect((await get('/', {}, method)).status).toBe(405);
  });
});

describe('policy', () => {
  test('every answer forbids what is not needed', async () => {
    for (const path of ['/', '/assets/main-abc.js', '/nothing', '/samples/first_loop/first_loop.sheet.json']) {
      const { headers } = await get(path);
      const policy = String(headers['content-security-policy']).split('; ');
      expect(policy).toContain("default-src 'none'");
      expect(policy).toContain("script-src 'self' 'wasm-unsafe-eval'");
      expect(policy).toContain("frame-ancestors 'none'");
      expect(policy.find((rule) => rule.startsWith('script-src'))).not.toMatch(
        /unsafe-inline|'unsafe-eval'|blob:|http/,
      );
      expect(policy.find((rule) => rule.startsWith('connect-src'))).toBe("connect-src 'self'");
      expect(headers['x-content-type-options']).toBe('nosniff');
      expect(headers['access-control-allow-origin']).toBeUndefined();
    }
  });

  test('localhost is sent to the one address', async () => {
    const { status, headers } = await get('/samples/x?y=1', { Host: `localhost:${port}` });
    expect([status, headers.location]).toEqual([308, `http://127.0.0.1:${port}/samples/x?y=1`]);
  });

  test('another name for this machine is refused, so that no other site can read here', async () => {
    for (const host of ['evil.example', `evil.example:${port}`, `127.0.0.1:${port + 1}`, '127.0.0.1']) {
      expect((await get('/', { Host: host })).status).toBe(421);
    }
  });
});

describe('the verb', () => {
  test('says in a sentence when the port is taken, and takes no other', async () => {
    const other = createServer();
    const mine = await new Promise<boolean>((resolve) => {
      other.once('error', () => resolve(false)).listen(EDITOR_PORT, '127.0.0.1', () => resolve(true));
    });
    try {
      const { status, ok, findings } = commandJson<{ findings: { message: string }[] }>('serve');
      expect([status, ok]).toEqual([2, false]);
      expect(findings[0]?.message).toMatch(
        /port 4816 of 127\.0\.0\.1 is taken, .*; open http:\/\/127\.0\.0\.1:4816\/ or stop/,
      );
    } finally {
      if (mine) await new Promise((resolve) => other.close(resolve));
    }
  });

  test('prints the address, serves, and ends when asked', async () => {
    const { child, first, ended } = await started('serve');
    try {
      if (first.includes('is taken')) return;
      expect(first).toBe('The editor is at http://127.0.0.1:4816/ (Ctrl+C stops it)\n');
      const page = await fetch('http://127.0.0.1:4816/');
      expect(page.headers.get('content-security-policy')).toContain("default-src 'none'");
      expect(await page.text()).toContain('<script');
    } finally {
      child.kill('SIGTERM');
    }
    expect(await ended).toBe(0);
  });
});
