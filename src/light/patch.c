/* patch.c - Two frames about one point, pixel by pixel: what was there before, and what shines now.
 */
#include "light/patch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    ALIGN_PX = 4,   /* px by which a spot may move unlike the rest of the picture */
    ALIGN_STEP = 4, /* samples between those compared for that */
    ALIGN_SIDE = LAMP_PATCH_SIDE / ALIGN_STEP,
    ALIGN_COUNT = ALIGN_SIDE * ALIGN_SIDE,
    SLACK = 2 /* samples by which the board may have moved beyond what was followed */
};
#define ALIGN_CAP   24.0F /* codes: larger differences count as this much */
#define ALIGN_SHARE 0.93F /* a shift must bring the mismatch below that share */

/* The n-th sample that is compared. */
static int align_sample(int n)
{
    return (n / ALIGN_SIDE * ALIGN_STEP + ALIGN_STEP / 2) * LAMP_PATCH_SIDE +
           n % ALIGN_SIDE * ALIGN_STEP + ALIGN_STEP / 2;
}

/* The pixel that a point of the first frame is on; false outside the picture. */
static bool find_pixel(const struct lamp_held *held, struct lamp_point p, int *x, int *y)
{
    struct lamp_point q = lamp_motion_apply(&held->motion, p);
    *x = (int)floor(q.x);
    *y = (int)floor(q.y);
    return *x >= 0 && *y >= 0 && *x < held->frame.y.width_px && *y < held->frame.y.height_px;
}

/* How many times as much light the lit frame had on a row, from the room, as the dark one there. */
static float room_between(const struct lamp_held *lit, const struct lamp_held *dark,
                          struct lamp_point at, struct lamp_point shifted)
{
    if (lit->light == NULL && dark->light == NULL) {
        return 1;
    }
    double y = lamp_motion_apply(&lit->motion, at).y;
    double dark_y = lamp_motion_apply(&dark->motion, shifted).y;
    return lamp_held_room(lit, (float)floor(y)) / lamp_held_room(dark, (float)floor(dark_y));
}

static bool pixel_at(const struct lamp_linear *linear, const struct lamp_held *held,
                     struct lamp_point p, float rgb[3], float *peak)
{
    int x;
    int y;
    if (!find_pixel(held, p, &x, &y)) {
        return false;
    }
    *peak = lamp_linear_pixel(linear, &held->frame, x, y, rgb);
    return true;
}

static float larger(float a, float b)
{
    return a > b ? a : b;
}

static int window_count(const struct lamp_patch *p)
{
    return 4 * p->reach * p->reach;
}

/* The n-th sample within reach of the middle. */
static int window_sample(const struct lamp_patch *p, int n)
{
    int from = LAMP_PATCH_SIDE / 2 - p->reach;
    return (from + n / (2 * p->reach)) * LAMP_PATCH_SIDE + from + n % (2 * p->reach);
}

static bool is_in_window(const struct lamp_patch *p, int at)
{
    return at >= LAMP_PATCH_SIDE / 2 - p->reach && at < LAMP_PATCH_SIDE / 2 + p->reach;
}

struct lamp_point lamp_patch_place(const struct lamp_patch *p, int k)
{
    return (struct lamp_point){p->centre.x + (k % LAMP_PATCH_SIDE - LAMP_PATCH_SIDE / 2) * p->step,
                               p->centre.y + (k / LAMP_PATCH_SIDE - LAMP_PATCH_SIDE / 2) * p->step};
}

static int compare_floats(const void *a, const void *b)
{
    float x = *(const float *)a;
    float y = *(const float *)b;
    return (x > y) - (x < y);
}

/* As it were if all rows had the room's light of the middle one. */
static void even_out(const struct lamp_held *lit, struct lamp_patch *p)
{
    if (lit->light == NULL) {
        return;
    }
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        float by = room_between(lit, lit, p->centre, lamp_patch_place(p, k));
        for (int c = 0; c < 3; c++) {
            p->lit[k][c] *= by;
        }
    }
}

/* Without a dark frame, the patch's border stands for what the lamp's place would look like. */
static void fill_dark_from_border(struct lamp_patch *p)
{
    float border[4 * LAMP_PATCH_SIDE];
    float middle[3];
    for (int c = 0; c < 3; c++) {
        size_t n = 0;
        for (int k = 0; k < LAMP_PATCH_SIDE; k++) {
            border[n++] = p->lit[k][c];
            border[n++] = p->lit[(LAMP_PATCH_SIDE - 1) * LAMP_PATCH_SIDE + k][c];
            border[n++] = p->lit[(ptrdiff_t)k * LAMP_PATCH_SIDE][c];
            border[n++] = p->lit[k * LAMP_PATCH_SIDE + LAMP_PATCH_SIDE - 1][c];
        }
        qsort(border, n, sizeof border[0], compare_floats);
        middle[c] = border[n / 2];
    }
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        memcpy(p->dark[k], middle, sizeof middle);
    }
}

/* Only what grows: a neighbour that goes out as this lamp lights is not part of it. The sum over
 * the colours sets the white core off against a wide coloured halo. */
static float rise_of(const float lit[3], const float dark[3])
{
    float sum = 0;
    for (int c = 0; c < 3; c++) {
        sum += larger(lit[c] - dark[c], 0);
    }
    return sum / 3;
}

/* Texture that moved by a pixel or two differs from frame to frame, but shows nothing that was not
 * near it before. So a pixel rises only by what exceeds the brightest it had within a little slack:
 * rows first, then columns. */
static void take_brightest(struct lamp_patch *p)
{
    float rows[LAMP_PATCH_COUNT][3];
    for (int pass = 0; pass < 2; pass++) {
        float(*from)[3] = pass == 0 ? p->dark : rows;
        float(*to)[3] = pass == 0 ? rows : p->bright;
        for (int n = 0; n < window_count(p); n++) {
            int k = window_sample(p, n);
            int at = pass == 0 ? k % LAMP_PATCH_SIDE : k / LAMP_PATCH_SIDE;
            int step = pass == 0 ? 1 : LAMP_PATCH_SIDE;
            memcpy(to[k], from[k], sizeof to[k]);
            for (int d = -SLACK; d <= SLACK; d++) {
                for (int c = 0; c < 3 && is_in_window(p, at + d); c++) {
                    to[k][c] = larger(to[k][c], from[k + d * step][c]);
                }
            }
        }
    }
}

static void smooth_rise(struct lamp_patch *p, const float *raw)
{
    for (int m = 0; m < window_count(p); m++) {
        int k = window_sample(p, m);
        float sum = 0;
        int n = 0;
        for (int d = 0; d < 9; d++) {
            int i = k % LAMP_PATCH_SIDE + d % 3 - 1;
            int j = k / LAMP_PATCH_SIDE + d / 3 - 1;
            if (is_in_window(p, i) && is_in_window(p, j) && raw[j * LAMP_PATCH_SIDE + i] >= 0) {
                sum += raw[j * LAMP_PATCH_SIDE + i];
                n++;
            }
        }
        p->rise[k] = raw[k] < 0 || n == 0 ? -1 : sum / (float)n;
    }
}

/* A pixel of a frame, which may be outside. */
struct pixel {
    int x, y;
};

static void align_pixels(const struct lamp_held *held, const struct lamp_patch *p,
                         struct pixel out[ALIGN_COUNT])
{
    for (int n = 0; n < ALIGN_COUNT; n++) {
        (void)find_pixel(held, lamp_patch_place(p, align_sample(n)), &out[n].x, &out[n].y);
    }
}

/* Luma of a pixel, 8-bit codes; negative outside the picture. */
static float luma_at(const struct lamp_frame *frame, int x, int y)
{
    bool is_seen = x >= 0 && y >= 0 && x < frame->y.width_px && y < frame->y.height_px;
    return is_seen ? lamp_frame_luma(frame, x, y) : -1;
}

/* Luma of the lit frame against the dark one at a shift, as far as it is below `most`; large
 * differences (the lamp itself) count no more than others. */
static float mismatch(const struct lamp_frame *dark, const struct pixel *at, const float *lit,
                      struct pixel shift, float most)
{
    float sum = 0;
    for (int n = 0; n < ALIGN_COUNT && sum < most; n++) {
        float luma = luma_at(dark, at[n].x + shift.x, at[n].y + shift.y);
        sum += luma < 0 ? ALIGN_CAP : fminf(fabsf(luma - lit[n]), ALIGN_CAP);
    }
    return sum;
}

/* The shift, px, that brings the dark frame onto the lit one about this spot: what lies nearer or
 * farther than most of the picture moves a little differently. */
static struct pixel align(const struct lamp_held *lit, const struct lamp_held *dark,
                          const struct lamp_patch *p)
{
    struct pixel at[ALIGN_COUNT];
    float luma[ALIGN_COUNT];
    align_pixels(lit, p, at);
    for (int n = 0; n < ALIGN_COUNT; n++) {
        luma[n] = luma_at(&lit->frame, at[n].x, at[n].y);
    }
    align_pixels(dark, p, at);
    struct pixel best = {0, 0};
    /* Moved only if clearly better. */
    float least = ALIGN_SHARE * mismatch(&dark->frame, at, luma, best, INFINITY);
    for (int dy = -ALIGN_PX; dy <= ALIGN_PX; dy++) {
        for (int dx = -ALIGN_PX; dx <= ALIGN_PX; dx++) {
            float m = mismatch(&dark->frame, at, luma, (struct pixel){dx, dy}, least);
            if (m < least) {
                least = m;
                best = (struct pixel){dx, dy};
            }
        }
    }
    return best;
}

void lamp_patch_take(const struct lamp_linear *linear, const struct lamp_held *lit,
                     const struct lamp_held *dark, struct lamp_patch *p)
{
    float raw[LAMP_PATCH_COUNT];
    float unused;
    struct pixel shift = dark == NULL ? (struct pixel){0, 0} : align(lit, dark, p);
    for (int n = 0; n < window_count(p); n++) {
        int k = window_sample(p, n);
        struct lamp_point at = lamp_patch_place(p, k);
        struct lamp_point shifted = {at.x + shift.x, at.y + shift.y};
        bool is_seen = pixel_at(linear, lit, at, p->lit[k], &p->peak[k]) &&
                       (dark == NULL || pixel_at(linear, dark, shifted, p->dark[k], &unused));
        raw[k] = is_seen ? 0 : -1;
        float brighter = is_seen && dark != NULL ? room_between(lit, dark, at, shifted) : 1;
        for (int c = 0; c < 3 && brighter > 1; c++) {
            p->dark[k][c] *= brighter;
        }
        if (!is_seen) {
            memset(p->lit[k], 0, sizeof p->lit[k]);
            memset(p->dark[k], 0, sizeof p->dark[k]);
            p->peak[k] = 0;
        }
    }
    if (dark == NULL) {
        even_out(lit, p);
        fill_dark_from_border(p);
    }
    take_brightest(p);
    for (int n = 0; n < window_count(p); n++) {
        int k = window_sample(p, n);
        raw[k] = raw[k] < 0 ? -1 : rise_of(p->lit[k], p->bright[k]);
    }
    smooth_rise(p, raw);
}
