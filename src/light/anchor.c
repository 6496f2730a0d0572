/* anchor.c - Holds a place to what is around it, where it moves a little unlike the rest of the
 * picture.
 *
 * A board is not flat and a hand turns it: away from the middle, what the whole picture's motion
 * says can be off by a few pixels. The surroundings of each place are compared with what they were,
 * at the last shift and its neighbours, as long as that gets better.
 */
#include "light/anchor.h"

#include <math.h>

enum {
    GRID = 14,       /* points each way before those on the lamp are left out */
    STEPS_MAX = 4,   /* px in one frame */
    SHIFT_LIMIT = 24 /* px in all */
};
#define CAP           24.0F /* codes: larger differences count as this much */
#define TEXTURE_LEAST 3.0   /* codes: plainer surroundings hold nothing */
#define BETTER        0.97  /* a shift must bring the mismatch below that share */

static float luma_at(const struct lamp_held *held, int x, int y)
{
    const struct lamp_plane *plane = &held->frame.y;
    x = x < 0 ? 0 : (x >= plane->width_px ? plane->width_px - 1 : x);
    y = y < 0 ? 0 : (y >= plane->height_px ? plane->height_px - 1 : y);
    const unsigned char *row = (const unsigned char *)plane->at + plane->stride_bytes * y;
    if (held->frame.bits == 8) {
        return (float)row[x];
    }
    return (float)((const uint16_t *)(const void *)row)[x] / (float)(1 << (held->frame.bits - 8));
}

void lamp_anchor_set(struct lamp_anchor *anchor, const struct lamp_held *held,
                     const struct lamp_spot *spot)
{
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    double reach = 2.2 * spot->radius_px + 8;
    *anchor = (struct lamp_anchor){0};
    float sum = 0;
    for (int k = 0; k < GRID * GRID && anchor->count < LAMP_ANCHOR_MAX; k++) {
        double dx = (k % GRID - (GRID - 1) / 2.0) * 2 * reach / GRID;
        double dy = (k / GRID - (GRID - 1) / 2.0) * 2 * reach / GRID;
        if (hypot(dx, dy) > 1.3 * spot->radius_px + 1) {
            struct lamp_offset at = {(short)lround(dx), (short)lround(dy)};
            float code = luma_at(held, (int)floor(centre.x) + at.x, (int)floor(centre.y) + at.y);
            anchor->at[anchor->count] = at;
            anchor->code[anchor->count++] = code;
            sum += code;
        }
    }
    for (int k = 0; k < anchor->count; k++) {
        anchor->texture +=
            (double)fabsf(anchor->code[k] - sum / (float)anchor->count) / anchor->count;
    }
}

/* Mean capped difference at a shift, the mean level left out. */
static double mismatch(const struct lamp_anchor *a, const struct lamp_held *held, int cx, int cy)
{
    float diff[LAMP_ANCHOR_MAX];
    float mean = 0;
    for (int k = 0; k < a->count; k++) {
        diff[k] = luma_at(held, cx + a->at[k].x, cy + a->at[k].y) - a->code[k];
        mean += diff[k] / (float)a->count;
    }
    float sum = 0;
    for (int k = 0; k < a->count; k++) {
        sum += fminf(fabsf(diff[k] - mean), CAP);
    }
    return (double)(sum / (float)a->count);
}

void lamp_anchor_follow(struct lamp_anchor *a, const struct lamp_held *held,
                        const struct lamp_spot *spot)
{
    if (a->count == 0 || a->texture < TEXTURE_LEAST) {
        return;
    }
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    int cx = (int)floor(centre.x);
    int cy = (int)floor(centre.y);
    double best = mismatch(a, held, cx + a->shift_x, cy + a->shift_y);
    for (int step = 0; step < STEPS_MAX; step++) {
        int at_x = a->shift_x;
        int at_y = a->shift_y;
        double least = best * BETTER;
        for (int k = 0; k < 9; k++) {
            int x = a->shift_x + k % 3 - 1;
            int y = a->shift_y + k / 3 - 1;
            double m = mismatch(a, held, cx + x, cy + y);
            if (m < least && x * x + y * y < SHIFT_LIMIT * SHIFT_LIMIT) {
                least = m;
                at_x = x;
                at_y = y;
            }
        }
        if (at_x == a->shift_x && at_y == a->shift_y) {
            break;
        }
        a->shift_x = at_x;
        a->shift_y = at_y;
        best = least;
    }
}
