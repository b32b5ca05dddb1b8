/** Serves the built editor and the samples to a browser on this machine, and to nobody else. */

import { createReadStream, existsSync, readFileSync, realpathSync, statSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import { extname, join, sep } from 'node:path';
import { brotliCompressSync, constants } from 'node:zlib';

/** What a page may do: load what this server serves, run WebAssembly, and nothing from elsewhere. */
const POLICY = [
  "default-src 'none'",
  "script-src 'self' 'wasm-unsafe-eval'",
  "style-src 'self' 'unsafe-inline'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "worker-src 'self'",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

const HEADERS = {
  'Content-Security-Policy': POLICY,
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
};

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.mjs': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.map': 'application/json; charset=utf-8',
  '.webmanifest': 'application/manifest+json; charset=utf-8',
  '.svg': 'image/svg+xml; charset=utf-8',
  '.csv': 'text/csv; charset=utf-8',
  '.md': 'text/markdown; charset=utf-8',
  '.txt': 'text/plain; charset=utf-8',
  '.block': 'text/plain; charset=utf-8',
  '.c': 'text/plain; charset=utf-8',
  '.h': 'text/plain; charset=utf-8',
  '.png': 'image/png',
  '.jpg': 'image/jpeg',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.woff': 'font/woff',
  '.ttf': 'font/ttf',
  '.wasm': 'application/wasm',
};

/** Folders served, each under its own path; the first path that fits counts. */
export type Folders = readonly (readonly [under: string, folder: string])[];

/** A server, not yet listening. Files are only read, links out of a folder and hidden files are not followed. */
export function editorServer(folders: Folders): Server {
  const packed = new Map<string, Buffer>();
  const server = createServer((request, response) => {
    try {
      answer(server, folders, packed, request, response);
    } catch (error) {
      refuse(
        response,
        500,
        `The file could not be read: ${error instanceof Error ? error.message : 'no reason given'}`,
      );
    }
  });
  return server;
}

function answer(
  server: Server,
  folders: Folders,
  packed: Map<string, Buffer>,
  request: IncomingMessage,
  response: ServerResponse,
): void {
  const address = server.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  const host = request.headers.host ?? '';
  const url = request.url ?? '/';
  // Work is kept by origin: under another name for the same machine it would seem gone.
  if (host === `localhost:${port}` || host === `[::1]:${port}`) {
    response
      .writeHead(308, { ...HEADERS, Location: `http://127.0.0.1:${port}${url.startsWith('/') ? url : '/'}` })
      .end();
    return;
  }
  if (host !== `127.0.0.1:${port}`) {
    refuse(response, 421, 'This server answers to 127.0.0.1 only.');
    return;
  }
  if (request.method !== 'GET' && request.method !== 'HEAD') {
    refuse(response, 405, 'Files here are only read.');
    return;
  }

  const file = fileFor(url, folders);
  const found = file === undefined ? undefined : statSync(file);
  if (file === undefined || found === undefined || !found.isFile()) {
    refuse(response, 404, 'There is no such file.');
    return;
  }
  const tag = `"${found.size.toString(36)}-${Math.trunc(found.mtimeMs).toString(36)}"`;
  const type = TYPES[extname(file).toLowerCase()] ?? 'application/octet-stream';
  const headers: Record<string, string> = {
    ...HEADERS,
    'Content-Type': type,
    ETag: tag,
    Vary: 'Accept-Encoding',
    // Built files carry their hash in their names.
    'Cache-Control': /^\/assets\//.test(url) ? 'public, max-age=31536000, immutable' : 'no-cache',
  };
  if (request.headers['if-none-match'] === tag) {
    response.writeHead(304, headers).end();
    return;
  }
  const packs = /\bbr\b/.test(String(request.headers['accept-encoding'])) && found.size > 1_000 && isText(type);
  if (packs) {
    const key = `${file}${tag}`;
    const bytes = packed.get(key) ?? packedText(file);
    packed.set(key, bytes);
    response.writeHead(200, { ...headers, 'Content-Encoding': 'br', 'Content-Length': String(bytes.length) });
    response.end(request.method === 'HEAD' ? undefined : bytes);
    return;
  }
  response.writeHead(200, { ...headers, 'Content-Length': String(found.size) });
  if (request.method === 'HEAD') response.end();
  else
    createReadStream(file)
      .on('error', () => response.destroy())
      .pipe(response);
}

/** What the build packed, or for other files the same done quickly. */
function packedText(file: string): Buffer {
  const beside = `${file}.br`;
  if (existsSync(beside)) return readFileSync(beside);
  return brotliCompressSync(readFileSync(file), { params: { [constants.BROTLI_PARAM_QUALITY]: 5 } });
}

/** The file a request means, if it lies in one of the folders. */
function fileFor(url: string, folders: Folders): string | undefined {
  let path: string;
  try {
    path = decodeURIComponent(url.replace(/[?#].*$/, ''));
  } catch {
    return undefined;
  }
  if (!path.startsWith('/') || path.includes('\0') || path.includes('\\') || /\/\./.test(path)) return undefined;
  const [under, folder] = folders.find(([under]) => path.startsWith(under)) ?? [];
  if (under === undefined || folder === undefined) return undefined;
  const inside = path.slice(under.length);
  const file = join(folder, inside === '' ? 'index.html' : inside);
  if (!existsSync(file)) return undefined;
  const real = realpathSync(file);
  return real.startsWith(realpathSync(folder) + sep) ? real : undefined;
}

function isText(type: string): boolean {
  return type.includes('charset') || type === 'application/wasm' || type === 'font/ttf';
}

function refuse(response: ServerResponse, status: number, words: string): void {
  if (response.headersSent) {
    response.destroy();
    return;
  }
  response.writeHead(status, { ...HEADERS, 'Content-Type': 'text/plain; charset=utf-8' }).end(`${words}\n`);
}
