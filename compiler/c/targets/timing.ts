/** The tick as a whole number of counts of a clock, held to be near enough before anything is compiled. */

/**
 * Preprocessor lines: `TICK_COUNTS` counts of a clock of `hertz` a tick, in `PIECES` equal pieces where a timer holds no
 * more than `most` of them.
 */
export function tickCounts(hertz: string, most?: number): string {
  const clock = `(INT64_C(1) * ${hertz})`;
  const made = most === undefined ? 'TICK_COUNTS' : '((TICK_COUNTS / PIECES) * PIECES)';
  const pieces =
    most === undefined
      ? ''
      : `/* The timer holds ${most} counts: a longer tick is counted in several pieces of equal length. */
#define PIECES (((TICK_COUNTS - 1) / ${most}) + 1)
`;
  return `#define TICK_COUNTS (((${clock} * TICK_NS) + 500000000) / 1000000000)
${pieces}#define TICK_ERROR ((${made} * 1000000000) - (${clock} * TICK_NS))
#if (TICK_COUNTS < 100)
#error "the tick is too short for this clock"
#endif
#if ((TICK_ERROR * 10000) > (${clock} * TICK_NS)) || ((TICK_ERROR * -10000) > (${clock} * TICK_NS))
#error "this clock makes the tick wrong by more than a ten thousandth"
#endif`;
}
