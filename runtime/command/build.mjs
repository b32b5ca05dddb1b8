/** Builds the command and the editor into `dist/` when their sources are not the ones they were built from. */

import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { brotliCompress, constants } from 'node:zlib';

const root = fileURLToPath(new URL('../..', import.meta.url));
const shared = ['compiler', 'runtime', 'blocks', 'package.json', 'package-lock.json'];
const command = { name: 'command', config: 'runtime/vite.config.ts', main: 'main.js', sources: shared };
const editor = {
  name: 'editor',
  config: 'editor/vite.config.ts',
  main: 'index.html',
  sources: [...shared, 'editor', 'samples'],
  travels: true,
};

/** Where the command's bundle stands, built if need be. */
export const builtCommand = () => built(command);

/** The folder of the samples. */
export const samples = join(root, 'samples');

/** The folder the editor stands in, built if need be; undefined while there is no editor to build. */
export async function builtEditor() {
  if (!existsSync(join(root, 'editor/main.tsx'))) return undefined;
  return dirname(await built(editor));
}

async function built(product) {
  const main = join(root, 'dist', product.name, product.main);
  const stamp = join(root, 'dist', `${product.name}.stamp`);
  const isFresh = () => existsSync(main) && existsSync(stamp) && readFileSync(stamp, 'utf8') === fingerprint(product);
  if (isFresh()) return main;
  const unlock = await lock(product.name);
  try {
    if (!isFresh()) await build(product, stamp);
  } finally {
    unlock();
  }
  return main;
}

/** Builds beside the old files and moves the new ones over them, so that whoever reads meanwhile finds a whole file. */
async function build(product, stamp) {
  // Whatever the surroundings say (a test's, a developer's): libraries are built as they are to be used.
  process.env.NODE_ENV = 'production';
  const { build } = await import('vite');
  const made = fingerprint(product);
  const fresh = join(root, 'dist', `${product.name}.new`);
  const place = join(root, 'dist', product.name);
  await build({
    configFile: join(root, product.config),
    logLevel: 'error',
    build: { outDir: fresh, emptyOutDir: true, reportCompressedSize: false },
  });
  if (product.travels) await pack(fresh);
  const files = filesIn(fresh).filter((file) => file !== product.main);
  for (const file of [...files, product.main]) {
    mkdirSync(dirname(join(place, file)), { recursive: true });
    renameSync(join(fresh, file), join(place, file));
  }
  const kept = new Set([...files, product.main]);
  for (const file of filesIn(place)) if (!kept.has(file)) rmSync(join(place, file));
  rmSync(fresh, { recursive: true });
  writeFileSync(stamp, made);
}

/** Beside each text of some size, the same packed for its way to a browser, tighter than there is time for while one waits. */
async function pack(folder) {
  const texts = filesIn(folder).filter((file) => /\.(js|css|html|json|svg|ttf)$/.test(file));
  const params = { [constants.BROTLI_PARAM_QUALITY]: 10 };
  await Promise.all(
    texts.map(async (file) => {
      const text = readFileSync(join(folder, file));
      if (text.length > 1_000)
        writeFileSync(join(folder, `${file}.br`), await promisify(brotliCompress)(text, { params }));
    }),
  );
}

/** Of names, sizes and times of all sources: changes with any edit, checkout or removal. */
function fingerprint(product) {
  const hash = createHash('sha256');
  for (const source of product.sources) {
    const path = join(root, source);
    if (!existsSync(path)) continue;
    const files = statSync(path).isDirectory() ? filesIn(path).map((file) => join(path, file)) : [path];
    for (const file of files) {
      const { size, mtimeMs } = statSync(file, { throwIfNoEntry: false }) ?? {};
      hash.update(`${file}\0${size}\0${mtimeMs}\n`);
    }
  }
  return hash.digest('hex');
}

function filesIn(folder) {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
    .sort();
}

/** One process builds, the others wait for it; a lock whose owner is gone is taken over. */
async function lock(name) {
  const path = join(root, 'dist', `${name}.lock`);
  mkdirSync(dirname(path), { recursive: true });
  for (;;) {
    try {
      writeFileSync(path, String(process.pid), { flag: 'wx' });
      return () => rmSync(path, { force: true });
    } catch (error) {
      if (error.code !== 'EEXIST') throw error;
      if (!isRunning(path)) rmSync(path, { force: true });
      await wait(50);
    }
  }
}

function isRunning(path) {
  try {
    const owner = Number(readFileSync(path, 'utf8'));
    if (owner === 0) return Date.now() - statSync(path).mtimeMs < 1_000;
    process.kill(owner, 0);
    return true;
  } catch (error) {
    return error.code === 'EPERM';
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  try {
    await builtCommand();
    await builtEditor();
  } catch (error) {
    process.stderr.write(`The build failed.\n${error.message}\n`);
    process.exitCode = 1;
  }
}
