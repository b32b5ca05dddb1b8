/** The loop of a POSIX system with a board of the test: as many ticks as asked for, at rest before and after, and what it says. */

import { spawn } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { layeredSheet } from '../layered/random_rates.ts';
import { emitFor, hasToolsFor, make, ran, requestFor, requestOf, rowScout, spoil, withFiles } from './emitted.ts';

const TICKS = 200;

/** Notes on a file every call, and what the motor and the lamp were told. */
const channels = `#include "channels.h"
#include <stdio.h>
static FILE *notes;
void channels_open(void) { notes = fopen("notes.txt", "w"); if (notes != NULL) { (void)setvbuf(notes, NULL, _IOLBF, 4096); } }
void channels_read(row_scout_in_t *in) { *in = (row_scout_in_t){.stop = 1U}; (void)fputs("read\\n", notes); }
void channels_write(const row_scout_out_t *out) { (void)fprintf(notes, "write %g %d\\n", (double)out->drive, (int)out->lamp); }
void channels_late(uint32_t tick, uint32_t behind) { (void)fprintf(notes, "late %u %u\\n", (unsigned)tick, (unsigned)behind); }
`;

const shapes: readonly (readonly [name: string, change: Partial<Sheet>])[] = [
  ['as it is', {}],
  ['layered', { schedule: 'layered' }],
];

const image = 'build/host/row_scout';
const summary =
  /^(\d+) ticks of 5\.000 ms; late by [\d.]+ us least, [\d.]+ us mean, [\d.]+ us most; (\d+) overruns, (\d+) ticks left out$/m;
/** What it may say of leave that it has not got, and nothing else. */
const noLeave = /^(no real-time priority|memory is not locked): .*; ticks may come late$/;

describe.each(shapes)('%s', (name, change) => {
  const layered = name === 'layered';

  test('drives at once or at the next tick, as the sheet says', async () => {
    const loop = async (outputs: Sheet['outputs']) => {
      const files = emitFor('posix', await requestFor(rowScout, undefined, { change: { ...change, outputs } }));
      const text = files.find((file) => file.name === 'run.c')?.text ?? '';
      return text.slice(text.indexOf('board_wait(&behind)')).match(/channels_\w+|row_scout_(tick|release|outputs)\(/g);
    };
    const work = layered ? ['row_scout_release(', 'row_scout_outputs('] : ['row_scout_tick('];
    const before = ['channels_late', 'channels_read'];
    expect(await loop('at_once')).toEqual([...before, ...work, 'channels_write', 'channels_write']);
    expect(await loop('next_tick')).toEqual([...before, 'channels_write', ...work, 'channels_write']);
  });

  test.skipIf(!hasToolsFor('posix'))('checks, runs its ticks and rests', { timeout: 60_000 }, async () => {
    const request = await requestFor(rowScout, 'stand_up', { for: '1 s', change });
    const values = request.check?.reference.values ?? 0;
    const files = emitFor('posix', request);
    expect(files.find((file) => file.name === 'run.c')?.text.includes('pthread_create')).toBe(layered);
    await withFiles(files, async (folder) => {
      expect(await make(folder, 'check')).toMatchObject({ status: 0, output: expect.stringContaining(', 0 failed') });
      writeFileSync(join(folder, 'channels.c'), channels);
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });

      const { status, output, errors } = await ran(folder, 'timeout', '20', image, String(TICKS));
      expect(status).toBe(0);
      expect(output.split('\n')[0]).toBe(`${TICKS * values} passed, 0 failed`);
      const [, ticks, overruns, leftOut] = output.match(summary) ?? [];
      expect(Number(ticks)).toBe(TICKS);
      for (const line of errors.split('\n').filter((one) => one !== '')) expect(line).toMatch(noLeave);

      const notes = readFileSync(join(folder, 'notes.txt'), 'utf8').trim().split('\n');
      const late = notes.filter((line) => line.startsWith('late'));
      expect(late.length).toBe(Number(overruns));
      expect(late.reduce((sum, line) => sum + Number(line.split(' ')[2]), 0)).toBe(Number(leftOut));
      const calls = notes.filter((line) => !line.startsWith('late')).map((line) => line.split(' ')[0]);
      const rounds = Array.from({ length: TICKS }, () => ['read', 'write']).flat();
      expect(calls).toEqual(['write', ...rounds, 'write']);
      expect(notes[0]).toBe('write 0 0');
      expect(notes.at(-1)).toBe('write 0 0');

      expect((await ran(folder, image, 'soon')).status).toBe(2);
      spoil(folder, 'row_scout');
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      const spoilt = await ran(folder, 'timeout', '20', image, String(TICKS));
      expect(spoilt.status).toBe(1);
      expect(spoilt.errors).toContain('nothing was armed');
      expect(readFileSync(join(folder, 'notes.txt'), 'utf8')).toBe('write 0 0\n');
    });
  });
});

test.skipIf(!hasToolsFor('posix')).each(['SIGINT', 'SIGTERM'] as const)(
  '%s ends it with every actuator at rest',
  { timeout: 60_000 },
  async (signal) => {
    const files = emitFor('posix', await requestFor(rowScout, undefined, { change: { schedule: 'layered' } }));
    await withFiles(files, async (folder) => {
      writeFileSync(join(folder, 'channels.c'), channels);
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      const child = spawn(join(folder, image), { cwd: folder });
      let output = '';
      child.stdout.on('data', (part: Buffer) => {
        output += String(part);
      });
      const ended = new Promise<number | null>((settle) => {
        child.on('close', settle);
      });
      const notes = () => readFileSync(join(folder, 'notes.txt'), 'utf8');
      await expect.poll(() => notes().split('read').length, { timeout: 20_000 }).toBeGreaterThan(5);
      child.kill(signal);
      expect(await ended).toBe(0);
      expect(output).toMatch(summary);
      expect(notes().trim().split('\n').at(-1)).toBe('write 0 0');
    });
  },
);

test.skipIf(!hasToolsFor('posix'))('an overrun makes no burst: missed ticks are left out and told', async () => {
  const files = emitFor('posix', await requestFor(rowScout, undefined));
  await withFiles(files, async (folder) => {
    const slow = channels
      .replace('#include <stdio.h>', '#define _POSIX_C_SOURCE 200809L\n#include <stdio.h>\n#include <time.h>')
      .replace(
        '(void)fputs("read\\n", notes);',
        `static int count; struct timespec long_time = {0, 33000000};
    if (++count == 3) { (void)nanosleep(&long_time, NULL); } (void)fputs("read\\n", notes);`,
      )
      .replace(/^#include "channels.h"\n(#define.*\n)/, '$1#include "channels.h"\n');
    writeFileSync(join(folder, 'channels.c'), slow);
    expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
    const { output } = await ran(folder, 'timeout', '20', image, '10');
    const notes = readFileSync(join(folder, 'notes.txt'), 'utf8').trim().split('\n');
    expect(notes.filter((line) => line === 'read').length).toBe(10);
    // 33 ms of work in ticks of 5 ms: at least six deadlines have passed when it ends, before the tick numbered 3.
    const [, , behind = '0'] = notes.find((line) => line.startsWith('late 3 '))?.split(' ') ?? [];
    expect(Number(behind)).toBeGreaterThanOrEqual(6);
    expect(Number(output.match(summary)?.[3])).toBeGreaterThanOrEqual(6);
  });
});

test.skipIf(!hasToolsFor('posix'))('tasks of many rates and phases, each a thread of its own', async () => {
  let most = 0;
  for (const seed of [15, 20]) {
    const request = await requestOf(layeredSheet(seed), 'many', undefined);
    most = Math.max(most, request.program.layers?.tasks.length ?? 0);
    await withFiles(emitFor('posix', request), async (folder) => {
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      const { status, output } = await ran(folder, 'timeout', '20', 'build/host/many', '40');
      expect([status, output]).toEqual([0, expect.stringMatching(/^40 ticks of /m)]);
    });
  }
  expect(most).toBeGreaterThan(3);
});

test.skipIf(!hasToolsFor('posix'))(
  'a task that takes too long is interrupted, left out and counted; the tick goes on',
  async () => {
    const files = emitFor('posix', await requestFor(rowScout, undefined, { change: { schedule: 'layered' } }));
    await withFiles(files, async (folder) => {
      // The linker puts this before the task of 25 ms: it works for 100 ms more, by the clock.
      const slow = `#define _POSIX_C_SOURCE 200809L
${channels}
#include <time.h>
void __real_row_scout_task_5_0(row_scout_t *m);
void __wrap_row_scout_task_5_0(row_scout_t *m);
void __wrap_row_scout_task_5_0(row_scout_t *m)
{
    struct timespec begun, now;
    (void)clock_gettime(CLOCK_MONOTONIC, &begun);
    (void)fputs("in\\n", notes);
    do {
        (void)clock_gettime(CLOCK_MONOTONIC, &now);
    } while (((now.tv_sec - begun.tv_sec) * 1000 + (now.tv_nsec - begun.tv_nsec) / 1000000) < 100);
    (void)fputs("out\\n", notes);
    __real_row_scout_task_5_0(m);
}
`;
      writeFileSync(join(folder, 'channels.c'), slow);
      expect(await make(folder, 'CFLAGS=-O2 -Wl,--wrap=row_scout_task_5_0')).toMatchObject({ status: 0, errors: '' });
      const { status, output } = await ran(folder, 'timeout', '20', image, '60');
      expect(status).toBe(0);
      expect(output).toMatch(/^task of every 5 ticks: [1-9]\d* times not done when due again, first at tick \d+$/m);
      const notes = readFileSync(join(folder, 'notes.txt'), 'utf8').trim().split('\n');
      expect(notes.filter((line) => line === 'read').length).toBe(60);
      const during = notes.join(' ').match(/in (?:(?!out).)*read/g) ?? [];
      expect(during.length).toBeGreaterThan(0);
    });
  },
);
