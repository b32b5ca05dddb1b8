/**
 * The loop of a machine that ticks by itself: it reads the channels, calls the program and writes the channels, once a
 * tick. `board.c` of the target gives time and speech; `channels.c` of the user gives the sensors and actuators.
 */

import { type CFile, inComment } from '../lines.ts';
import { hosted, type Machinery } from '../selfcheck.ts';
import { type Made, nanoseconds, textFile } from './target.ts';

/** What one kind of machine does otherwise than a board that does nothing else. */
export interface Surroundings {
  /** Whether `main` is told words, which it hands to `board_arguments`. */
  readonly arguments: boolean;
  /** What `board_wait` does about ticks that were missed, for its comment. */
  readonly missed: readonly string[];
  /** More that its `board.h` declares. */
  readonly declares: string;
}

const bare: Surroundings = {
  arguments: false,
  missed: [
    'Waits until a tick is due. *behind is 0 if none was due already; 1 if one was, which is now run late; else the ones',
    'before the latest are left out. Gives false when the loop is to end.',
  ],
  declares: '',
};

/** `board.h`, `run.h`, `run.c`, `channels.h` and `channels_none.c`; `run` where the loop is another one. */
export function loopFiles(made: Made, around = bare, run: CFile = runSource(made, around)) {
  return [boardHeader(made, around), runHeader(made), run, channelsHeader(made), noChannels(made)];
}

export const loopSources = ['run.c', 'board.c', '$(CHANNELS)'];
export const loopHeaders = ['run.h', 'board.h', 'channels.h'];
/** For the Makefile: the user's channels, if they are there. */
export const channelsVariable = `# Your own channels.c is taken as soon as it stands here; without it nothing is read and nothing driven.
CHANNELS = $(firstword $(wildcard channels.c) channels_none.c)`;

/** How a self-check speaks and starts where there is a loop; `keep` where bytes are kept otherwise. */
export function loopMachinery(
  keep: Machinery['keep'] = hosted.keep,
  includes: readonly string[] = [],
  around = bare,
): Machinery {
  return {
    includes: ['"board.h"', '"run.h"', ...includes],
    say: (text) => `board_say(${text});`,
    tell: (text) => `board_say(${text});`,
    keep,
    main: (name) => `/* The start-up test; the board's image goes on only if every bit was right. */
${begin(name, around)}
    int failed = 0;
    board_open();
#if START_UP
    ${name}_open(&out);
#endif
    failed = ${name}_selfcheck(&m, &in, &out);
#if START_UP
    if (failed == 0) {
        ${name}_run(&m, &in, &out);
    }
#endif
    return board_end(failed);
}`,
  };
}

const begin = (
  name: string,
  around: Surroundings,
): string => `int main(${around.arguments ? 'int argc, char **argv' : 'void'})
{
    static ${name}_t m;
    static ${name}_in_t in;
    static ${name}_out_t out;${around.arguments ? '\n    board_arguments(argc, argv);' : ''}`;

/** `main` where there is no self-check. */
export function mainAlone(prefix: string, around: Surroundings): string {
  return `
${begin(prefix, around)}
    const int failed = (${prefix}_arithmetic_ok() != 0) ? 0 : 1;
    board_open();
    ${prefix}_open(&out);
    if (failed == 0) {
        ${prefix}_run(&m, &in, &out);
    }
    return board_end(failed);
}`;
}

function boardHeader(made: Made, { missed, declares }: Surroundings) {
  return textFile(
    'board.h',
    `/* What a board gives to the loop: time, and a way to say something. */
#ifndef BOARD_H
#define BOARD_H

#include <stdbool.h>
#include <stdint.h>

/* ${inComment(made.tick.text)}, in nanoseconds. */
#define TICK_NS INT64_C(${nanoseconds(made.tick)})

/* 1 in the image that runs the machine, 0 in the one that only checks. */
#ifndef START_UP
#define START_UP 1
#endif

void board_open(void);

/* Starts the tick's timer: the next tick is due one period from now. */
void board_start_ticks(void);

/*
${missed.map((line) => ` * ${line}`).join('\n')}
 */
bool board_wait(uint32_t *behind);

void board_say(const char *text);

/* What main ends with; on a board it does not come back. */
int board_end(int status);
${declares}
#endif`,
  );
}

function runHeader({ prefix, file }: Made) {
  return textFile(
    'run.h',
    `/* The loop around the program. */
#ifndef RUN_H
#define RUN_H

#include "${file}.h"

/* Opens the channels and puts every actuator at rest: before anything else. */
void ${prefix}_open(${prefix}_out_t *out);

/* Runs the program, tick by tick, until the board ends it; every actuator is at rest afterwards. */
void ${prefix}_run(${prefix}_t *m, ${prefix}_in_t *in, ${prefix}_out_t *out);

#endif`,
  );
}

function runSource({ prefix, check, outputs }: Made, around: Surroundings) {
  const steps =
    outputs === 'at_once'
      ? `        channels_read(in);
        ${prefix}_tick(m, in, out);
        channels_write(out);`
      : `        channels_read(in);
        channels_write(out); /* of the tick before, as the sheet says */
        ${prefix}_tick(m, in, out);`;
  return textFile(
    'run.c',
    `/* The loop: read, compute, drive, once a tick. A tick that comes too late is told of and never made up for. */
#include "run.h"

#include "board.h"
#include "channels.h"

${openText(prefix)}

void ${prefix}_run(${prefix}_t *m, ${prefix}_in_t *in, ${prefix}_out_t *out)
{
    uint32_t tick = 0U;
    uint32_t behind = 0U;
    ${prefix}_start(m);
    ${prefix}_rest(out);
    board_start_ticks();
    while (board_wait(&behind)) {
        if (behind > 0U) {
            channels_late(tick, behind);
        }
${steps}
        tick++;
    }
    ${prefix}_rest(out);
    channels_write(out);
}
${check === undefined ? mainAlone(prefix, around) : ''}`,
  );
}

/** `NAME_open`. */
export const openText = (prefix: string): string => `void ${prefix}_open(${prefix}_out_t *out)
{
    ${prefix}_rest(out);
    channels_open();
    channels_write(out);
}`;

function channelsHeader(made: Made) {
  const { prefix, file, fields } = made;
  const names = (list: typeof fields.in): string =>
    list.length === 0 ? 'none' : list.map((field) => field.name).join(', ');
  return textFile(
    'channels.h',
    `/*
 * The machine's sensors and actuators. Write these four functions for your machine in a file channels.c beside this one;
 * emitting again leaves it alone. Units and scales of the raw numbers are in ${file}.h.
 */
#ifndef CHANNELS_H
#define CHANNELS_H

#include "${file}.h"

/* Sets up pins, converters and counters. Actuators stay unpowered until channels_write is called. */
void channels_open(void);

/* Reads every sensor: ${inComment(names(fields.in))}. */
void channels_read(${prefix}_in_t *in);

/* Drives every actuator: ${inComment(names(fields.out))}. Also called with the commands at rest. */
void channels_write(const ${prefix}_out_t *out);

/* The work of the tick before this one ended too late, when so many ticks were due: count it, light a lamp, or stop. */
void channels_late(uint32_t tick, uint32_t behind);

#endif`,
  );
}

function noChannels({ prefix }: Made) {
  return textFile(
    'channels_none.c',
    `/* No sensors and no actuators, so that everything builds: stands in until there is a channels.c. */
#include "channels.h"

#include <string.h>

void channels_open(void)
{
}

void channels_read(${prefix}_in_t *in)
{
    (void)memset(in, 0, sizeof *in);
}

void channels_write(const ${prefix}_out_t *out)
{
    (void)out;
}

void channels_late(uint32_t tick, uint32_t behind)
{
    (void)tick;
    (void)behind;
}`,
  );
}
