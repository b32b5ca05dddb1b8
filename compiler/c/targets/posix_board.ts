/** `board.c` of a POSIX system: ticks by the monotonic clock, and what is said of their lateness. */

export const posixBoard = `/* POSIX: ticks by the monotonic clock, priority and locked memory where they are permitted, and the timing of the ticks. */
#define _GNU_SOURCE /* for the choice of a processor */
#include "board.h"

#include <errno.h>
#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <time.h>

/* Of the loop, from 1 (low) to 99 on most systems. */
#ifndef PRIORITY
#define PRIORITY 80
#endif

#define SECOND_NS INT64_C(1000000000)

static volatile sig_atomic_t told_to_end = 0;
static int64_t next = 0;   /* when the next tick is due */
static uint64_t ticks = 0U;
static uint64_t wanted = 0U; /* ticks to run; 0 is endless */
static int64_t least = INT64_MAX;
static int64_t most = 0;
static int64_t sum = 0;
static uint64_t overruns = 0U;
static uint64_t left_out = 0U;
static bool has_priority = false;
static bool refused = false;

#if START_UP
static void end_soon(int number)
{
    (void)number;
    told_to_end = 1;
}

/* Real-time priority and memory that stays where it is: both need leave. */
static void be_punctual(void)
{
    const struct sched_param wish = {.sched_priority = PRIORITY};
    const int denied = pthread_setschedparam(pthread_self(), SCHED_FIFO, &wish);
    has_priority = (denied == 0);
    if (!has_priority) {
        (void)fprintf(stderr, "no real-time priority: %s; ticks may come late\\n", strerror(denied));
    }
    if (mlockall(MCL_CURRENT | MCL_FUTURE) != 0) {
        (void)fprintf(stderr, "memory is not locked: %s; ticks may come late\\n", strerror(errno));
    }
}
#endif

static int64_t now_ns(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_MONOTONIC, &now) != 0) {
        board_refuse("there is no monotonic clock");
        return 0;
    }
    return ((int64_t)now.tv_sec * SECOND_NS) + (int64_t)now.tv_nsec;
}

void board_arguments(int argc, char **argv)
{
    if (argc > 1) {
        char *rest = NULL;
        const unsigned long long count = strtoull(argv[1], &rest, 10);
        if ((argc > 2) || (count == 0U) || (*rest != '\\0') || (argv[1][0] == '-')) {
            (void)fprintf(stderr, "usage: %s [TICKS]\\n", argv[0]);
            exit(2);
        }
        wanted = (uint64_t)count;
    }
}

void board_open(void)
{
#if START_UP
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction action;
    (void)memset(&action, 0, sizeof action);
    action.sa_handler = end_soon;
    for (size_t i = 0U; i < (sizeof signals / sizeof signals[0]); i++) {
        (void)sigaction(signals[i], &action, NULL);
    }
    (void)setvbuf(stdout, NULL, _IOLBF, BUFSIZ);
    be_punctual();
#endif
}

void board_start_ticks(void)
{
    next = now_ns() + TICK_NS;
}

bool board_wait(uint32_t *behind)
{
    const int64_t now = now_ns();
    *behind = 0U;
    if (now >= next) {
        const int64_t missed = 1 + ((now - next) / TICK_NS);
        next += missed * TICK_NS;
        left_out += (uint64_t)missed;
        overruns++;
        *behind = (missed > (int64_t)UINT32_MAX) ? UINT32_MAX : (uint32_t)missed;
    }
    const struct timespec at = {.tv_sec = (time_t)(next / SECOND_NS), .tv_nsec = (long)(next % SECOND_NS)};
    int failed = 0;
    do {
        failed = ((told_to_end != 0) || refused) ? EINTR : clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, NULL);
    } while ((failed == EINTR) && (told_to_end == 0) && !refused);
    if ((failed != 0) && (failed != EINTR)) {
        board_refuse("the clock cannot be waited for");
    }
    const bool goes_on = (failed == 0) && ((wanted == 0U) || (ticks < wanted));
    if (goes_on) {
        const int64_t late = now_ns() - next;
        least = (late < least) ? late : least;
        most = (late > most) ? late : most;
        sum += late;
        ticks++;
        next += TICK_NS;
    }
    return goes_on;
}

void board_say(const char *text)
{
    (void)fputs(text, stdout);
}

void board_refuse(const char *why)
{
    refused = true;
    (void)fprintf(stderr, "%s\\n", why);
}

void board_yield_to(uint32_t steps)
{
    if (has_priority) {
        const int lowest = sched_get_priority_min(SCHED_FIFO);
        const int below = PRIORITY - (int)steps;
        const struct sched_param wish = {.sched_priority = (below < lowest) ? lowest : below};
        if (pthread_setschedparam(pthread_self(), SCHED_FIFO, &wish) != 0) {
            board_refuse("a task cannot have its priority");
        }
    }
}

bool board_one_processor(void)
{
#if defined(__linux__)
    const int here = sched_getcpu();
    cpu_set_t only;
    CPU_ZERO(&only);
    CPU_SET((here < 0) ? 0U : (size_t)here, &only);
    return sched_setaffinity(0, sizeof only, &only) == 0;
#else
    return false;
#endif
}

int board_end(int status)
{
#if START_UP
    if (status != 0) {
        (void)fputs("nothing was armed\\n", stderr);
    } else if (ticks > 0U) {
        (void)printf("%llu ticks of %.3f ms; late by %.1f us least, %.1f us mean, %.1f us most; %llu overruns, %llu ticks left out\\n",
                     (unsigned long long)ticks, (double)TICK_NS / 1e6, (double)least / 1e3,
                     ((double)sum / (double)ticks) / 1e3, (double)most / 1e3, (unsigned long long)overruns,
                     (unsigned long long)left_out);
    } else {
        (void)fputs("no tick was run\\n", stdout);
    }
#endif
    return ((status != 0) || refused) ? 1 : 0;
}`;
