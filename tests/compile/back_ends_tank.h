/*
 * Keeps the water of a tank at its level.
 *
 * Memory: 80 bytes of state, 16 of inputs, 8 of outputs; no heap, no recursion, no globals that
 * change. Several instances may run at once, each with its own state.
 *
 * Work: tank_tick at most 25 operations.
 *
 * The same bits as in the simulation, if compiled as C99 with -ffp-contract=off and without
 * -ffast-math or its parts, on arithmetic that follows IEEE 754, rounds to nearest even and
 * keeps subnormals, with every operation rounded to its own type (FLT_EVAL_METHOD 0).
 *
 * A name of the sheet has _ for its dots, and one more _ at its end where C or the machine has
 * taken the name.
 *
 * Caution: This is control software, not a certified safety function: nothing here may be relied
 * on to protect people.
 *
 * Caution: Local codes and a qualified person decide what guards, stops and interlocks the
 * machine needs besides.
 *
 * Caution: Before power is given to an actuator the first time: wheels off the ground or the
 * machine held, limits low, a stop within reach that works without this program.
 */
#ifndef TANK_H
#define TANK_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What the sensors read, raw; filled in before every call. */
typedef struct {
    float level[3]; /* m, of the water above the outlet */
    uint8_t manual; /* 0 or 1; hand wheel engaged */
} tank_in_t;

/* What the actuators are told, raw; every field is written by every call. */
typedef struct {
    float valve; /* 0 shut, 1 open */
    uint8_t alarm; /* 0 or 1 */
} tank_out_t;

/* Everything the program remembers. */
typedef struct {
    /* Settings: may be changed between two calls; several that belong together, all between the same two. */
    float smooth_keep; /* what is kept of the last value */
    float curve_table[9];
    /* Memories. */
    float smooth_x; /* m */
    uint8_t smooth_started; /* 0 or 1 */
    int32_t tick_beat;
    int32_t late_head;
    uint8_t watch_tripped; /* 0 or 1 */
    /* Delay lines. */
    float late_past[4];
    /* Values that are held for a later tick, another rate or a reader. */
    float law_y;
} tank_t;

/* Memory and settings to their initial values. Call it before the first tick. */
void tank_start(tank_t *m);

/* What the actuators are told while the program does not run: before its first tick, and when it may not arm. */
void tank_rest(tank_out_t *out);

/* Call it once every 20 ms. */
void tank_tick(tank_t *m, const tank_in_t *in, tank_out_t *out);

/* 1 if this machine computes as the simulation does: no contraction, rounding to nearest even, subnormals kept. Call it
 * at power-up and do not arm anything if it gives 0. */
int tank_arithmetic_ok(void);

#ifdef __cplusplus
}
#endif

#endif
