/*
 * The row scout's controller as an engineer would write it by hand: the same law, the same gate, the same guards, gains
 * that can be changed while it runs. The measure for the emitted C; the test that runs both says that they agree.
 */
#include "row_scout_by_hand.h"

#include <math.h>
#include <string.h>

/* The same bits on every machine want an arctangent of one's own; the test brings the one the emitted C has. */
#ifdef PORTABLE
#include "portable.h"
#define atan2f row_scout_atan2_f32
#endif

#define DT 0.005f
#define WINDOW 200
#define OUTER_EVERY 5

void by_hand_start(by_hand_t *c)
{
    memset(c, 0, sizeof *c);
    c->still_limit = 0.15f;
    c->bias_enough = 400;
    c->calm_needed = 400;
    c->smooth_k = 0.024390243f;
    c->blend_keep = 0.99502486f;
    c->blend_take = 0.0049751243f;
    c->large_lean = 0.31415927f;
    c->small_lean = 0.05235988f;
    c->per_count = 0.06135923f;
    c->apart = 8.0f;
    c->fast = 110.0f;
    c->slow = 5.0f;
    c->settle_ticks = 100;
    c->ramp_ticks = 200;
    c->most_limited = 60.0f;
    c->lamp_on = 50;
    c->lamp_period = 100;
    c->left_sign = 1;
    c->right_sign = -1;
    c->across_scale = 1.0f;
    c->along_scale = 1.0f;
    c->gyro_scale = 1.0f;
    c->outer_ki = 0.00000375f;
    c->outer_low = -0.05235988f;
    c->outer_high = 0.05235988f;
    c->outer_direct = 0.0011217392f;
    c->outer_gain = 0.0006f;
    c->outer_d = 0.26086956f;
    c->outer_limit_low = -0.10471976f;
    c->outer_limit_high = 0.10471976f;
    c->inner_ki = 7.5f;
    c->inner_low = -80.0f;
    c->inner_high = 80.0f;
    c->inner_direct = 8240.0f;
    c->inner_gain = 720.0f;
    c->inner_d = 0.6666667f;
    c->low = -100.0f;
    c->high = 100.0f;
    c->drive_scale = 1.0f;
    c->drive_low = -100.0f;
    c->drive_high = 100.0f;
    c->last_left = INT32_MIN;
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

static void judge(by_hand_t *c, bool asked, bool ready, bool tripping)
{
    switch (c->mode) {
    case HELD:
        if (ready) {
            c->mode = SETTLING;
        }
        break;
    case SETTLING:
        if (!ready) {
            c->mode = HELD;
        } else if (c->settled >= c->settle_ticks) {
            c->mode = WAITING;
        }
        break;
    case WAITING:
        if (!ready) {
            c->mode = HELD;
        } else if (asked) {
            c->mode = tripping ? TRIPPED : RAMPING;
        }
        break;
    case RAMPING:
        if (tripping) {
            c->mode = TRIPPED;
        } else if (c->ramped >= c->ramp_ticks) {
            c->mode = ENABLED;
        }
        break;
    case ENABLED:
        if (tripping) {
            c->mode = TRIPPED;
        }
        break;
    default:
        if (asked && !tripping) {
            c->mode = HELD;
        }
        break;
    }
    c->settled = c->mode == SETTLING ? c->settled + 1 : 0;
}

void by_hand_tick(by_hand_t *c, const by_hand_in_t *in, by_hand_out_t *out)
{
    const float across = c->across_scale * in->across;
    const float along = c->along_scale * in->along;
    const float gyro = c->gyro_scale * in->gyro;
    const bool still = fabsf(gyro) < c->still_limit;
    const float tilt = atan2f(-across, along);
    const int16_t left = low16(c->left_sign * in->left);
    const int16_t right = low16(c->right_sign * in->right);

    const bool asked = in->ask != 0 && c->ask_was_off;
    c->ask_was_off = in->ask == 0;

    /* Gyro bias, found while the body rests. */
    const float rate = gyro - c->bias;
    const int32_t seen = c->bias_seen < c->bias_enough ? c->bias_seen + 1 : c->bias_enough;
    const bool bias_found = c->bias_seen >= c->bias_enough;
    const bool calm = still && c->calm >= c->calm_needed;
    c->calm = still ? (c->calm < c->calm_needed ? c->calm + 1 : c->calm) : 0;

    /* Accelerometer smoothed, then blended with the integrated rate. */
    if (!c->running) {
        c->smooth = tilt;
    }
    const float step = c->smooth_k * (tilt - c->smooth);
    const float smooth = c->smooth + step;
    c->smooth = smooth + step;
    if (!c->running) {
        c->lean = smooth;
    }
    c->lean = c->blend_keep * (c->lean + rate * DT) + c->blend_take * smooth;
    const float size = fabsf(c->lean);

    const bool outer_due = c->beat == 0;
    if (outer_due) {
        if (c->last_left == INT32_MIN) {
            c->last_left = left;
            c->last_right = right;
        }
        const float left_speed = (float)low16(left - c->last_left) * c->per_count;
        const float right_speed = (float)low16(right - c->last_right) * c->per_count;
        c->last_left = left;
        c->last_right = right;
        c->wheels_apart = !(fabsf(left_speed - right_speed) <= c->apart);
        c->wheel = (left_speed + right_speed) * 0.5f;
        c->wheel_fast = !(fabsf(c->wheel) <= c->fast);
        c->wheel_slow = fabsf(c->wheel) < c->slow;
    }

    const bool pressed = in->stop == 0;
    const bool ready = !c->wheels_apart && bias_found && calm && size < c->small_lean && c->wheel_slow && !pressed;
    const bool tripping = c->wheels_apart || !(size <= c->large_lean) || c->limited_sum > c->most_limited || !isfinite(c->lean)
                       || c->wheel_fast || pressed || c->unfit;
    const int32_t ramped = c->ramped;
    judge(c, asked, ready, tripping);
    const bool ramping = c->mode == RAMPING;
    const bool live = ramping || c->mode == ENABLED;
    float ramp = 0.0f;
    if (c->mode == ENABLED || (ramping && ramped >= c->ramp_ticks)) {
        ramp = 1.0f;
    } else if (ramping) {
        ramp = (float)ramped / (float)c->ramp_ticks;
    }
    c->ramped = ramping ? ramped + 1 : 0;

    out->lamp = live && c->lamp < c->lamp_on;
    c->lamp = !live || c->lamp + 1 >= c->lamp_period ? 0 : c->lamp + 1;

    if (!live && still) {
        c->bias += rate / (float)seen;
        c->bias_seen = seen;
    }

    if (live) {
        if (!c->was_live) {
            c->inner_sum = 0.0f;
            c->inner_s = 0.0f;
        }
        if (outer_due) {
            if (!c->outer_ran) {
                c->outer_sum = 0.0f;
                c->outer_s = 0.0f;
            }
            const float error = c->wheel_wanted - c->wheel;
            const float direct = c->outer_direct * error;
            const float lead = direct + c->outer_s;
            c->outer_s = (lead - direct) + c->outer_d * (c->outer_gain * error - lead);
            const float wanted = lead + c->outer_sum;
            c->outer_sum = limited(c->outer_sum + c->outer_ki * error, c->outer_low, c->outer_high);
            c->outer_fault = c->outer_fault || isnan(wanted);
            const float lean_wanted = limited(isnan(wanted) ? 0.0f : wanted, c->outer_limit_low, c->outer_limit_high);
            c->lean_wanted = ramp > 0.999f ? lean_wanted : 0.0f;
        }
        const float error = c->lean - c->lean_wanted;
        const float direct = c->inner_direct * error;
        const float lead = direct + c->inner_s;
        c->inner_s = (lead - direct) + c->inner_d * (c->inner_gain * error - lead);
        c->command = lead + c->inner_sum;
        c->inner_sum = limited(c->inner_sum + c->inner_ki * error, c->inner_low, c->inner_high);
    }
    c->outer_ran = live && (outer_due || c->outer_ran);
    c->was_live = live;

    const float command = limited(isnan(c->command) ? 0.0f : c->command, c->low, c->high);
    c->fault = c->fault || isnan(c->command);
    const float now = live && command != c->command ? 1.0f : 0.0f;
    c->limited_sum += now - c->window[c->window_at];
    c->window[c->window_at] = now;
    c->window_at = c->window_at + 1 == WINDOW ? 0 : c->window_at + 1;

    const bool fit = isfinite(command);
    c->unfit = live && !fit;
    const float driven = c->drive_scale * (live && fit ? ramp * command : 0.0f);
    c->failed = c->failed || !isfinite(driven);
    out->drive = c->failed ? 0.0f : limited(driven, c->drive_low, c->drive_high);

    c->beat = c->beat + 1 == OUTER_EVERY ? 0 : c->beat + 1;
    c->running = true;
}
