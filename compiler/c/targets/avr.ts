/** ATmega2560: 8 bits, f32 only; the tick from timer 1, words on the serial line, the self-check's bytes in far flash. */

import { byteRows } from '../selfcheck.ts';
import { channelsVariable, loopFiles, loopHeaders, loopMachinery, loopSources } from './loop.ts';
import { makefile } from './makefile.ts';
import { readme } from './readme.ts';
import { type Made, type Target, textFile } from './target.ts';
import { tickCounts } from './timing.ts';

/** Bytes of flash in one array: no object may have more than 32 767. */
const CHUNK = 32_000;

const about = {
  about: 'ATmega2560',
  cautions: [
    'F_CPU must be the frequency of your crystal: the tick and the serial line are made from it.',
    'Floating point is computed in software here: see that a tick is over before the next is due (channels_late tells).',
    'Nothing here sets fuses, feeds a watchdog or guards the supply.',
  ],
};

export const avr: Target = {
  name: 'avr',
  ...about,
  machine: 'ATmega2560, avr-gcc',
  numbers: ['f32'],
  alignment: 1,
  ownDivision: true,
  registers: true,
  // Of 256 kB of flash, a fifth is left to the program.
  room: 200_000,
  eachNumber: false,
  machinery: loopMachinery(keep, ['<avr/pgmspace.h>']),
  around: (made) => [
    ...loopFiles(made),
    board(),
    makefile(made, {
      compiler: 'avr-gcc',
      size: 'avr-size',
      packages: 'gcc-avr avr-libc simavr, with --no-install-recommends',
      cores: [{ name: 'atmega2560', flags: '-mmcu=atmega2560 -DF_CPU=16000000', run: simulate }],
      variables: `EMULATOR = simavr
${channelsVariable}`,
      sources: loopSources,
      headers: loopHeaders,
      flags: '-ffunction-sections -fdata-sections',
      libraries: '-Wl,--gc-sections -lm',
      without: ['-Wno-double-promotion', 'Here double is as wide as float, and fabsf and INFINITY are of that type.'],
      runs: true,
      ending: '.elf',
    }),
    page(made),
  ],
};

/** The simulator colours what the serial line says, shows line ends as dots, and does not know whether all was well. */
const simulate = `timeout 300 $(EMULATOR) -m atmega2560 -f 16000000 $< </dev/null 2>&1 | \\
	  sed -e 's/\\x1b\\[[0-9;]*m//g' -e 's/\\.*$$//' | grep -e passed -e tick -e machine >$<.txt
cat $<.txt
grep -q '^[1-9][0-9]* passed, 0 failed$$' $<.txt && ! grep -q machine $<.txt`;

/**
 * Bytes in flash beyond what a 16-bit pointer reaches. They stand at the end, after the code, whose short calls do not reach
 * over them; that is where the code after main's return has its place, and main does not return.
 */
function keep(bytes: readonly number[]): string {
  const chunks: (readonly number[])[] = [];
  for (let at = 0; at < bytes.length || at === 0; at += CHUNK) chunks.push(bytes.slice(at, at + CHUNK));
  const arrays = chunks.map(
    (chunk, i) => `static const uint8_t stored_${i}[${Math.max(1, chunk.length)}] __attribute__((section(".fini1"))) = {
${byteRows(chunk)}
};
`,
  );
  const places = chunks.map(
    (_, i) => `    case ${i}U:
        place = pgm_get_far_address(stored_${i});
        break;`,
  );
  return `/* In flash after all code (main does not return into it), in parts of ${CHUNK} bytes, read by addresses of 24 bits. */
${arrays.join('\n')}
static uint8_t stored_byte(uint32_t at)
{
    uint_farptr_t place = 0U;
    switch (at / ${CHUNK}U) {
${places.join('\n')}
    default:
        break;
    }
    return pgm_read_byte_far(place + (at % ${CHUNK}U));
}`;
}

function page(made: Made) {
  return readme(made, about, {
    files: [
      ['run.c', 'the loop: read, compute, drive'],
      ['board.c', 'the tick from timer 1, words on serial line 0 (115200 baud)'],
      ['channels.h', 'what you write for your sensors and actuators, in a file `channels.c`'],
      ['channels_none.c', 'stands in for it until then'],
    ],
    build: `\`make\` builds \`build/atmega2560/${made.file}.elf\`. \`make check\` builds an image that only checks, runs it in the simulator and
prints \`N passed, N failed\`. The image for the board runs the same check at every power-up, with the actuators at rest,
says the same line on serial line 0, and does not enter its loop if a bit differs. A long run takes seconds there.
Quotients are divided by a function of the program's own where they are subnormal: the compiler's library rounds
some of those wrongly.`,
    wiring: `Write \`channels.c\` after \`channels.h\`. Timer 1 and serial line 0 are taken. The tick comes from \`F_CPU\`; a tick that is late is told
to \`channels_late\` and never made up for by a burst.`,
    checkedOn: 'on the simulated ATmega2560 with `make check`, and on your board at every power-up',
  });
}

function board() {
  return textFile(
    'board.c',
    `/* ATmega2560: the tick from timer 1, and words on serial line 0. */
#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

/* The crystal. */
#ifndef F_CPU
#error "say the crystal's frequency: -DF_CPU=16000000"
#endif

#ifndef BAUD
#define BAUD 115200
#endif
#define BAUD_SETTING ((((INT64_C(1) * F_CPU) + (4 * INT64_C(1) * BAUD)) / (8 * INT64_C(1) * BAUD)) - 1)

/* Timer 1 counts every eighth cycle. */
#define TIMER_HZ ((INT64_C(1) * F_CPU) / 8)
${tickCounts('TIMER_HZ', 65_536)}

static volatile uint32_t due = 0U;

ISR(TIMER1_COMPA_vect)
{
    static uint16_t pieces = 0U;
    pieces++;
    if (pieces >= (uint16_t)PIECES) {
        pieces = 0U;
        due++;
    }
}

static uint32_t ticks_due(void)
{
    uint32_t ticks = 0U;
    const uint8_t status = SREG;
    cli();
    ticks = due;
    SREG = status;
    return ticks;
}

void board_open(void)
{
    UBRR0 = (uint16_t)BAUD_SETTING;
    UCSR0A = (uint8_t)(1U << U2X0);
    UCSR0C = (uint8_t)((1U << UCSZ01) | (1U << UCSZ00));
    UCSR0B = (uint8_t)(1U << TXEN0);
}

void board_start_ticks(void)
{
    TCCR1A = 0U;
    TCNT1 = 0U;
    OCR1A = (uint16_t)((TICK_COUNTS / PIECES) - 1);
    TIMSK1 = (uint8_t)(1U << OCIE1A);
    TCCR1B = (uint8_t)((1U << WGM12) | (1U << CS11));
    sei();
}

bool board_wait(uint32_t *behind)
{
    static uint32_t done = 0U;
    uint32_t now = ticks_due();
    *behind = now - done;
    while (now == done) {
        now = ticks_due();
    }
    done = now;
    return true;
}

void board_say(const char *text)
{
    for (const char *at = text; *at != '\\0'; at++) {
        while ((UCSR0A & (uint8_t)(1U << UDRE0)) == 0U) {
        }
        UCSR0A |= (uint8_t)(1U << TXC0);
        UDR0 = (uint8_t)*at;
    }
}

int board_end(int status)
{
    (void)status;
    while ((UCSR0A & (uint8_t)(1U << TXC0)) == 0U) {
    }
    /* Asleep without interrupts; a simulator ends here. */
    cli();
    sleep_enable();
    for (;;) {
        sleep_cpu();
    }
}`,
  );
}
