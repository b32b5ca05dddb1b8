/** RISC-V, rv32imac and rv32imafc: start-up, linker script, the tick from the machine's clock, semihosting. */

import { channelsVariable, loopFiles, loopHeaders, loopMachinery, loopSources } from './loop.ts';
import { emulated, makefile } from './makefile.ts';
import { readme } from './readme.ts';
import { type Made, type Target, textFile } from './target.ts';
import { tickCounts } from './timing.ts';

const about = {
  about: 'RISC-V, rv32imac and rv32imafc',
  cautions: [
    "The linker script, MTIME and MTIME_HZ are those of the emulator's virt board: put in those of your own before flashing.",
    "A fault stops the loop where it is and leaves the actuators as they were told last: a watchdog of the board's must bring it back to its start, which puts them to rest.",
    'Nothing here feeds a watchdog or guards the supply.',
  ],
};

export const riscv: Target = {
  name: 'riscv',
  ...about,
  machine: 'RISC-V rv32imac and rv32imafc, riscv64-unknown-elf-gcc',
  numbers: ['f32', 'f64'],
  alignment: 8,
  room: 1_000_000,
  eachNumber: false,
  machinery: loopMachinery(),
  around: (made) => [
    ...loopFiles(made),
    board(),
    textFile('start.S', start),
    textFile('virt.ld', linkerScript),
    makefile(made, {
      compiler: 'riscv64-unknown-elf-gcc',
      size: 'riscv64-unknown-elf-size',
      packages: 'gcc-riscv64-unknown-elf picolibc-riscv64-unknown-elf qemu-system-misc, with --no-install-recommends',
      cores: [
        { name: 'imac', flags: '-march=rv32imac -mabi=ilp32', run: emulated('virt -bios none') },
        { name: 'imafc', flags: '-march=rv32imafc -mabi=ilp32f', run: emulated('virt -bios none') },
      ],
      variables: `EMULATOR = qemu-system-riscv32
${channelsVariable}`,
      sources: [...loopSources, 'start.S'],
      headers: loopHeaders,
      flags: '-ffunction-sections -fdata-sections --specs=picolibc.specs',
      libraries: '-nostartfiles -T virt.ld -Wl,--gc-sections -lm',
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
      ['board.c, start.S', 'start-up, the tick from mtime, semihosting'],
      ['channels.h', 'what you write for your sensors and actuators, in a file `channels.c`'],
      ['channels_none.c', 'stands in for it until then'],
      ['virt.ld', 'where code and data go'],
    ],
    build: `\`make\` builds \`build/imac/${made.file}.elf\` (floating point in software) and \`build/imafc/${made.file}.elf\` (single precision in
hardware), for \`CORES="imafc"\` only that one. \`make check\` builds images that only check, runs them in the emulator and
prints \`N passed, N failed\` for each. The image for the board runs the same check at every power-up, with the actuators
at rest, and does not enter its loop if a bit differs. It makes no semihosting call, so it runs without a debugger.`,
    wiring: `Write \`channels.c\` after \`channels.h\`. The tick comes from the machine's clock (\`MTIME\`, \`MTIME_HZ\`); a tick that is late is
told to \`channels_late\` and never made up for by a burst.`,
    checkedOn: 'on the emulated board with `make check`, and on your board at every power-up',
  });
}

function board() {
  return textFile(
    'board.c',
    `/* RISC-V: the tick from the machine's clock, and what a debugger is told. */
#include "board.h"

/* The memory-mapped clock (mtime) and its rate. */
#ifndef MTIME
#define MTIME 0x0200bff8U
#endif
#ifndef MTIME_HZ
#define MTIME_HZ 10000000
#endif

${tickCounts('MTIME_HZ')}

/* In start.S. */
int32_t board_semihost(uint32_t operation, const void *argument);
void board_fault(void);

static uint64_t next_tick = 0U;

static uint64_t clock_now(void)
{
    const volatile uint32_t *const mtime = (const volatile uint32_t *)MTIME;
    uint32_t low = 0U;
    uint32_t high = mtime[1];
    uint32_t before = 0U;
    do {
        before = high;
        low = mtime[0];
        high = mtime[1];
    } while (high != before);
    return ((uint64_t)high << 32U) | low;
}

void board_open(void)
{
}

void board_start_ticks(void)
{
    next_tick = clock_now() + (uint64_t)TICK_COUNTS;
}

bool board_wait(uint32_t *behind)
{
    uint64_t now = clock_now();
    if (now >= next_tick) {
        *behind = (uint32_t)((now - next_tick) / (uint64_t)TICK_COUNTS) + 1U;
        next_tick += (uint64_t)*behind * (uint64_t)TICK_COUNTS;
    } else {
        *behind = 0U;
        while (now < next_tick) {
            now = clock_now();
        }
        next_tick += (uint64_t)TICK_COUNTS;
    }
    return true;
}

void board_say(const char *text)
{
#if START_UP
    (void)text; /* without a debugger nobody listens, and the call would be a fault */
#else
    (void)board_semihost(4U, text);
#endif
}

int board_end(int status)
{
#if START_UP
    (void)status;
#else
    /* "The application has ended", or that it failed. */
    const uintptr_t reason = (status == 0) ? 0x20026U : 0x20023U;
    (void)board_semihost(0x18U, (const void *)reason);
#endif
    for (;;) {
        __asm__ volatile("wfi" ::: "memory");
    }
}

/* Where traps lead. */
void board_fault(void)
{
    (void)board_end(1);
}`,
  );
}

const start = `/* RISC-V start-up. */
    .section .text.start, "ax"
    .globl board_reset
board_reset:
    .option push
    .option norelax
    la gp, __global_pointer$
    .option pop
    la sp, stack_top
    la t0, trap
    .option push
    .option arch, +zicsr
    csrw mtvec, t0
#ifdef __riscv_flen
    li t0, 0x2000               /* the floating-point unit, before its first use */
    csrs mstatus, t0
    csrw fcsr, zero
#endif
    .option pop
    la a0, data_source
    la a1, data_begin
    la a2, data_end
1:  bgeu a1, a2, 2f
    lw t0, 0(a0)
    sw t0, 0(a1)
    addi a0, a0, 4
    addi a1, a1, 4
    j 1b
2:  la a1, bss_begin
    la a2, bss_end
3:  bgeu a1, a2, 4f
    sw zero, 0(a1)
    addi a1, a1, 4
    j 3b
4:  call main
5:  j 5b

    .balign 4
trap:
    call board_fault
    j trap

    /* Three instructions that a debugger knows; they must be whole words that stand in one page. */
    .section .text.board_semihost, "ax"
    .balign 16
    .globl board_semihost
board_semihost:
    .option push
    .option norvc
    slli zero, zero, 0x1f
    ebreak
    srai zero, zero, 7
    .option pop
    ret`;

const linkerScript = `/* Memory of the emulator's virt board, where code stands in memory too: put in your own board's. */
ENTRY(board_reset)
MEMORY
{
  FLASH (rx) : ORIGIN = 0x80000000, LENGTH = 4M
  RAM (rwx) : ORIGIN = 0x80400000, LENGTH = 1M
}
SECTIONS
{
  .text : { KEEP(*(.text.start)) *(.text .text.*) *(.rodata .rodata.*) *(.srodata .srodata.*) . = ALIGN(8); } > FLASH
  .data : {
    . = ALIGN(8);
    data_begin = .;
    *(.data .data.*)
    __global_pointer$ = . + 0x800;
    *(.sdata .sdata.*)
    . = ALIGN(8);
    data_end = .;
  } > RAM AT > FLASH
  data_source = LOADADDR(.data);
  .bss (NOLOAD) : { . = ALIGN(8); bss_begin = .; *(.sbss .sbss.*) *(.bss .bss.* COMMON) . = ALIGN(8); bss_end = .; } > RAM
  stack_top = ORIGIN(RAM) + LENGTH(RAM);
  ASSERT(stack_top - bss_end >= 2048, "less than 2 kB are left for the stack")
}`;
