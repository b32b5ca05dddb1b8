/** Puts each fault into a copy of the project and runs the tests that compare bits: none may pass. */

import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { faults } from './faults.ts';

const top = resolve(import.meta.dirname, '../..');
const copy = mkdtempSync(join(tmpdir(), 'loopwright-faults-'));
const parts = [
  'blocks',
  'compiler',
  'runtime',
  'samples',
  'tests',
  'package.json',
  'tsconfig.json',
  'vitest.config.ts',
];

/** What compares bits, cut short: the first difference is enough. Only sheets are lowered. */
const [programs, sheets] = ['tests/agree/programs.test.ts', 'tests/agree/sheets.test.ts'];
const catchers = (file: string) => (file.startsWith('compiler/stages/') ? [sheets] : [programs, sheets]);

function passes(files: readonly string[]): boolean {
  return files.every((file) => {
    const args = ['vitest', 'run', '--project', 'node', '--bail', '1', file];
    const env = { ...process.env, SHEETS: '50', SHRINK: '0', FORCE_COLOR: '0' };
    return spawnSync('npx', args, { cwd: copy, env, timeout: 300_000, stdio: 'ignore' }).status === 0;
  });
}

beforeAll(() => {
  for (const part of parts) cpSync(join(top, part), join(copy, part), { recursive: true });
  symlinkSync(join(top, 'node_modules'), join(copy, 'node_modules'));
});
afterAll(() => rmSync(copy, { recursive: true, force: true }));

describe('faults', () => {
  test('without one, the tests pass', () => {
    expect(passes([programs, sheets])).toBe(true);
  });

  for (const { file, from, to } of faults)
    test(`${file}: ${from.split('\n').at(-1)?.trim()}`, () => {
      const path = join(copy, file);
      const good = readFileSync(path, 'utf8');
      expect(good.split(from), 'the fault still has its place').toHaveLength(2);
      writeFileSync(
        path,
        good.replace(from, () => to),
      );
      try {
        expect(passes(catchers(file))).toBe(false);
      } finally {
        writeFileSync(path, good);
      }
    });
});
