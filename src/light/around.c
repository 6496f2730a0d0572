/* around.c - Whether a place is in sight, or something is before it: a hand, a tool, a cable.
 *
 * A board has texture: tracks, parts, lettering. The room's light, a shadow or the camera's gain
 * make it brighter or dimmer, another lamp lays a slope over it, and the lamp itself a halo; so the
 * surroundings are compared by correlation, without their slope, with what they were when the lamp
 * was lit and when it was dark. On a plain or dark board nothing can be told.
 */
#include "light/around.h"

#include <math.h>
#include <string.h>

enum { GRID = 12 /* points each way before those on the lamp are left out */ };
#define TEXTURE_LEAST  4.0F  /* codes, mean over the plane: less is noise */
#define ALIKE          0.6F  /* correlation of lit and dark surroundings that are the same, */
#define WELL_ALIKE     0.85F /* ... of those that show well, */
#define UNLIKE         0.35F /* ... and of those that are not the same */
#define BRIGHTER       0.15F /* share of their mean that surroundings change by if hidden, */
#define BRIGHTER_CODES 8.0F  /* ... and codes */
#define ASIDE_PX       2.0   /* how far beside a place its surroundings are looked for */
#define FOLLOW         0.02F /* share of the way that slow changes are followed in a frame */

/* Codes of the surroundings on one frame. */
struct glimpse {
    float code[LAMP_AROUND_MAX]; /* over the plane that fits them best */
    float mean;
    float texture;
};

/* The points mirror each other, so that each direction's slope can be taken out alone. */
static void lay_points(struct lamp_around *around, const struct lamp_spot *spot)
{
    const double reach = 2.2 * spot->radius_px + 8;
    around->count = 0;
    for (int k = 0; k < LAMP_AROUND_MAX; k++) {
        const double dx = round((k % GRID - (GRID - 1) / 2.0) * 2 * reach / GRID);
        const double dy = round((k / GRID - (GRID - 1) / 2.0) * 2 * reach / GRID);
        if (hypot(dx, dy) > 1.3 * spot->radius_px + 1) {
            around->at[around->count++] = (struct lamp_offset){(float)dx, (float)dy};
        }
    }
}

static int clamp(int at, int size)
{
    return at < 0 ? 0 : (at < size ? at : size - 1);
}

/* Mean luma of nine pixels, or those nearest to them in the picture. */
static float luma_about(const struct lamp_frame *frame, int x, int y)
{
    float sum = 0;
    for (int k = 0; k < 9; k++) {
        sum += lamp_frame_luma(frame, clamp(x + k % 3 - 1, frame->y.width_px),
                               clamp(y + k / 3 - 1, frame->y.height_px));
    }
    return sum / 9;
}

static void take_plane_out(const struct lamp_around *around, struct glimpse *glimpse)
{
    float xx = 0;
    float yy = 0;
    float x_code = 0;
    float y_code = 0;
    for (int k = 0; k < around->count; k++) {
        const struct lamp_offset *at = &around->at[k];
        xx += at->x * at->x;
        yy += at->y * at->y;
        x_code += at->x * glimpse->code[k];
        y_code += at->y * glimpse->code[k];
    }
    for (int k = 0; k < around->count; k++) {
        const struct lamp_offset *at = &around->at[k];
        glimpse->code[k] -= glimpse->mean + at->x * x_code / xx + at->y * y_code / yy;
        glimpse->texture += fabsf(glimpse->code[k]) / (float)around->count;
    }
}

static void glimpse_at(const struct lamp_around *around, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_point shift, struct glimpse *out)
{
    const struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    const int x = (int)lround(centre.x + shift.x - around->fraction.x);
    const int y = (int)lround(centre.y + shift.y - around->fraction.y);
    *out = (struct glimpse){.mean = 0};
    for (int k = 0; k < around->count; k++) {
        out->code[k] = luma_about(&held->frame, x + (int)around->at[k].x, y + (int)around->at[k].y);
        out->mean += out->code[k] / (float)around->count;
    }
    take_plane_out(around, out);
}

/* Of values whose means are 0. */
static float correlation(const float *a, const float *b, int count)
{
    float aa = 0;
    float bb = 0;
    float ab = 0;
    for (int k = 0; k < count; k++) {
        aa += a[k] * a[k];
        bb += b[k] * b[k];
        ab += a[k] * b[k];
    }
    return aa > 0 && bb > 0 ? ab / sqrtf(aa * bb) : 0;
}

static float least_change(float mean)
{
    return fmaxf(BRIGHTER * mean, BRIGHTER_CODES);
}

bool lamp_around_take(struct lamp_around *around, const struct lamp_held *lit,
                      const struct lamp_held *dark, const struct lamp_spot *spot,
                      struct lamp_point shift)
{
    struct glimpse bright;
    struct glimpse dim;
    const struct lamp_point centre = lamp_motion_apply(&lit->motion, spot->centre);
    const double x = centre.x + shift.x;
    const double y = centre.y + shift.y;
    around->fraction = (struct lamp_point){x - floor(x), y - floor(y)};
    lay_points(around, spot);
    glimpse_at(around, lit, spot, shift, &bright);
    glimpse_at(around, dark, spot, shift, &dim);
    const float alike = correlation(bright.code, dim.code, around->count);
    /* A lamp that goes dark leaves its surroundings no brighter. */
    const bool is_covered = bright.texture >= TEXTURE_LEAST && alike < UNLIKE &&
                            dim.mean > bright.mean + least_change(bright.mean);
    around->is_known =
        is_covered || (fminf(bright.texture, dim.texture) >= TEXTURE_LEAST && alike >= ALIKE);
    memcpy(around->lit, bright.code, sizeof bright.code);
    memcpy(around->dark, is_covered ? bright.code : dim.code, sizeof dim.code);
    around->is_rough = !is_covered && alike < WELL_ALIKE;
    around->lit_mean = bright.mean;
    around->dark_mean = is_covered ? bright.mean : dim.mean;
    return !is_covered;
}

/* Whether the surroundings are as bright as with the lamp lit, dark or in between. */
static bool is_as_bright(const struct lamp_around *around, float mean)
{
    const float least = fminf(around->lit_mean, around->dark_mean);
    const float most = fmaxf(around->lit_mean, around->dark_mean);
    return mean > least - least_change(least) && mean < most + least_change(most);
}

static void follow(struct lamp_around *around, const struct glimpse *now, bool is_lit)
{
    float *code = is_lit ? around->lit : around->dark;
    float *mean = is_lit ? &around->lit_mean : &around->dark_mean;
    for (int k = 0; k < around->count; k++) {
        code[k] += FOLLOW * (now->code[k] - code[k]);
    }
    *mean += FOLLOW * (now->mean - *mean);
}

/* How a glimpse compares with what is known. */
struct likeness {
    float alike; /* correlation */
    bool as_lit; /* with the lamp lit, else dark */
};

static struct likeness compare(const struct lamp_around *around, const struct glimpse *now)
{
    const float lit = correlation(around->lit, now->code, around->count);
    const float dark = correlation(around->dark, now->code, around->count);
    return (struct likeness){fmaxf(lit, dark), lit > dark};
}

/* The place may be a little off where it is followed to. @return the best correlation beside it. */
static float look_beside(const struct lamp_around *around, const struct lamp_held *held,
                         const struct lamp_spot *spot, struct lamp_point shift)
{
    float most = -1;
    for (int k = 0; k < 9 && most < LAMP_AROUND_CLEAR; k++) {
        const struct lamp_point beside = {shift.x + ASIDE_PX * (k % 3 - 1),
                                          shift.y + ASIDE_PX * (k / 3 - 1)};
        struct glimpse glimpse;
        glimpse_at(around, held, spot, beside, &glimpse);
        most = fmaxf(most, compare(around, &glimpse).alike);
    }
    return most;
}

float lamp_around_look(struct lamp_around *around, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_point shift)
{
    if (!around->is_known) {
        return 1;
    }
    struct glimpse now;
    glimpse_at(around, held, spot, shift, &now);
    const struct likeness here = compare(around, &now);
    if (here.alike >= LAMP_AROUND_CLEAR) {
        follow(around, &now, here.as_lit);
        return here.alike;
    }
    if (around->is_rough && is_as_bright(around, now.mean)) {
        return 1;
    }
    return look_beside(around, held, spot, shift);
}
