/** The library for hobby boards: its properties, and its example with a board of the test, in C and C++ and for an 8-bit board. */

import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { hasCommand } from '../agree/programs_c.ts';
import { emitFor, ran, requestFor, rowScout, spoil, withFiles } from './emitted.ts';

/** What a board's own library declares for every sketch, as far as the example needs it. */
const declares = `#include <stdint.h>
#ifdef __cplusplus
extern "C" uint32_t micros(void);
#else
uint32_t micros(void);
#endif
`;

/** A clock near the end of its range; a tick of work takes a tenth of a tick, but the fifth one three and a half ticks. */
const board = `#include <stdio.h>
static uint32_t now = UINT32_C(4294960000);
static int worked = 0;
uint32_t micros(void) { now += 100U; return now; }
static void work(void) { worked++; now += (worked == 5) ? 17500U : 500U; }
#include "example.ino"
int main(void)
{
    setup();
    const int before = drives;
    const uint32_t begun = now;
    while ((now - begun) < 100000U) { now += 50U; loop(); }
    printf("%d %d %d %lu\\n", before, worked, drives - before, (unsigned long)missed);
    return 0;
}
`;

/** The example with what a user writes in its two functions. */
function filledIn(folder: string): void {
  const path = join(folder, 'example.ino');
  const text = readFileSync(path, 'utf8');
  const filled = text
    .replace('    /* in.stop: read it here */', '    in.stop = 1U;\n    work();')
    .replace('    /* out.lamp: drive it here */', '    drives++;')
    .replace('static void read_sensors', 'static int drives = 0;\nstatic void work(void);\nstatic void read_sensors');
  for (const part of ['work();', 'drives++;', 'int drives']) expect(filled).toContain(part);
  writeFileSync(path, filled);
  writeFileSync(join(folder, 'declares.h'), declares);
  writeFileSync(join(folder, 'board.c'), board);
}

test('its properties are those that the library format asks for', async () => {
  // The library format's public specification, revision 2.2: these fields, a name of letters, digits, spaces, _ . and -,
  // a version of three numbers, and a category out of a list.
  const files = emitFor('sketch', await requestFor(rowScout, 'stand_up'));
  expect(files.every((file) => !file.name.includes('/'))).toBe(true);
  const text = files.find((file) => file.name === 'library.properties')?.text ?? '';
  const fields = new Map(
    text
      .trim()
      .split('\n')
      .map((line) => [line.slice(0, line.indexOf('=')), line.slice(line.indexOf('=') + 1)]),
  );
  for (const name of 'name version author maintainer sentence paragraph category url architectures'.split(' '))
    expect(fields.has(name), name).toBe(true);
  expect(fields.get('name')).toMatch(/^[A-Za-z0-9][A-Za-z0-9 _.-]{0,62}$/);
  expect(fields.get('version')).toMatch(/^\d+\.\d+\.\d+$/);
  expect(fields.get('category')).toBe('Device Control');
  expect(files.map((file) => file.name)).toContain(fields.get('includes'));
});

describe.each([
  ['C', 'gcc', ['-std=gnu11']],
  ['C++', 'g++', ['-std=gnu++17', '-x', 'c++']],
] as const)('as %s', (_, compiler, words) => {
  const there = hasCommand('gcc') && hasCommand(compiler);

  test.skipIf(!there)('the example ticks, leaves out what it missed, and never runs on a wrong bit', async () => {
    const files = emitFor('sketch', await requestFor(rowScout, 'stand_up', { for: '0.5 s' }));
    await withFiles(files, async (folder) => {
      filledIn(folder);
      const run = async () => {
        const strict = ['-Wall', '-Wextra', '-Werror', '-O2', '-I.', '-include', 'declares.h'];
        // As a library is: each C file by itself, in the compiler's own dialect.
        for (const file of ['row_scout', 'selfcheck'])
          expect(await ran(folder, 'gcc', '-std=gnu11', ...strict, '-c', `${file}.c`)).toMatchObject({ errors: '' });
        const built = await ran(folder, compiler, ...words, ...strict, '-c', 'board.c', '-o', 'board.o');
        expect(built.errors).toBe('');
        const linked = await ran(folder, 'gcc', 'row_scout.o', 'selfcheck.o', 'board.o', '-lm', '-o', 'board');
        expect(linked.errors).toBe('');
        return (await ran(folder, join(folder, 'board'))).output;
      };
      // 20 ticks of 5 ms in 100 ms. The fifth works 3.5 ticks: the next three deadlines pass and are left out.
      expect(await run()).toBe('1 17 17 3\n');
      spoil(folder, 'row_scout');
      expect(await run()).toBe('1 0 0 0\n');
    });
  });
});

test.skipIf(!hasCommand('avr-gcc'))('it fits a board of 32 kB of flash and 2 kB of memory', async () => {
  const files = emitFor('sketch', await requestFor(rowScout, 'stand_up'));
  await withFiles(files, async (folder) => {
    writeFileSync(join(folder, 'declares.h'), declares);
    copyFileSync(join(folder, 'example.ino'), join(folder, 'example.c'));
    writeFileSync(
      join(folder, 'main.c'),
      'void setup(void); void loop(void); uint32_t micros(void) { return 0U; } int main(void) { setup(); for (;;) { loop(); } }',
    );
    const flags = '-mmcu=atmega328p -Os -std=gnu11 -flto -ffunction-sections -fdata-sections -Wl,--gc-sections';
    const sources = ['row_scout.c', 'selfcheck.c', 'example.c', 'main.c'];
    const words = [...flags.split(' '), '-I.', '-include', 'declares.h', ...sources, '-lm', '-o', 'image.elf'];
    expect(await ran(folder, 'avr-gcc', ...words)).toMatchObject({ status: 0, errors: '' });
    const sections = (await ran(folder, 'avr-size', '-A', 'image.elf')).output;
    const bytes = (name: string): number => Number(sections.match(new RegExp(`^\\.${name} +(\\d+)`, 'm'))?.[1] ?? 0);
    const { text, data, bss } = { text: bytes('text'), data: bytes('data'), bss: bytes('bss') };
    expect(text).toBeGreaterThan(8_000);
    expect(text + data).toBeLessThan(32_256);
    expect(data + bss).toBeLessThan(2_048 - 300);
  });
});
