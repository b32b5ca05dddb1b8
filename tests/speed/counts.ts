/** Counts the instructions of a tick: on this machine under valgrind, on a Cortex-M4F in an emulator that takes one nanosecond for each. */

import { execFileSync, spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { compileC } from '../agree/programs_c.ts';
import { playedC, type Recorded, TICKS } from './laws.ts';

export interface Counted {
  /** Instructions a tick. */
  readonly instructions: number;
  /** Over every bit of every output of every tick. */
  readonly sum: string;
}

/** One of the two ways to say a law in C: its source, header and prefix in a folder. */
export interface Said {
  readonly source: string;
  readonly header: string;
  readonly prefix: string;
  readonly flags: readonly string[];
}

const exact = ['-std=c99', '-O2', '-ffp-contract=off'];

/** A main that plays the recording, as often as it is told; prints nanoseconds a tick (the median) and the sum of the last. */
function hostMain(said: Said, run: Recorded): string {
  return `#define _POSIX_C_SOURCE 200809L
${playedC(said.header, said.prefix, run)}
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
static int ascending(const void *a, const void *b) { const double x = *(const double *)a, y = *(const double *)b; return (x > y) - (x < y); }
int main(int argc, char **argv)
{
    const int repeats = argc > 1 ? atoi(argv[1]) : 1;
    static double spans[10000];
    uint32_t sum = 2166136261U;
    for (int r = 0; r < repeats; r++) {
        struct timespec a, b;
        ${said.prefix}_start(&m);
        clock_gettime(CLOCK_MONOTONIC, &a);
        for (int k = 0; k < TICKS; k++) ${said.prefix}_tick(&m, &in[k], &out[k]);
        clock_gettime(CLOCK_MONOTONIC, &b);
        spans[r] = ((double)(b.tv_sec - a.tv_sec) * 1e9 + (double)(b.tv_nsec - a.tv_nsec)) / TICKS;
    }
    qsort(spans, (size_t)repeats, sizeof spans[0], ascending);
    for (int k = 0; k < TICKS; k++) sum = summed(&out[k], sum);
    printf("%g %lu\\n", spans[repeats / 2], (unsigned long)sum);
    return 0;
}
`;
}

/** Instructions on this machine, and nanoseconds a tick. */
export function onHost(folder: string, said: Said, run: Recorded, repeats: number): Counted & { nanoseconds: number } {
  const main = `${said.prefix}_host.c`;
  writeFileSync(join(folder, main), hostMain(said, run));
  const path = compileC(folder, 'gcc', [...exact, '-g', ...said.flags, `-DOF_${said.prefix}`], [said.source, main]);
  const words = ['--tool=callgrind', '--callgrind-out-file=/dev/null', `--toggle-collect=${said.prefix}_tick`, path];
  const { stderr } = spawnSync('valgrind', words, { encoding: 'utf8' });
  const found = /Collected : (\d+)/.exec(stderr);
  if (found === null) throw new Error(stderr.slice(-1000));
  const [nanoseconds = '0', sum = ''] = execFileSync(path, [String(repeats)], { encoding: 'utf8' })
    .trim()
    .split(' ');
  return { instructions: Number(found[1]) / TICKS, sum, nanoseconds: Number(nanoseconds) };
}

/** SysTick counts every 40 ns of the emulated 25 MHz clock, and each instruction takes one. */
const INSTRUCTIONS_A_COUNT = 40;

/** A main that reads SysTick around the ticks, and around as many calls of a function that does nothing. */
function boardMain(said: Said, run: Recorded): string {
  return `${playedC(said.header, said.prefix, run)}
#include "board.h"
#define CONTROL (*(volatile uint32_t *)0xe000e010U)
#define RELOAD (*(volatile uint32_t *)0xe000e014U)
#define VALUE (*(volatile uint32_t *)0xe000e018U)
__attribute__((noinline)) static void nothing(${said.prefix}_t *a, const ${said.prefix}_in_t *b, ${said.prefix}_out_t *c)
{
    __asm__ volatile("" ::"r"(a), "r"(b), "r"(c) : "memory");
}
static void say(uint32_t number, char end)
{
    char text[12];
    int at = 11;
    text[at] = '\\0';
    text[--at] = end;
    do {
        text[--at] = (char)('0' + number % 10U);
        number /= 10U;
    } while (number > 0U);
    board_say(&text[at]);
}
int main(void)
{
    uint32_t sum = 2166136261U;
    RELOAD = 0xffffffU;
    VALUE = 0U;
    CONTROL = 5U;
    const uint32_t begun = VALUE;
    for (int k = 0; k < TICKS; k++) nothing(&m, &in[k], &out[k]);
    const uint32_t idle = VALUE;
    ${said.prefix}_start(&m);
    const uint32_t started = VALUE;
    for (int k = 0; k < TICKS; k++) ${said.prefix}_tick(&m, &in[k], &out[k]);
    const uint32_t done = VALUE;
    for (int k = 0; k < TICKS; k++) sum = summed(&out[k], sum);
    say(((started - done) & 0xffffffU) - ((begun - idle) & 0xffffffU), ' ');
    say(sum, '\\n');
    return board_end(0);
}
`;
}

/** Instructions on a Cortex-M4F; the folder has what \`emit --target cortex_m\` puts around a program. */
export function onBoard(folder: string, said: Said, run: Recorded): Counted {
  const main = `${said.prefix}_board.c`;
  const image = `${said.prefix}_board.elf`;
  writeFileSync(join(folder, main), boardMain(said, run));
  const core = [
    '-mcpu=cortex-m4',
    '-mthumb',
    '-mfloat-abi=hard',
    '-mfpu=fpv4-sp-d16',
    '-DCPU_HZ=25000000',
    '-DSTART_UP=0',
  ];
  const around = [
    '-ffunction-sections',
    '-fdata-sections',
    '--specs=nano.specs',
    '--specs=nosys.specs',
    '-nostartfiles',
  ];
  const sources = [said.source, main, 'board.c', '-T', 'm4f.ld', '-Wl,--gc-sections', '-lm', '-o', image];
  const told = { cwd: folder, encoding: 'utf8', timeout: 120_000 } as const;
  execFileSync('arm-none-eabi-gcc', [...core, ...exact, ...said.flags, ...around, ...sources], told);
  const board = [
    '-M',
    'mps2-an386',
    '-display',
    'none',
    '-monitor',
    'none',
    '-serial',
    'none',
    '-chardev',
    'stdio,id=out',
  ];
  const speech = ['-semihosting-config', 'enable=on,target=native,chardev=out', '-icount', 'shift=0', '-kernel', image];
  const [counts = '', sum = ''] = execFileSync('qemu-system-arm', [...board, ...speech], told)
    .trim()
    .split(' ');
  return { instructions: (Number(counts) * INSTRUCTIONS_A_COUNT) / TICKS, sum };
}
