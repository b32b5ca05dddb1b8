/*
 * Keeps the water of a tank at its level.
 * Made by Loopwright from a sheet: change the sheet, not this file.
 */
#include "tank.h"

#include <float.h>
#include <limits.h>
#include <math.h>
#include <stdbool.h>

/* The same bits everywhere: one rounding an operation, nothing reordered, nothing assumed away. */
#if defined(__FAST_MATH__) || defined(__ASSOCIATIVE_MATH__) || defined(__RECIPROCAL_MATH__) || defined(__NO_SIGNED_ZEROS__)
#error "compile without -ffast-math and its parts"
#endif
#if defined(__FINITE_MATH_ONLY__) && (__FINITE_MATH_ONLY__ > 0)
#error "compile without -ffinite-math-only: not-a-number must be seen"
#endif
#if defined(FLT_EVAL_METHOD) && (FLT_EVAL_METHOD != 0)
#error "every operation must round to its own type (FLT_EVAL_METHOD 0; on 32-bit x86: -msse2 -mfpmath=sse)"
#endif
#if defined(CHAR_BIT) && (CHAR_BIT != 8)
#error "a byte must have 8 bits"
#endif
#if defined(FLT_MANT_DIG) && defined(FLT_MAX_EXP) && ((FLT_MANT_DIG != 24) || (FLT_MAX_EXP != 128))
#error "float must be the IEEE 754 single format"
#endif
#if defined(__clang__)
#pragma STDC FP_CONTRACT OFF
#elif defined(__GNUC__)
#pragma GCC optimize ("fp-contract=off")
#else
/* Switch contraction (fused multiply-add) off in the build; the start-up check sees it if it is on. */
#endif

/* The signed number with the same pattern. C leaves this conversion to the compiler; the start-up check looks. */
static int32_t lw_i32_of_u32(uint32_t x)
{
    return (int32_t)x;
}

/* Wraps at 32 bits. */
static int32_t lw_add_i32(int32_t a, int32_t b)
{
    return lw_i32_of_u32((uint32_t)a + (uint32_t)b);
}

/* Has the sign of a; x rem 0 is 0. */
static int32_t lw_rem_i32(int32_t a, int32_t b)
{
    return ((b == 0) || (b == -1)) ? 0 : (a % b);
}

/* Truncates; stops at the ends of the range; not-a-number is 0. */
static int32_t lw_i32_from_f32(float x)
{
    int32_t whole = 0;
    if (x >= 2147483648.0f) {
        whole = INT32_MAX;
    } else if (x < -2147483648.0f) {
        whole = (-2147483647 - 1);
    } else if (!isnan(x)) {
        whole = (int32_t)x;
    } else {
        /* stays 0 */
    }
    return whole;
}

/* Brings an index into an array of this length. */
static int32_t lw_index(int32_t index, int32_t length)
{
    int32_t inside = index;
    if (index < 0) {
        inside = 0;
    } else if (index >= length) {
        inside = length - 1;
    } else {
        /* it is inside */
    }
    return inside;
}

/* The place after this one in a delay line of this length. */
static int32_t lw_after(int32_t head, int32_t length)
{
    int32_t place = head + 1;
    if (place >= length) {
        place = 0;
    }
    return place;
}

static float tank_limit(float x1, float x2, float x3)
{
    const float t1 = (x1 < x2) ? x2 : x1;
    return (x3 < t1) ? x3 : t1;
}

void tank_tick(tank_t *m, const tank_in_t *in, tank_out_t *out)
{
    /* mean: average of three */
    const float mean_y = ((in->level[0] + in->level[1]) + in->level[2]) / 3.0f;

    /* smooth: low-pass */
    if (m->smooth_started == 0U) {
        m->smooth_x = mean_y;
    }
    m->smooth_started = 1U;
    const float smooth_keep = m->smooth_keep;
    const float smooth_y = (smooth_keep * m->smooth_x) + ((1.0f - smooth_keep) * mean_y);
    m->smooth_x = smooth_y;

    /* watch: latches when the level is no number */
    const bool watch_tripped_next = (m->watch_tripped != 0U) || isnan(smooth_y);
    m->watch_tripped = (uint8_t)(watch_tripped_next ? 1U : 0U);
    out->alarm = (uint8_t)(watch_tripped_next ? 1U : 0U);

    /* every 2 ticks */
    const int32_t tick_beat = m->tick_beat;
    if (tick_beat == 0) {
        /* law: proportional, with a table for the outlet */
        if (watch_tripped_next || (in->manual != 0U)) {
            m->law_y = 0.0f;
        } else {
            const float law_1 = ((1.5f - smooth_y) * 2.0f) + m->curve_table[lw_index(lw_i32_from_f32(fabsf(smooth_y)), 9)];
            m->law_y = tank_limit(law_1, 0.0f, 1.0f);
        }
    }

    /* late: a pipe of four ticks */
    const float late_past = m->late_past[m->late_head];
    m->late_past[m->late_head] = m->law_y;
    m->late_head = lw_after(m->late_head, 4);
    out->valve = (late_past < 0.0f) ? (-0.0f) : late_past;

    /* until the next tick */
    m->tick_beat = lw_rem_i32(lw_add_i32(tick_beat, 1), 2);
}

void tank_start(tank_t *m)
{
    m->smooth_keep = 0.9f;
    {
        static const float start[9] = {
            0.0f, 1.0f, 2.0f, 3.0f, 5.0f, 8.0f, 13.0f, 21.0f,
            34.0f,
        };
        for (int32_t i = 0; i < 9; i++) {
            m->curve_table[i] = start[i];
        }
    }
    m->smooth_x = 0.0f;
    m->smooth_started = 0U;
    m->tick_beat = 0;
    m->late_head = 0;
    m->watch_tripped = 0U;
    for (int32_t i = 0; i < 4; i++) {
        m->late_past[i] = 0.0f;
    }
    m->law_y = 0.0f;
}

void tank_rest(tank_out_t *out)
{
    out->valve = 0.0f;
    out->alarm = 0U;
}

/* The start-up check. Its operands are volatile, so that no compiler works anything out beforehand. */
static int probe_f32(void)
{
    volatile uint32_t any_pattern = 0xffffffffU;
    volatile float any_one = 1.0f;
    volatile float any_zero = 0.0f;
    volatile float any_part = 0.00012207031f;
    volatile float any_square = 1.0002441f;
    volatile float any_ulp = 1.1920929e-7f;
    volatile float any_smallest = 1.1754944e-38f;
    volatile float any_tiniest = 1e-45f;
    volatile float any_third = 0.33333334f;
    const float one = any_one;
    const float part = one + any_part;
    const float square = any_square;
    const float ulp = any_ulp;
    const float smallest = any_smallest;
    const float tiniest = any_tiniest;
    const float third = any_third;
    const float zero = any_zero;
    const float nothing = zero / (one - one);
    int ok = 1;
    if (((part * part) - square) != 0.0f) {
        ok = 0; /* a product was not rounded before the sum: contraction */
    }
    if (((one + (ulp / 2.0f)) != one) || ((one + (ulp * 1.5f)) != (one + (ulp * 2.0f)))) {
        ok = 0; /* not rounded to nearest even, or kept wider than its type */
    }
    if (((smallest * 0.5f) * 2.0f) != smallest) {
        ok = 0; /* a subnormal result was flushed to zero */
    }
    if ((tiniest * 8388608.0f) != smallest) {
        ok = 0; /* a subnormal operand was taken as zero */
    }
    if (!isnan(nothing) || !((one / (zero * -one)) < zero)) {
        ok = 0; /* not-a-number or the sign of zero is not kept */
    }
    if ((int32_t)any_pattern != -1) {
        ok = 0; /* a signed number is not the one with the same pattern */
    }
    if ((one / 3.0f) != third) {
        ok = 0; /* division does not round correctly */
    }
    {
        volatile float any_over = 1.996291e-31f;
        volatile float any_under = 48051808.0f;
        const float over = any_over;
        const float under = any_under;
        if ((over / under) != 4.154456e-39f) {
            ok = 0; /* a subnormal quotient does not round correctly: emit with own division */
        }
    }
    return ok;
}

int tank_arithmetic_ok(void)
{
    return (probe_f32() != 0) ? 1 : 0;
}
