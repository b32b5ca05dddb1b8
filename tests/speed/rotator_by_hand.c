/*
 * A rotator's control as an engineer would write it by hand: current at 10 kHz, speed at 1 kHz, angle at 100 Hz, each
 * limited and guarded like the sheet's, with gains that can be changed while it runs. The measure for the emitted C; the
 * test that runs both says that they agree.
 */
#include "rotator_by_hand.h"

#include <math.h>
#include <string.h>

#define SPEED_EVERY 10
#define ANGLE_EVERY 10 /* of the speed's ticks */

void rotator_by_hand_start(rotator_by_hand_t *c)
{
    memset(c, 0, sizeof *c);
    c->counter_sign = 1;
    c->current_scale = 1.0f;
    c->wanted_span = 3.1415927f;
    c->wanted_low = -1.5707964f;
    c->angle_per_count = 0.0015339808f;
    c->speed_per_count = 1.5339808f;
    c->angle_gain = 10.0f;
    c->speed_low = -30.0f;
    c->speed_high = 30.0f;
    c->speed_gain = 0.2f;
    c->speed_ki = 0.004f;
    c->speed_sum_low = -5.0f;
    c->speed_sum_high = 5.0f;
    c->current_low = -8.0f;
    c->current_high = 8.0f;
    c->current_gain = 2.0f;
    c->current_ki = 0.1f;
    c->current_sum_low = -24.0f;
    c->current_sum_high = 24.0f;
    c->voltage_low = -24.0f;
    c->voltage_high = 24.0f;
    c->drive_scale = 1.0f;
    c->drive_low = -24.0f;
    c->drive_high = 24.0f;
}

static int16_t low16(int32_t x)
{
    return (int16_t)(uint16_t)x;
}

static float limited(float x, float low, float high)
{
    if (x < low) {
        return low;
    }
    return high < x ? high : x;
}

/* Limited; what is not a number becomes 0 and is told. */
static float guarded(float x, float low, float high, bool *fault)
{
    if (isnan(x)) {
        *fault = true;
        return limited(0.0f, low, high);
    }
    return limited(x, low, high);
}

static void judge_angle(rotator_by_hand_t *c, int32_t count, float wanted)
{
    if (!c->angle_running) {
        c->angle_running = true;
        c->angle_last = count;
    }
    c->total += low16(count - c->angle_last);
    c->angle_last = count;
    const float error = (c->wanted_low + c->wanted_span * wanted) - (float)c->total * c->angle_per_count;
    c->speed_wanted = guarded(c->angle_gain * error, c->speed_low, c->speed_high, &c->speed_fault);
}

static void judge_speed(rotator_by_hand_t *c, int32_t count)
{
    if (!c->speed_running) {
        c->speed_running = true;
        c->speed_last = count;
    }
    const float error = c->speed_wanted - (float)low16(count - c->speed_last) * c->speed_per_count;
    c->speed_last = count;
    c->current_wanted = guarded(c->speed_gain * error + c->speed_sum, c->current_low, c->current_high, &c->current_fault);
    c->speed_sum = limited(c->speed_sum + c->speed_ki * error, c->speed_sum_low, c->speed_sum_high);
}

void rotator_by_hand_tick(rotator_by_hand_t *c, const rotator_by_hand_in_t *in, rotator_by_hand_out_t *out)
{
    if (c->beat == 0) {
        const int32_t count = low16(c->counter_sign * in->counter);
        if (c->tens == 0) {
            judge_angle(c, count, in->wanted);
        }
        c->tens = c->tens + 1 == ANGLE_EVERY ? 0 : c->tens + 1;
        judge_speed(c, count);
    }
    c->beat = c->beat + 1 == SPEED_EVERY ? 0 : c->beat + 1;

    const float error = c->current_wanted - c->current_scale * in->current;
    const float wanted = c->current_gain * error + c->current_sum;
    c->current_sum = limited(c->current_sum + c->current_ki * error, c->current_sum_low, c->current_sum_high);
    const float driven = c->drive_scale * guarded(wanted, c->voltage_low, c->voltage_high, &c->voltage_fault);
    c->failed = c->failed || !isfinite(driven);
    out->voltage = c->failed ? c->drive_neutral : limited(driven, c->drive_low, c->drive_high);
}
