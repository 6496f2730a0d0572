/* measure.c - The light of a spot and of its surroundings on one frame. */
#include "light/measure.h"

#include <math.h>
#include <string.h>

enum {
    RING_LEAST = 12 /* points of a ring that must be in the picture */
};

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

/* Middle light of the points of a ring that are in the picture. @return how many are. */
static int measure_ring(const struct lamp_linear *linear, const struct lamp_frame *frame,
                        struct lamp_point centre, const struct lamp_offset *at, float ring[3])
{
    float values[3][LAMP_RING_MAX];
    int n = 0;
    for (int i = 0; i < LAMP_RING_MAX; i++) {
        int x = (int)centre.x + at[i].x;
        int y = (int)centre.y + at[i].y;
        if (x >= 0 && y >= 0 && x < frame->y.width_px && y < frame->y.height_px) {
            float rgb[3];
            (void)lamp_linear_pixel(linear, frame, x, y, rgb);
            for (int c = 0; c < 3; c++) {
                values[c][n] = rgb[c];
            }
            n++;
        }
    }
    for (int c = 0; c < 3 && n >= RING_LEAST; c++) {
        middle_mean(values[c], n, &ring[c]);
    }
    return n;
}

/* Mean of one colour over its pixels. */
static bool measure_colour(const struct lamp_linear *linear, const struct lamp_frame *frame,
                           struct lamp_point centre, const struct lamp_spot *spot, int c,
                           float *out)
{
    float sum = 0;
    int count = spot->mask[c].count;
    for (int i = 0; i < count; i++) {
        int x = (int)centre.x + spot->mask[c].at[i].x;
        int y = (int)centre.y + spot->mask[c].at[i].y;
        if (x < 0 || y < 0 || x >= frame->y.width_px || y >= frame->y.height_px) {
            return false;
        }
        float rgb[3];
        (void)lamp_linear_pixel(linear, frame, x, y, rgb);
        sum += rgb[c];
    }
    *out = sum / (float)(count > 0 ? count : 1);
    return count > 0;
}

bool lamp_spot_measure(const struct lamp_linear *linear, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_offset shift,
                       struct lamp_light *out)
{
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    centre.x = floor(centre.x) + shift.x;
    centre.y = floor(centre.y) + shift.y;
    struct lamp_light light;
    for (int c = 0; c < 3; c++) {
        if (!measure_colour(linear, &held->frame, centre, spot, c, &light.core[c])) {
            return false;
        }
    }
    if (measure_ring(linear, &held->frame, centre, spot->ring, light.ring) < RING_LEAST) {
        return false;
    }
    if (measure_ring(linear, &held->frame, centre, spot->far, light.far) < RING_LEAST) {
        memcpy(light.far, light.ring, sizeof light.far);
    }
    *out = light;
    return true;
}
