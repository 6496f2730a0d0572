/* measure.c - The light of a spot and of its surroundings on one frame. */
#include "light/measure.h"

#include <math.h>
#include <string.h>

enum {
    RING_LEAST = 12 /* points of a ring that must be in the picture */
};
#define GATE_SWING 0.1F /* linear light the core must gain to say anything */
#define GATE_DARK \
    0.35F /* share of its lit light a dark core may have: a pale lens follows the room */
#define GATE_SLACK 1.15F /* so that the core's noise does not cut the rim of a lit lamp */

/* Mean over pixels with a quarter at each end left out, so that a neighbouring lamp in the ring
 * does not count. */
static void middle_mean(float values[LAMP_RING_MAX], int n, float *out)
{
    for (int i = 1; i < n; i++) {
        float v = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > v; at--) {
            values[at] = values[at - 1];
        }
        values[at] = v;
    }
    float sum = 0;
    int from = n / 4;
    int to = n - n / 4;
    for (int i = from; i < to; i++) {
        sum += values[i];
    }
    *out = sum / (float)(to - from);
}

/* Middle light of the points of a ring that are in the picture; `evens`: as it were in the room's
 * usual light. @return how many are. */
static int measure_ring(const struct lamp_linear *linear, const struct lamp_held *held,
                        struct lamp_point centre, const struct lamp_offset *at, bool evens,
                        float ring[3])
{
    const struct lamp_frame *frame = &held->frame;
    float values[3][LAMP_RING_MAX];
    int n = 0;
    for (int i = 0; i < LAMP_RING_MAX; i++) {
        double y = centre.y + (double)at[i].y;
        float rgb[3];
        if (lamp_linear_point(linear, frame, centre.x + (double)at[i].x, y, rgb)) {
            float room = evens ? lamp_held_room(held, (float)floor(y)) : 1;
            for (int c = 0; c < 3; c++) {
                values[c][n] = rgb[c] / room;
            }
            n++;
        }
    }
    for (int c = 0; c < 3 && n >= RING_LEAST; c++) {
        middle_mean(values[c], n, &ring[c]);
    }
    return n;
}

/* Mean light of some pixels. @return false if one is not in the picture, or there are none. */
static bool measure_mean(const struct lamp_linear *linear, const struct lamp_frame *frame,
                         struct lamp_point centre, const struct lamp_offset *at, int count,
                         float out[3])
{
    float sum[3] = {0};
    for (int i = 0; i < count; i++) {
        float rgb[3];
        if (!lamp_linear_point(linear, frame, centre.x + (double)at[i].x,
                               centre.y + (double)at[i].y, rgb)) {
            return false;
        }
        for (int c = 0; c < 3; c++) {
            sum[c] += rgb[c];
        }
    }
    for (int c = 0; c < 3 && count > 0; c++) {
        out[c] = sum[c] / (float)count;
    }
    return count > 0;
}

/* Light of the masks, each in its own colour. @return false if one is not in the picture. */
static bool measure_core(const struct lamp_linear *linear, const struct lamp_frame *frame,
                         struct lamp_point centre, const struct lamp_spot *spot, float core[3])
{
    if (spot->has_one_mask) {
        return measure_mean(linear, frame, centre, spot->mask[0].at, spot->mask[0].count, core);
    }
    for (int c = 0; c < 3; c++) {
        float rgb[3];
        if (!measure_mean(linear, frame, centre, spot->mask[c].at, spot->mask[c].count, rgb)) {
            return false;
        }
        core[c] = rgb[c];
    }
    return true;
}

static struct lamp_point centre_on(const struct lamp_held *held, const struct lamp_spot *spot,
                                   struct lamp_offset shift)
{
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    return (struct lamp_point){centre.x + (double)shift.x, centre.y + (double)shift.y};
}

/* The rim's light is in proportion to the lamp's, but a neighbour's halo falls on it too. The core
 * is brighter by far when its own lamp is lit, so the rim is believed only from what it has dark up
 * to the share of its lit light that the core has. Being driven white, the core's share is never
 * below the lamp's. */
static void apply_gate(const struct lamp_spot *spot, const float gate[3], struct lamp_light *light)
{
    for (int c = 0; c < 3; c++) {
        float swing = spot->gate.lit[c] - spot->gate.dark[c];
        if (swing < GATE_SWING || spot->gate.dark[c] > GATE_DARK * spot->gate.lit[c]) {
            continue;
        }
        float share = fmaxf((gate[c] - spot->gate.dark[c]) / swing, 0);
        float dark = spot->gate.dark_rim[c];
        float most = light->ring[c] + dark + GATE_SLACK * share * (spot->gate.rim[c] - dark);
        light->core[c] = fminf(light->core[c], most);
    }
}

void lamp_spot_set_gate(const struct lamp_linear *linear, const struct lamp_held *lit,
                        const struct lamp_held *dark, struct lamp_spot *spot)
{
    const struct lamp_offset here = {0, 0};
    struct lamp_light now;
    struct lamp_light was;
    int count = spot->gate.count;
    if (lamp_spot_measure(linear, lit, spot, here, &now) &&
        lamp_spot_measure(linear, dark, spot, here, &was) &&
        measure_mean(linear, &lit->frame, centre_on(lit, spot, here), spot->gate.at, count,
                     spot->gate.lit) &&
        measure_mean(linear, &dark->frame, centre_on(dark, spot, here), spot->gate.at, count,
                     spot->gate.dark)) {
        for (int c = 0; c < 3; c++) {
            float rim = fmaxf(now.core[c] - now.ring[c], 0);
            spot->gate.rim[c] = rim;
            spot->gate.dark_rim[c] = fminf(fmaxf(was.core[c] - was.ring[c], 0), rim);
        }
        spot->gate.is_set = true;
    }
}

/* The row, px from the centre, that some pixels' light comes from in the mean. */
static void mean_rows(const struct lamp_linear *linear, const struct lamp_held *held,
                      struct lamp_point centre, const struct lamp_offset *at, int count,
                      float out[3])
{
    float sum[3] = {0};
    float moment[3] = {0};
    for (int i = 0; i < count; i++) {
        float rgb[3];
        double y = centre.y + (double)at[i].y;
        if (!lamp_linear_point(linear, &held->frame, centre.x + (double)at[i].x, y, rgb)) {
            continue;
        }
        float room = lamp_held_room(held, (float)floor(y));
        for (int c = 0; c < 3; c++) {
            sum[c] += rgb[c] / room;
            moment[c] += at[i].y * rgb[c] / room;
        }
    }
    for (int c = 0; c < 3; c++) {
        out[c] = sum[c] > 0 ? moment[c] / sum[c] : 0;
    }
}

void lamp_spot_set_rows(const struct lamp_linear *linear, const struct lamp_held *dark,
                        struct lamp_spot *spot)
{
    const struct lamp_offset here = {0, 0};
    struct lamp_point centre = centre_on(dark, spot, here);
    for (int c = 0; c < 3; c++) {
        float rows[3];
        mean_rows(linear, dark, centre, spot->mask[c].at, spot->mask[c].count, rows);
        spot->reflecting_y[c] = rows[c];
    }
    mean_rows(linear, dark, centre, spot->ring, LAMP_RING_MAX, spot->reflecting_y + 3);
}

bool lamp_spot_measure(const struct lamp_linear *linear, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_offset shift,
                       struct lamp_light *out)
{
    const struct lamp_frame *frame = &held->frame;
    struct lamp_point centre = centre_on(held, spot, shift);
    struct lamp_light light;
    for (int k = 0; k < LAMP_REFLECTING; k++) {
        double y = floor(centre.y) + (double)spot->reflecting_y[k];
        light.room[k] = lamp_held_room(held, (float)y);
    }
    if (!measure_core(linear, frame, centre, spot, light.core)) {
        return false;
    }
    if (measure_ring(linear, held, centre, spot->ring, false, light.ring) < RING_LEAST) {
        return false;
    }
    if (measure_ring(linear, held, centre, spot->far, true, light.far) < RING_LEAST) {
        memcpy(light.far, light.ring, sizeof light.far);
    }
    float gate[3];
    if (spot->gate.is_set &&
        measure_mean(linear, frame, centre, spot->gate.at, spot->gate.count, gate)) {
        apply_gate(spot, gate, &light);
    }
    *out = light;
    return true;
}
