/* The row scout's controller written by hand: see the source. */
#ifndef ROW_SCOUT_BY_HAND_H
#define ROW_SCOUT_BY_HAND_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    float across;
    float along;
    uint8_t ask;
    float gyro;
    int32_t left;
    int32_t right;
    uint8_t stop;
} by_hand_in_t;

typedef struct {
    uint8_t lamp;
    float drive;
} by_hand_out_t;

enum { HELD, SETTLING, WAITING, RAMPING, ENABLED, TRIPPED };

typedef struct {
    /* Settings. */
    float across_scale, along_scale, gyro_scale, drive_scale;
    int32_t left_sign, right_sign;
    float still_limit, smooth_k, blend_keep, blend_take, large_lean, small_lean, per_count, apart, fast, slow, most_limited;
    int32_t bias_enough, calm_needed, settle_ticks, ramp_ticks, lamp_on, lamp_period;
    float wheel_wanted, outer_ki, outer_low, outer_high, outer_direct, outer_gain, outer_d, outer_limit_low, outer_limit_high;
    float inner_ki, inner_low, inner_high, inner_direct, inner_gain, inner_d, low, high, drive_low, drive_high;
    /* What it remembers. */
    float smooth, lean, bias, wheel, outer_sum, outer_s, lean_wanted, inner_sum, inner_s, command, limited_sum;
    int32_t bias_seen, calm, last_left, last_right, settled, ramped, lamp, window_at, beat;
    float window[200];
    uint8_t mode;
    bool running, ask_was_off, wheels_apart, wheel_fast, wheel_slow, unfit, failed, fault, outer_fault, was_live, outer_ran;
} by_hand_t;

void by_hand_start(by_hand_t *c);
void by_hand_tick(by_hand_t *c, const by_hand_in_t *in, by_hand_out_t *out);

#endif
