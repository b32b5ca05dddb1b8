/*
 * A bank of twelve second-order low-pass sections as an engineer would write it by hand, guarded like the sheet's, with
 * coefficients that can be changed while it runs. The measure for the emitted C; the test that runs both says that they agree.
 */
#include "filter_bank_by_hand.h"

#include <math.h>
#include <string.h>

void filter_bank_by_hand_start(filter_bank_by_hand_t *c)
{
    static const float settings[SECTIONS][3] = {
        {0.002f, 0.998f, 1.002f},       {0.003f, 0.99700004f, 1.003f},  {0.0045f, 0.9955001f, 1.0045f},
        {0.007f, 0.9930003f, 1.007f},   {0.01f, 0.99000096f, 1.01f},    {0.015f, 0.98500335f, 1.015f},
        {0.022f, 0.9780104f, 1.022f},   {0.033f, 0.96703476f, 1.033f},  {0.05f, 0.9501188f, 1.05f},
        {0.075f, 0.9253904f, 1.075f},   {0.11f, 0.8911862f, 1.11f},     {0.16f, 0.8434548f, 1.16f},
    };
    memset(c, 0, sizeof *c);
    for (int i = 0; i < SECTIONS; i++) {
        c->sections[i].g = settings[i][0];
        c->sections[i].k = settings[i][1];
        c->sections[i].damping = settings[i][2];
    }
    c->sensor_scale = 1.0f;
    c->out_scale = 1.0f;
    c->low = -10.0f;
    c->high = 10.0f;
}

static float filtered(section_t *s, float u)
{
    const float bend = s->k * ((u - s->damping * s->fast) - s->slow);
    const float rise = s->fast + s->g * bend;
    const float y = s->slow + s->g * rise;
    s->fast = rise + s->g * bend;
    s->slow = y + s->g * rise;
    return y;
}

static float limited(float x, float low, float high)
{
    if (x < low) {
        return low;
    }
    return high < x ? high : x;
}

void filter_bank_by_hand_tick(filter_bank_by_hand_t *c, const filter_bank_by_hand_in_t *in, filter_bank_by_hand_out_t *out)
{
    const float u = c->sensor_scale * in->sensor;
    if (!c->running) {
        for (int i = 0; i < SECTIONS; i++) {
            c->sections[i].slow = u;
        }
        c->running = true;
    }
    float sum = filtered(&c->sections[0], u);
    for (int i = 1; i < SECTIONS; i++) {
        sum += filtered(&c->sections[i], u);
    }
    const float wanted = c->out_scale * (sum / 12.0f);
    c->failed = c->failed || !isfinite(wanted);
    out->out = c->failed ? c->neutral : limited(wanted, c->low, c->high);
}
