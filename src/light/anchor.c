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
#define POOR          0.7   /* of the texture: a mismatch above it is no match */
#define FOLLOW        0.7   /* share of the way to what was seen that a shift goes in one frame */

/* Luma of the nearest pixel that is in the picture. */
static float luma_at(const struct lamp_held *held, int x, int y)
{
    const struct lamp_plane *plane = &held->frame.y;
    x = x < 0 ? 0 : (x >= plane->width_px ? plane->width_px - 1 : x);
    y = y < 0 ? 0 : (y >= plane->height_px ? plane->height_px - 1 : y);
    return lamp_frame_luma(&held->frame, x, y);
}

void lamp_anchor_set(struct lamp_anchor *anchor, const struct lamp_held *held,
                     const struct lamp_spot *spot)
{
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    double reach = 2.2 * spot->radius_px + 8;
    *anchor =
        (struct lamp_anchor){.fraction = {centre.x - floor(centre.x), centre.y - floor(centre.y)}};
    float sum = 0;
    for (int k = 0; k < GRID * GRID && anchor->count < LAMP_ANCHOR_MAX; k++) {
        int dx = (int)lround((k % GRID - (GRID - 1) / 2.0) * 2 * reach / GRID);
        int dy = (int)lround((k / GRID - (GRID - 1) / 2.0) * 2 * reach / GRID);
        if (hypot(dx, dy) > 1.3 * spot->radius_px + 1) {
            float code = luma_at(held, (int)floor(centre.x) + dx, (int)floor(centre.y) + dy);
            anchor->at[anchor->count] = (struct lamp_offset){(float)dx, (float)dy};
            anchor->code[anchor->count++] = code;
            sum += code;
        }
    }
    for (int k = 0; k < anchor->count; k++) {
        float mean = sum / (float)anchor->count;
        anchor->texture += (double)fabsf(anchor->code[k] - mean) / anchor->count;
    }
}

/* Mean capped difference with the surroundings about a pixel, the mean level left out. */
static double mismatch(const struct lamp_anchor *a, const struct lamp_held *held, int cx, int cy)
{
    float diff[LAMP_ANCHOR_MAX];
    float mean = 0;
    for (int k = 0; k < a->count; k++) {
        diff[k] = luma_at(held, cx + (int)a->at[k].x, cy + (int)a->at[k].y) - a->code[k];
        mean += diff[k] / (float)a->count;
    }
    float sum = 0;
    for (int k = 0; k < a->count; k++) {
        sum += fminf(fabsf(diff[k] - mean), CAP);
    }
    return (double)(sum / (float)a->count);
}

/* Where between three neighbours, one px apart, a mismatch that falls and rises in straight lines
 * is least. */
static double least_between(double before, double here, double after)
{
    double slope = fmax(before, after) - here;
    return slope > 1e-6 ? fmin(fmax((before - after) / (2 * slope), -0.5), 0.5) : 0;
}

/* Walk downhill from a pixel; the walk is short. @return the mismatch where it ends. */
static double descend(const struct lamp_anchor *a, const struct lamp_held *held, int *x, int *y)
{
    double best = mismatch(a, held, *x, *y);
    for (int step = 0; step < STEPS_MAX; step++) {
        int at_x = *x;
        int at_y = *y;
        for (int k = 0; k < 9; k++) {
            int to_x = *x + k % 3 - 1;
            int to_y = *y + k / 3 - 1;
            double m = mismatch(a, held, to_x, to_y);
            if (m < best) {
                best = m;
                at_x = to_x;
                at_y = to_y;
            }
        }
        if (at_x == *x && at_y == *y) {
            break;
        }
        *x = at_x;
        *y = at_y;
    }
    return best;
}

void lamp_anchor_follow(struct lamp_anchor *a, const struct lamp_held *held,
                        const struct lamp_spot *spot)
{
    if (a->count == 0 || a->texture < TEXTURE_LEAST) {
        return;
    }
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    int x = (int)lround(centre.x + a->shift.x - a->fraction.x);
    int y = (int)lround(centre.y + a->shift.y - a->fraction.y);
    double best = descend(a, held, &x, &y);
    double fx = least_between(mismatch(a, held, x - 1, y), best, mismatch(a, held, x + 1, y));
    double fy = least_between(mismatch(a, held, x, y - 1), best, mismatch(a, held, x, y + 1));
    struct lamp_point seen = {x + fx + a->fraction.x - centre.x, y + fy + a->fraction.y - centre.y};
    if (best < POOR * a->texture && hypot(seen.x, seen.y) < SHIFT_LIMIT) {
        a->shift.x += FOLLOW * (seen.x - a->shift.x);
        a->shift.y += FOLLOW * (seen.y - a->shift.y);
    }
}
