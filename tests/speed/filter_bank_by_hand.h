/* The bank of twelve second-order sections written by hand: see the source. */
#ifndef FILTER_BANK_BY_HAND_H
#define FILTER_BANK_BY_HAND_H

#include <stdbool.h>
#include <stdint.h>

enum { SECTIONS = 12 };

typedef struct {
    float sensor;
} filter_bank_by_hand_in_t;

typedef struct {
    float out;
} filter_bank_by_hand_out_t;

typedef struct {
    /* A section's settings. */
    float g, k, damping;
    /* What it remembers. */
    float fast, slow;
} section_t;

typedef struct {
    float sensor_scale, out_scale, low, high, neutral;
    section_t sections[SECTIONS];
    bool running, failed;
} filter_bank_by_hand_t;

void filter_bank_by_hand_start(filter_bank_by_hand_t *c);
void filter_bank_by_hand_tick(filter_bank_by_hand_t *c, const filter_bank_by_hand_in_t *in, filter_bank_by_hand_out_t *out);

#endif
