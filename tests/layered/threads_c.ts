/** A C program that runs a layered one as real threads that overtake each other, over and over, against one run in one go. */

import { cFields } from '../../compiler/c/emit.ts';
import { isArray } from '../../compiler/c/fields.ts';
import { type CFile, cFile, plain } from '../../compiler/c/lines.ts';
import type { Layers, Program, Type } from '../../compiler/ir/program.ts';

const fromWord: Readonly<Record<Type, string>> = {
  bool: '(uint8_t)word',
  i32: '(int32_t)(uint32_t)word',
  f32: 'single_of((uint32_t)word)',
  f64: 'double_of(word)',
};

/**
 * `threads.c`: reads `ticks` rows of raw inputs as words, then tries `patterns` patterns, each from a seed. A slower task is
 * a thread: it begins once every faster one released with it has ended (as a lower priority would), waits as its pattern
 * says, and only has to be done when it is due again. Meanwhile the ticks go on. Every output of every tick and the whole
 * memory at the end must be what `tick` gives in one go. Prints `N passed, N failed`, a pattern each.
 */
export function threadsC(program: Program, layers: Layers, name: string, ticks: number, patterns: number): CFile {
  const fields = cFields(program);
  const reads = fields.in.flatMap(({ slot, name: field }) =>
    Array.from({ length: slot.length }, (_, i) => {
      const place = `in[tick].${field}${isArray(slot) ? `[${i}]` : ''}`;
      return `        if (fread(&word, sizeof word, 1, stdin) != 1) return 2;\n        ${place} = ${fromWord[slot.type]};`;
    }),
  );
  const slower = layers.tasks.map((task, i) => ({ ...task, i })).filter((task) => task.every > 1);
  const base = layers.tasks.findIndex((task) => task.every === 1);
  const due = slower.map(({ every, phase, i }) => `if (tick % ${every} == ${phase}) wait_done(${i}, released[${i}]);`);
  const release = slower.map(
    ({ i }) => `if ((mask & ${1 << i}) != 0) {
            pthread_mutex_lock(&lock);
            for (int j = 0; j < ${i}; j++) after[${i}][j] = released[j];
            released[${i}]++;
            pthread_cond_broadcast(&changed);
            pthread_mutex_unlock(&lock);
        }`,
  );
  const text = `#define _POSIX_C_SOURCE 200809L
#include "${name}.h"
#include <pthread.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define TASKS ${layers.tasks.length}
#define TICKS ${ticks}

static ${name}_t m;
static ${name}_in_t in[TICKS];
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t changed = PTHREAD_COND_INITIALIZER;
/* Runs asked for and ended, a task each; what a run must wait for. */
static unsigned released[TASKS], done[TASKS], after[TASKS][TASKS];
static int over;
static void (*const runs[TASKS])(${name}_t *) = {${layers.tasks.map(({ func }) => `${name}_${func}`).join(', ')}};

static float single_of(uint32_t word) { float x; memcpy(&x, &word, sizeof x); return x; }
static double double_of(uint64_t word) { double x; memcpy(&x, &word, sizeof x); return x; }

static void dally(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    const unsigned what = *seed >> 28;
    if (what < 6u) sched_yield();
    else if (what < 12u) for (volatile unsigned i = 0; i < ((*seed >> 8) & 0x7ffu); i++) { }
    else if (what < 14u) { struct timespec t = {0, (long)((*seed >> 8) & 0x7fffu)}; nanosleep(&t, NULL); }
}

static void wait_done(int task, unsigned count)
{
    pthread_mutex_lock(&lock);
    while (done[task] < count) pthread_cond_wait(&changed, &lock);
    pthread_mutex_unlock(&lock);
}

static void *work(void *which)
{
    const int task = *(const int *)which;
    unsigned seed = 77u + (unsigned)task;
    for (unsigned run = 1;; run++) {
        unsigned before[TASKS];
        pthread_mutex_lock(&lock);
        while (released[task] < run && !over) pthread_cond_wait(&changed, &lock);
        const int stop = released[task] < run;
        memcpy(before, after[task], sizeof before);
        pthread_mutex_unlock(&lock);
        if (stop) return NULL;
        for (int j = 0; j < task; j++) wait_done(j, before[j]);
        dally(&seed);
        runs[task](&m);
        dally(&seed);
        pthread_mutex_lock(&lock);
        done[task]++;
        pthread_cond_broadcast(&changed);
        pthread_mutex_unlock(&lock);
    }
}

int main(void)
{
    static ${name}_t once;
    static ${name}_out_t want[TICKS], out;
    uint64_t word = 0;
    (void)word;
    (void)single_of;
    (void)double_of;
    for (unsigned tick = 0; tick < TICKS; tick++) {
${reads.join('\n')}
    }
    memset(&once, 0, sizeof once);
    memset(want, 0, sizeof want);
    ${name}_start(&once);
    for (unsigned tick = 0; tick < TICKS; tick++) ${name}_tick(&once, &in[tick], &want[tick]);
    pthread_t threads[TASKS];
    static int numbers[TASKS];
    for (int task = 0; task < TASKS; task++) {
        numbers[task] = task;
        if (task != ${base}) pthread_create(&threads[task], NULL, work, &numbers[task]);
    }
    unsigned passed = 0, failed = 0;
    unsigned long overlaps = 0;
    for (unsigned pattern = 0; pattern < ${patterns}u; pattern++) {
        unsigned seed = 12345u + pattern;
        int same = 1;
        memset(&m, 0, sizeof m);
        ${name}_start(&m);
        for (unsigned tick = 0; tick < TICKS; tick++) {
            ${due.join('\n            ')}
            dally(&seed);
            const int32_t mask = ${name}_release(&m, &in[tick]);
            ${base < 0 ? '' : `if ((mask & ${1 << base}) != 0) ${name}_${layers.tasks[base]?.func}(&m);`}
            memset(&out, 0, sizeof out);
            ${name}_outputs(&m, &out);
            if (memcmp(&out, &want[tick], sizeof out) != 0) same = 0;
            ${release.join('\n            ')}
            pthread_mutex_lock(&lock);
            for (int task = 0; task < TASKS; task++) if (task != ${base} && done[task] < released[task]) overlaps++;
            pthread_mutex_unlock(&lock);
            dally(&seed);
        }
        for (int task = 0; task < TASKS; task++) if (task != ${base}) wait_done(task, released[task]);
        if (memcmp(&m, &once, sizeof m) != 0) same = 0;
        if (same != 0) passed++; else failed++;
    }
    pthread_mutex_lock(&lock);
    over = 1;
    pthread_cond_broadcast(&changed);
    pthread_mutex_unlock(&lock);
    for (int task = 0; task < TASKS; task++) if (task != ${base}) pthread_join(threads[task], NULL);
    printf("%u passed, %u failed, %lu runs across ticks\\n", passed, failed, overlaps);
    return failed == 0 && passed > 0 ? 0 : 1;
}`;
  return cFile('threads.c', plain(text));
}
