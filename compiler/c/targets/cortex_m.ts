/** Cortex-M0 and Cortex-M4F: start-up, linker scripts, the tick's timer, and a self-check that speaks to a debugger. */

import { channelsVariable, loopFiles, loopHeaders, loopMachinery, loopSources } from './loop.ts';
import { emulated, makefile } from './makefile.ts';
import { readme } from './readme.ts';
import { type Made, type Target, textFile } from './target.ts';
import { tickCounts } from './timing.ts';

const about = {
  about: 'Cortex-M0 and Cortex-M4F',
  cautions: [
    'The linker scripts and CPU_HZ are those of the emulated boards (micro:bit and MPS2 AN386): put in those of your own board before flashing.',
    "A fault resets the board, and at reset the actuators are put to rest; what the pins do until then is the circuit's to make safe.",
    'Nothing here feeds a watchdog or guards the supply.',
  ],
};

export const cortexM: Target = {
  name: 'cortex_m',
  ...about,
  machine: 'Cortex-M0 and Cortex-M4F, arm-none-eabi-gcc',
  numbers: ['f32', 'f64'],
  alignment: 8,
  // Half of the smallest flash, 256 kB, is left to the program.
  room: 200_000,
  eachNumber: false,
  machinery: loopMachinery(),
  around: (made) => [
    ...loopFiles(made),
    board(),
    textFile('sections.ld', sections),
    textFile('m0.ld', memory('the emulated micro:bit (nRF51, Cortex-M0)', '256K', '16K')),
    textFile('m4f.ld', memory('the emulated MPS2 AN386 (Cortex-M4F)', '4M', '4M')),
    makefile(made, {
      compiler: 'arm-none-eabi-gcc',
      size: 'arm-none-eabi-size',
      packages: 'gcc-arm-none-eabi libnewlib-arm-none-eabi qemu-system-arm, with --no-install-recommends',
      cores: [
        { name: 'm0', flags: '-mcpu=cortex-m0 -mthumb -mfloat-abi=soft -DCPU_HZ=16000000', run: emulated('microbit') },
        {
          name: 'm4f',
          flags: '-mcpu=cortex-m4 -mthumb -mfloat-abi=hard -mfpu=fpv4-sp-d16 -DCPU_HZ=25000000',
          run: emulated('mps2-an386'),
        },
      ],
      variables: `LINK_m0 = -T m0.ld
LINK_m4f = -T m4f.ld
EMULATOR = qemu-system-arm
${channelsVariable}`,
      sources: loopSources,
      headers: loopHeaders,
      flags: '-ffunction-sections -fdata-sections --specs=nano.specs --specs=nosys.specs',
      libraries: '-nostartfiles -Wl,--gc-sections -lm',
      runs: true,
      ending: '.elf',
    }),
    page(made),
  ],
};

function page(made: Made) {
  return readme(made, about, {
    files: [
      ['run.c', 'the loop: read, compute, drive'],
      ['board.c', 'vectors, start-up, the tick from SysTick, semihosting'],
      ['channels.h', 'what you write for your sensors and actuators, in a file `channels.c`'],
      ['channels_none.c', 'stands in for it until then'],
      ['m0.ld, m4f.ld, sections.ld', 'where code and data go'],
    ],
    build: `\`make\` builds \`build/m0/${made.file}.elf\` and \`build/m4f/${made.file}.elf\`, for \`CORES="m4f"\` only that one. \`make check\` builds
images that only check, runs them in the emulator and prints \`N passed, N failed\` for each. The image for the board runs
the same check at every power-up, with the actuators at rest, and does not enter its loop if a bit differs. It makes no
semihosting call, so it runs without a debugger.`,
    wiring: `Write \`channels.c\` after \`channels.h\`. The tick comes from SysTick and \`CPU_HZ\`; a tick that is late is told to
\`channels_late\` and never made up for by a burst.`,
    checkedOn: 'on the emulated boards with `make check`, and on your board at every power-up',
  });
}

function board() {
  return textFile(
    'board.c',
    `/* Cortex-M: vectors, start-up, the tick from SysTick, and what a debugger is told. */
#include "board.h"

#include <stddef.h>

/* The core clock. */
#ifndef CPU_HZ
#error "say the core clock: -DCPU_HZ=16000000"
#endif

${tickCounts('CPU_HZ', 2 ** 24)}

#define SYSTICK_CONTROL (*(volatile uint32_t *)0xe000e010U)
#define SYSTICK_RELOAD (*(volatile uint32_t *)0xe000e014U)
#define SYSTICK_VALUE (*(volatile uint32_t *)0xe000e018U)
#define COPROCESSORS (*(volatile uint32_t *)0xe000ed88U)
#define RESET_CONTROL (*(volatile uint32_t *)0xe000ed0cU)

/* Ends and begins of memory, from the linker script. */
extern const uint32_t data_source[];
extern uint32_t data_begin[];
extern uint32_t data_end[];
extern uint32_t bss_begin[];
extern uint32_t bss_end[];
extern uint32_t stack_top[];

extern int main(void);
void board_reset(void);
void board_fault(void);
void board_systick(void);

typedef void (*handler_t)(void);

typedef struct {
    uint32_t *stack;
    handler_t handlers[15];
} vectors_t;

extern const vectors_t vectors;
__attribute__((section(".vectors"), used)) const vectors_t vectors = {
    stack_top,
    {board_reset, board_fault, board_fault, board_fault, board_fault, board_fault, NULL, NULL, NULL, NULL, board_fault,
     board_fault, NULL, board_fault, board_systick},
};

static volatile uint32_t due = 0U;

void board_systick(void)
{
    static uint32_t pieces = 0U;
    pieces++;
    if (pieces >= (uint32_t)PIECES) {
        pieces = 0U;
        due++;
    }
}

#if !START_UP
static void semihost(uint32_t operation, const void *argument)
{
    register uint32_t r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = argument;
    __asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
}
#endif

/* A reset puts the actuators to rest and checks anew. */
void board_fault(void)
{
#if START_UP
    RESET_CONTROL = 0x05fa0004U;
    for (;;) {
    }
#else
    (void)board_end(1);
#endif
}

void board_reset(void)
{
    const uint32_t *from = data_source;
#if defined(__ARM_FP)
    /* The floating-point unit, before its first use. */
    COPROCESSORS |= (uint32_t)0xf << 20U;
    __asm__ volatile("dsb\\n\\tisb" ::: "memory");
#endif
    for (uint32_t *to = data_begin; to < data_end; to++) {
        *to = *from;
        from++;
    }
    for (uint32_t *to = bss_begin; to < bss_end; to++) {
        *to = 0U;
    }
    (void)main();
    for (;;) {
    }
}

void board_open(void)
{
}

void board_start_ticks(void)
{
    SYSTICK_RELOAD = (uint32_t)((TICK_COUNTS / PIECES) - 1);
    SYSTICK_VALUE = 0U;
    SYSTICK_CONTROL = 7U;
}

bool board_wait(uint32_t *behind)
{
    static uint32_t done = 0U;
    uint32_t now = due;
    *behind = now - done;
    while (now == done) {
        __asm__ volatile("wfi" ::: "memory");
        now = due;
    }
    done = now;
    return true;
}

void board_say(const char *text)
{
#if START_UP
    (void)text; /* without a debugger nobody listens, and the call would be a fault */
#else
    semihost(4U, text);
#endif
}

int board_end(int status)
{
#if START_UP
    (void)status;
#else
    /* "The application has ended", or that it failed. */
    const uintptr_t reason = (status == 0) ? 0x20026U : 0x20023U;
    semihost(0x18U, (const void *)reason);
#endif
    for (;;) {
        __asm__ volatile("wfi" ::: "memory");
    }
}`,
  );
}

const memory = (
  whose: string,
  flash: string,
  ram: string,
): string => `/* Memory of ${whose}: put in your own board's. */
MEMORY
{
  FLASH (rx) : ORIGIN = 0x00000000, LENGTH = ${flash}
  RAM (rwx) : ORIGIN = 0x20000000, LENGTH = ${ram}
}
INCLUDE sections.ld`;

const sections = `/* What goes where. */
ENTRY(board_reset)
SECTIONS
{
  .text : { KEEP(*(.vectors)) *(.text .text.*) *(.rodata .rodata.*) . = ALIGN(4); } > FLASH
  .ARM.exidx : { *(.ARM.exidx* .gnu.linkonce.armexidx.*) . = ALIGN(4); } > FLASH
  .data : { . = ALIGN(4); data_begin = .; *(.data .data.*) . = ALIGN(4); data_end = .; } > RAM AT > FLASH
  data_source = LOADADDR(.data);
  .bss (NOLOAD) : { . = ALIGN(4); bss_begin = .; *(.bss .bss.* COMMON) . = ALIGN(8); bss_end = .; } > RAM
  end = .;
  stack_top = ORIGIN(RAM) + LENGTH(RAM);
  ASSERT(stack_top - bss_end >= 2048, "less than 2 kB are left for the stack")
}`;
