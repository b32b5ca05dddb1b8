/** A folder that the usual build tools of hobby boards take as a library, with an example to begin from. */

import { inComment } from '../lines.ts';
import { byteRows, type Machinery } from '../selfcheck.ts';
import { makefile } from './makefile.ts';
import { readme } from './readme.ts';
import { type Made, nanoseconds, type Target, textFile } from './target.ts';

const about = {
  about: 'hobby boards, as a library',
  cautions: [
    "The loop is as punctual as what else the board does in it: nothing may wait there longer than a tick, and interrupts of other libraries take the processor's time too.",
    'On 8-bit boards floating point is computed in software and memory is small: see that both a tick and the state fit.',
    "What the pins do from reset until the example's setup has run is the circuit's to make safe.",
    'Nothing here feeds a watchdog or guards the supply.',
  ],
};

/** Says what it finds where there is an operating system; on a board only its answer is heard. */
const machinery: Machinery = {
  includes: ['"speech.h"'],
  say: (text) => `SAY(${text});`,
  tell: (text) => `TELL(${text});`,
  keep: (bytes) => `static const uint8_t stored[${Math.max(1, bytes.length)}] IN_FLASH = {
${byteRows(bytes)}
};

static uint8_t stored_byte(uint32_t at)
{
    return FROM_FLASH(&stored[at]);
}`,
  main: (name) => `#if defined(SELFCHECK_MAIN)
int main(void)
{
    static ${name}_t m;
    static ${name}_in_t in;
    static ${name}_out_t out;
    return ${name}_selfcheck(&m, &in, &out);
}
#endif`,
};

export const sketch: Target = {
  name: 'sketch',
  ...about,
  machine: 'a hobby board with 32 kB of flash or more, gcc',
  numbers: ['f32', 'f64'],
  ownDivision: true,
  registers: true,
  // A quarter of the flash of the smallest boards.
  room: 8_000,
  eachNumber: false,
  machinery,
  around: (made) => [
    textFile('library.properties', properties(made)),
    example(made),
    ...(made.check === undefined ? [] : [textFile('speech.h', speech)]),
    makefile(made, {
      compiler: 'gcc',
      size: 'size',
      packages: 'gcc libc6-dev make',
      cores: [{ name: 'host', flags: '', run: './$<' }],
      variables: 'LINK_host =',
      sources: [],
      headers: made.check === undefined ? [] : ['speech.h'],
      flags: '-DSELFCHECK_MAIN',
      libraries: '-lm',
      runs: false,
      ending: '',
    }),
    page(made),
  ],
};

/** Name, words and version, a line each, as the library format's public specification (revision 2.2) lists them. */
function properties({ file, title, check }: Made): string {
  const line = (text: string): string => text.replace(/[\r\n]+/g, ' ').trim();
  return `name=${file.replace(/^[^A-Za-z0-9]+/, '').replace(/[^A-Za-z0-9_.-]/g, '_') || 'controller'}
version=1.0.0
author=Loopwright
maintainer=whoever drew the sheet
sentence=${line(title) || file}: a controller with the bits of its simulation.
paragraph=Made from a sheet${check === undefined ? '' : ', with a self-check to be run at power-up'}. Control software, not a certified safety function. Read README.md before anything is armed.
category=Device Control
url=
architectures=*
includes=${file}.h`;
}

const speech = `/* Where a self-check's words go and where its bytes are kept. */
#ifndef SPEECH_H
#define SPEECH_H

#if defined(SELFCHECK_MAIN)
#include <stdio.h>
#define SAY(text) ((void)fputs((text), stdout))
#define TELL(text) ((void)fputs((text), stderr))
#else
/* On a board the self-check's answer says it all. */
#define SAY(text) ((void)(text))
#define TELL(text) ((void)(text))
#endif

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define FROM_FLASH(place) pgm_read_byte(place)
#else
#define IN_FLASH
#define FROM_FLASH(place) (*(place))
#endif

#endif`;

function example(made: Made) {
  const { prefix, file, fields, check, outputs } = made;
  const ns = nanoseconds(made.tick);
  const whole = Math.floor(ns / 1000);
  const rest = ns % 1000;
  const passed =
    check === undefined
      ? `${prefix}_arithmetic_ok() != 0`
      : `(${prefix}_arithmetic_ok() != 0) && (${prefix}_selfcheck(&m, &in, &out) == 0)`;
  const toDo = (names: readonly string[], verb: string, struct: string): string =>
    names.map((name) => `    /* ${struct}.${name}: ${verb} */`).join('\n');
  return textFile(
    'example.ino',
    `/*
 * ${inComment(made.title)}: reads, computes and drives once every ${inComment(made.tick.text)}. To begin from it, make a new sketch and put
 * this text in; then fill in the two functions. Units and scales of the raw numbers are in ${file}.h.
 */
#include <${file}.h>

#include <stdbool.h>
#include <stdint.h>

/* A tick, in microseconds${rest === 0 ? '' : ', and what it has beyond them, in nanoseconds'}. */
#define TICK_US ${whole}UL
${rest === 0 ? '' : `#define TICK_NS_MORE ${rest}U\n`}
static ${prefix}_t m;
static ${prefix}_in_t in;
static ${prefix}_out_t out;
static bool may_run = false;
static uint32_t due = 0; /* when the next tick is, by micros() */
${rest === 0 ? '' : 'static uint16_t more = 0;\n'}static uint32_t missed = 0; /* ticks left out, because the ones before them took too long */

static void read_sensors(void)
{
${toDo(
  fields.in.map((field) => field.name),
  'read it here',
  'in',
)}
}

/* Also called with the commands at rest. */
static void drive_actuators(void)
{
${toDo(
  fields.out.map((field) => field.name),
  'drive it here',
  'out',
)}
}

static void next_tick(void)
{
    due += TICK_US;
${rest === 0 ? '' : '    more += TICK_NS_MORE;\n    if (more >= 1000U) {\n        more -= 1000U;\n        due++;\n    }\n'}}

void setup(void)
{
    /* Set up pins here, with every actuator unpowered. */
    ${prefix}_rest(&out);
    drive_actuators();
    /* Nothing is armed unless this board computes, bit for bit, what was simulated. */
    may_run = ${passed};
    ${prefix}_start(&m);
    ${prefix}_rest(&out);
    due = micros();
    next_tick();
}

void loop(void)
{
    if (may_run && ((int32_t)(micros() - due) >= 0)) {
        next_tick();
        read_sensors();
${
  outputs === 'at_once'
    ? `        ${prefix}_tick(&m, &in, &out);
        drive_actuators();`
    : `        drive_actuators(); /* of the tick before, as the sheet says */
        ${prefix}_tick(&m, &in, &out);`
}
        /* A tick whose time has passed is left out, never made up for by a burst. */
        while ((int32_t)(micros() - due) >= 0) {
            next_tick();
            missed++;
        }
    }
}`,
  );
}

function page(made: Made) {
  const { file, prefix } = made;
  return readme(made, about, {
    files: [
      ['library.properties', 'what the build tools ask of a library'],
      ['example.ino', 'a loop to begin from'],
      ...(made.check === undefined ? [] : [['speech.h', "where the self-check's words and bytes go"] as const]),
      ['Makefile', 'checks it on your computer first'],
    ],
    build: `Put this folder, under the name \`${file}\`, among the libraries of your build tool, make a new sketch, and put in the text of
\`example.ino\`. The board's compiler must be told neither -ffast-math nor anything of its kind.

\`make check\` builds the self-check for your computer, runs it there and prints \`N passed, N failed\`. The example runs the same
check on the board at every power-up, with the actuators at rest, and does not enter its loop if a bit differs.`,
    wiring: `Fill in \`read_sensors\` and \`drive_actuators\` of the example. The tick comes from \`micros\`; \`missed\` counts the ticks that were left
out because the work before them took too long. \`${prefix}_rest\` gives the commands for as long as the program does not run.`,
    checkedOn: 'where you run `make check`, and on your board at every power-up',
  });
}
