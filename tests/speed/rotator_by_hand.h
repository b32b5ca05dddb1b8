/* The rotator's three nested loops written by hand: see the source. */
#ifndef ROTATOR_BY_HAND_H
#define ROTATOR_BY_HAND_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    int32_t counter;
    float current;
    float wanted;
} rotator_by_hand_in_t;

typedef struct {
    float voltage;
} rotator_by_hand_out_t;

typedef struct {
    /* Settings. */
    int32_t counter_sign;
    float current_scale, wanted_span, wanted_low, angle_per_count, speed_per_count;
    float angle_gain, speed_low, speed_high;
    float speed_gain, speed_ki, speed_sum_low, speed_sum_high, current_low, current_high;
    float current_gain, current_ki, current_sum_low, current_sum_high, voltage_low, voltage_high;
    float drive_scale, drive_low, drive_high, drive_neutral;
    /* What it remembers. */
    float speed_wanted, speed_sum, current_wanted, current_sum;
    int32_t angle_last, total, speed_last, beat, tens;
    bool angle_running, speed_running, speed_fault, current_fault, voltage_fault, failed;
} rotator_by_hand_t;

void rotator_by_hand_start(rotator_by_hand_t *c);
void rotator_by_hand_tick(rotator_by_hand_t *c, const rotator_by_hand_in_t *in, rotator_by_hand_out_t *out);

#endif
