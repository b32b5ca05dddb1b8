/** The command never runs stale code: in a project of its own, every change is seen, also by several at once. */

import { spawn, spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, expect, test } from 'vitest';

const house = fileURLToPath(new URL('../..', import.meta.url));
const project = mkdtempSync(join(tmpdir(), 'loopwright-build-'));
afterAll(() => rmSync(project, { recursive: true }));

function put(name: string, text: string): void {
  mkdirSync(dirname(join(project, name)), { recursive: true });
  writeFileSync(join(project, name), text);
}

for (const folder of ['compiler', 'runtime/command', 'blocks']) mkdirSync(join(project, folder), { recursive: true });
for (const name of [
  'runtime/command/build.mjs',
  'runtime/command/loopwright.mjs',
  'runtime/vite.config.ts',
  'package.json',
  'package-lock.json',
]) {
  copyFileSync(join(house, name), join(project, name));
}
symlinkSync(join(house, 'node_modules'), join(project, 'node_modules'));
put(
  'runtime/command/main.ts',
  "import word from '../../blocks/word.block?raw';\nexport const main = () => void process.stdout.write(word);\n",
);

function say(word: string): void {
  put('blocks/word.block', word);
}

function heard(): string {
  const { stdout, stderr } = spawnSync(process.execPath, [join(project, 'runtime/command/loopwright.mjs')], {
    encoding: 'utf8',
  });
  expect(stderr).toBe('');
  return stdout;
}

test('built at the first call, and again after any change', () => {
  say('one');
  expect(heard()).toBe('one');
  say('two');
  expect(heard()).toBe('two');
  say('old');
  utimesSync(join(project, 'blocks/word.block'), 1_000, 1_000);
  expect(heard()).toBe('old');
});

test('several at once find a whole bundle', async () => {
  say('together');
  const ran = Array.from(
    { length: 4 },
    () =>
      new Promise<string>((resolve) => {
        const child = spawn(process.execPath, [join(project, 'runtime/command/loopwright.mjs')]);
        let said = '';
        child.stdout.on('data', (part: Buffer) => {
          said += part.toString();
        });
        child.stderr.on('data', (part: Buffer) => {
          said += part.toString();
        });
        child.on('close', () => resolve(said));
      }),
  );
  expect(await Promise.all(ran)).toEqual(['together', 'together', 'together', 'together']);
});

test('a lock whose owner is gone is taken over', () => {
  const { pid } = spawnSync('true');
  put('dist/command.lock', String(pid));
  say('after all');
  expect(heard()).toBe('after all');
});
