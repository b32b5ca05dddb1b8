/** `run.c` of a layered program on a POSIX system: the tick in one thread, each slower task in one of lower priority. */

import type { Layers } from '../../ir/program.ts';
import type { CFile } from '../lines.ts';
import { mainAlone, openText, type Surroundings } from './loop.ts';
import { type Made, textFile } from './target.ts';

export function posixTasks(made: Made, layers: Layers, around: Surroundings): CFile {
  const { prefix, outputs, check, fields } = made;
  const [first] = layers.tasks;
  const base = first?.every === 1 ? first : undefined;
  const slower = layers.tasks.map((task, bit) => ({ ...task, bit })).filter((task) => task.every > 1);
  const field = (slot: number): string => fields.places.get(slot)?.name ?? '';
  const due = (every: number): string => (every === 1 ? 'every tick' : `every ${every} ticks`);
  const table = slower.map(
    ({ func, every, bit }, i) =>
      `    {${prefix}_${func}, UINT32_C(1) << ${bit}U, ${i + 1}U, 0U, 0U, {0U}}, /* ${due(every)} */`,
  );
  const told = layers.tasks.map(
    ({ every, overruns, overrunTick }) => `    tell("${due(every)}", m->${field(overruns)}, m->${field(overrunTick)});`,
  );
  return textFile(
    'run.c',
    `/*
 * The loop of a layered program. The tick's thread reads the sensors, releases tasks, runs that of every tick and drives the
 * actuators. Each slower task is a thread of lower priority that begins once every faster one released with it has ended, so
 * that the tick interrupts it as an interrupt would. All threads share one processor: between processors, the order in
 * which one sees what another stored would need more than the program asks for.
 */
#define _POSIX_C_SOURCE 200809L
#include "run.h"

#include "board.h"
#include "channels.h"

#include <pthread.h>
#include <signal.h>
#include <stdio.h>

#define SLOWER ${slower.length}U

${openText(prefix)}

${slower.length === 0 ? '' : threads(prefix, table)}
static void tell(const char *task, int32_t overruns, int32_t first)
{
    if (overruns > 0) {
        (void)printf("task of %s: %ld times not done when due again, first at tick %ld\\n", task, (long)overruns, (long)first);
    }
}

void ${prefix}_run(${prefix}_t *m, ${prefix}_in_t *in, ${prefix}_out_t *out)
{
    uint32_t tick = 0U;
    uint32_t behind = 0U;
    ${prefix}_start(m);
    ${prefix}_rest(out);
${
  slower.length === 0
    ? ''
    : `    if (!board_one_processor()) {
        board_refuse("the threads cannot be kept on one processor, so no task is run");
        return;
    }
    state = m;
    const uint32_t threads = begin_threads();
`
}    board_start_ticks();
    while (${slower.length === 0 ? '' : '(threads == SLOWER) && '}board_wait(&behind)) {
        if (behind > 0U) {
            channels_late(tick, behind);
        }
        channels_read(in);
${outputs === 'at_once' ? '' : '        channels_write(out); /* of the tick before, as the sheet says */\n'}${
  slower.length === 0
    ? `        const uint32_t mask = (uint32_t)${prefix}_${layers.release}(m, in);`
    : `        (void)pthread_mutex_lock(&lock);
        const uint32_t mask = (uint32_t)${prefix}_${layers.release}(m, in);
        (void)pthread_mutex_unlock(&lock);`
}
${base === undefined ? (slower.length === 0 ? '        (void)mask;\n' : '') : `        if ((mask & 1U) != 0U) {\n            ${prefix}_${base.func}(m);\n        }\n`}        ${prefix}_${layers.outputs}(m, out);
${outputs === 'at_once' ? '        channels_write(out);\n' : ''}${slower.length === 0 ? '' : '        release_threads(mask);\n'}        tick++;
    }
    ${prefix}_rest(out);
    channels_write(out);
${slower.length === 0 ? '' : '    end_threads(threads);\n'}${told.join('\n')}
}
${check === undefined ? mainAlone(prefix, around) : ''}`,
  );
}

const threads = (prefix: string, table: readonly string[]): string => `typedef struct {
    void (*run)(${prefix}_t *m);
    uint32_t bit;   /* of what a release answers */
    uint32_t below; /* steps of priority below the tick */
    uint32_t released;
    uint32_t ended;
    uint32_t after[SLOWER]; /* runs of each faster one that come before its next */
} task_t;

/* The faster before the slower. */
static task_t tasks[SLOWER] = {
${table.join('\n')}
};
static pthread_t threads_of[SLOWER];
static pthread_mutex_t lock;
static pthread_cond_t changed = PTHREAD_COND_INITIALIZER;
static bool over = false;
static ${prefix}_t *state = NULL;

/* Called with the lock held. */
static bool may_begin(const task_t *task)
{
    bool may = task->ended != task->released;
    for (uint32_t i = 0U; &tasks[i] != task; i++) {
        may = may && ((int32_t)(tasks[i].ended - task->after[i]) >= 0);
    }
    return may;
}

static void *work(void *which)
{
    task_t *const task = which;
    board_yield_to(task->below);
    (void)pthread_mutex_lock(&lock);
    while (!over) {
        if (may_begin(task)) {
            (void)pthread_mutex_unlock(&lock);
            task->run(state);
            (void)pthread_mutex_lock(&lock);
            task->ended++;
            (void)pthread_cond_broadcast(&changed);
        } else {
            (void)pthread_cond_wait(&changed, &lock);
        }
    }
    (void)pthread_mutex_unlock(&lock);
    return NULL;
}

/* Gives how many threads there are. Signals go to the tick's thread only; a small stack is enough, and may be locked. */
static uint32_t begin_threads(void)
{
    uint32_t count = 0U;
    sigset_t all;
    sigset_t before;
    pthread_attr_t small;
    pthread_mutexattr_t inherits;
    (void)pthread_mutexattr_init(&inherits);
    (void)pthread_mutexattr_setprotocol(&inherits, PTHREAD_PRIO_INHERIT);
    (void)pthread_mutex_init(&lock, &inherits);
    (void)pthread_attr_init(&small);
    (void)pthread_attr_setstacksize(&small, 262144U);
    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_BLOCK, &all, &before);
    while ((count < SLOWER) && (pthread_create(&threads_of[count], &small, work, &tasks[count]) == 0)) {
        count++;
    }
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (count < SLOWER) {
        board_refuse("a task cannot have a thread of its own, so none is run");
    }
    return count;
}

static void release_threads(uint32_t mask)
{
    (void)pthread_mutex_lock(&lock);
    for (uint32_t i = 0U; i < SLOWER; i++) {
        if ((mask & tasks[i].bit) != 0U) {
            for (uint32_t j = 0U; j < i; j++) {
                tasks[i].after[j] = tasks[j].released;
            }
            tasks[i].released++;
        }
    }
    (void)pthread_cond_broadcast(&changed);
    (void)pthread_mutex_unlock(&lock);
}

static void end_threads(uint32_t count)
{
    (void)pthread_mutex_lock(&lock);
    over = true;
    (void)pthread_cond_broadcast(&changed);
    (void)pthread_mutex_unlock(&lock);
    for (uint32_t i = 0U; i < count; i++) {
        (void)pthread_join(threads_of[i], NULL);
    }
}
`;
