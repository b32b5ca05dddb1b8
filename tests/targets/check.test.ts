/** Every target: what is emitted builds without a warning, its check passes, sees one wrong bit, and says so to `make`. */

import { describe, expect, test } from 'vitest';
import { targets } from '../../compiler/c/targets/targets.ts';
import { emitFor, hasToolsFor, make, requestFor, rowScout, spoil, withFiles } from './emitted.ts';

const TICKS = 2000;

describe.each(targets.map((target) => target.name))('%s', (target) => {
  const there = hasToolsFor(target);

  test('emitting again gives the same bytes', async () => {
    const request = await requestFor(rowScout, 'stand_up');
    expect(emitFor(target, request)).toEqual(emitFor(target, request));
    const names = emitFor(target, request).map((file) => file.name);
    expect(new Set(names).size).toBe(names.length);
    const mains = emitFor(target, request).filter((file) => /^int main\(/m.test(file.text));
    expect(mains.map((file) => file.name)).toEqual(['selfcheck.c']);
  });

  test('the page beside it warns, says what was checked and promises no safety', async () => {
    const text = (run: string | undefined) =>
      requestFor(rowScout, run).then(
        (request) => emitFor(target, request).find((file) => file.name === 'README.md')?.text ?? '',
      );
    const page = await text('stand_up');
    expect(page).toContain('not a certified safety function');
    expect(page).toContain('Local codes and a qualified person');
    expect(page).toMatch(
      new RegExp(`(all|the first \\d+ of) ${TICKS} ticks(, as many as there is room for,)? of the run "stand_up"`),
    );
    expect(page).toContain('| `gyro` | float |');
    expect(await text(undefined)).toContain('Nothing yet: emit with `--selfcheck RUN`');
  });

  test.skipIf(!there)('make, make check and make size', { timeout: 120_000 }, async () => {
    const request = await requestFor(rowScout, 'stand_up');
    const values = request.check?.reference.values ?? 0;
    const files = emitFor(target, request);
    const page = files.find((file) => file.name === 'README.md')?.text ?? '';
    const ticks = Number(page.match(/the first (\d+) of/)?.[1] ?? TICKS);
    expect(ticks).toBeGreaterThanOrEqual(500);
    await withFiles(files, async (folder) => {
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      const { status, output, errors } = await make(folder, 'check');
      expect([status, errors]).toEqual([0, '']);
      const lines = output.split('\n').filter((line) => /passed/.test(line));
      expect(lines.length).toBeGreaterThan(0);
      for (const line of lines) expect(line).toBe(`${ticks * values} passed, 0 failed`);
      const size = await make(folder, 'size');
      expect(size).toMatchObject({ status: 0, errors: '' });
      expect(size.output).toMatch(/^at most \d+ bytes of stack$/m);

      spoil(folder, 'row_scout');
      const spoilt = await make(folder, 'check');
      expect(spoilt.status).not.toBe(0);
      expect(spoilt.output).toMatch(/^\d+ passed, [1-9]\d* failed$/m);
    });
  });

  test.skipIf(!there)('without a self-check it builds, and make check says what is missing', async () => {
    const files = emitFor(target, await requestFor(rowScout, undefined));
    await withFiles(files, async (folder) => {
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      const check = await make(folder, 'check');
      expect(check.status).not.toBe(0);
      expect(check.errors).toContain('--selfcheck RUN');
    });
  });
});
