/** The image for a board, in the emulator with channels of the test: it checks itself, then ticks; with a wrong bit, never. */

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { emitFor, hasToolsFor, make, ran, requestFor, rowScout, spoil, withFiles } from './emitted.ts';

/** Where a target's image runs, and how channels end it there with a word to the test. */
interface Place {
  readonly target: string;
  readonly core: string;
  readonly emulator: readonly [command: string, ...words: string[]];
  /** C of `static void finish(int good)`. */
  readonly finish: string;
  /** What the emulator answers when `finish` was called with 1. */
  readonly good: { readonly status?: number; readonly said?: RegExp };
  /** What it answers after so many seconds when the image rests for good; 124: it was stopped from outside. */
  readonly atRest: { readonly after: string; readonly status: number; readonly said?: RegExp };
}

const silentAtRest = { after: '3', status: 124 };

const armFinish = `static void finish(int good)
{
    register uint32_t r0 __asm__("r0") = 0x18U;
    register uint32_t r1 __asm__("r1") = (good != 0) ? 0x20026U : 0x20023U;
    __asm__ volatile("bkpt 0xab" : : "r"(r0), "r"(r1) : "memory");
}`;
const semihosting = [
  '-display',
  'none',
  '-monitor',
  'none',
  '-serial',
  'none',
  '-semihosting-config',
  'enable=on,target=native',
];

const places: readonly Place[] = [
  ...(['m0 microbit', 'm4f mps2-an386'] as const).map((words): Place => {
    const [core = '', board = ''] = words.split(' ');
    return {
      target: 'cortex_m',
      core,
      emulator: ['qemu-system-arm', '-M', board, ...semihosting, '-kernel'],
      finish: armFinish,
      good: { status: 0 },
      atRest: silentAtRest,
    };
  }),
  ...['imac', 'imafc'].map(
    (core): Place => ({
      target: 'riscv',
      core,
      emulator: ['qemu-system-riscv32', '-M', 'virt', '-bios', 'none', ...semihosting, '-kernel'],
      finish: `int32_t board_semihost(uint32_t operation, const void *argument);
static void finish(int good)
{
    const uintptr_t reason = (good != 0) ? 0x20026U : 0x20023U;
    (void)board_semihost(0x18U, (const void *)reason);
}`,
      good: { status: 0 },
      atRest: silentAtRest,
    }),
  ),
  {
    target: 'avr',
    core: 'atmega2560',
    emulator: ['simavr', '-m', 'atmega2560', '-f', '16000000'],
    finish: `static void finish(int good)
{
    board_say((good != 0) ? "all good\\n" : "all bad\\n");
    (void)board_end(0);
}`,
    good: { said: /all good/ },
    // It ends by itself when the processor sleeps without interrupts.
    atRest: { after: '30', status: 0, said: /[1-9]\d* failed/ },
  },
];

/** Ends the image at the twelfth writing: once at rest before the check, once at each of eleven ticks. */
const channels = (finish: string): string => `#include "board.h"
#include "channels.h"
static uint32_t opened, read, written;
${finish}
void channels_open(void) { opened++; }
void channels_read(row_scout_in_t *in) { in->stop = 1U; read++; }
void channels_write(const row_scout_out_t *out)
{
    written++;
    if (written == 12U) {
        finish((opened == 1U) && (read == 11U) && (out->lamp == 0U));
    }
}
void channels_late(uint32_t tick, uint32_t behind) { (void)tick; (void)behind; }
`;

test.each(places)('$target on $core', { timeout: 60_000 }, async ({ target, core, emulator, finish, good, atRest }) => {
  if (!hasToolsFor(target)) return;
  const files = emitFor(target, await requestFor(rowScout, 'stand_up', { for: '0.5 s' }));
  await withFiles(files, async (folder) => {
    writeFileSync(join(folder, 'channels.c'), channels(finish));
    const image = `build/${core}/row_scout.elf`;
    const run = async (seconds: string) => {
      expect(await make(folder, image)).toMatchObject({ status: 0, errors: '' });
      return ran(folder, 'timeout', seconds, ...emulator, image);
    };
    const { status, output, errors } = await run('30');
    if (good.status !== undefined) expect(status).toBe(good.status);
    if (good.said !== undefined) expect(output + errors).toMatch(good.said);
    spoil(folder, 'row_scout');
    const refused = await run(atRest.after);
    expect(refused.status).toBe(atRest.status);
    if (atRest.said !== undefined) expect(refused.output + refused.errors).toMatch(atRest.said);
    expect(refused.output + refused.errors).not.toMatch(/all (good|bad)/);
  });
});
