/* follow.c - How the picture moved since the first frame, and how the camera's gain changed.
 *
 *   key frame, coarse            this frame, coarse
 *   .--------------.             .--------------.
 *   |  +   +    +  |   motion    | +   +    +   |    + strong gradients: this frame, moved back,
 *   |    +    +    |  ------->   |   +    +     |      must look like the key frame there, but for
 *   '--------------'             '--------------'      one gain and one offset
 *
 * The motion is found by least squares on the differences at some hundred points (Gauss-Newton),
 * those that do not fit (lamps, hands) weighing little. Where it begins from a jump too large for
 * that, a search over whole steps of a picture of a quarter of the size comes first. Baker and
 * Matthews, "Lucas-Kanade 20 Years On", IJCV 56(3), 2004.
 */
#include "light/follow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/fit.h"

enum {
    ALIKE_LEAST = 2,  /* frames like the one before that make them a scene */
    POOR_MOST = 2,    /* frames that fit poorly at once until they are followed nevertheless */
    DOUBT_MOST = 8,   /* frames that may be damaged one after the other */
    SMALL_STEP = 4,   /* blocks of the coarse picture to one of the small one */
    SEARCH_STEPS = 4, /* of the small picture, each way */
    LEFT_OUT_MAX = 64
};
#define GRADIENT_LEAST 2.0F /* codes a block: weaker gradients are noise */
#define FIT_LOST       0.35 /* correlation below which nothing fits */
#define FIT_POOR       0.80 /* below it a new key frame is taken */
#define CUT_CHANGE     8.0  /* codes by which a new scene differs at least from the frame before */
#define SCENE_SHARE    0.5  /* of that change, by which frames of the new scene differ at most */
#define LIGHT_ALIKE    0.8  /* correlation of two changes that the same lamp makes */
#define ONE_WAY_SHARE  0.8  /* of a change that is light come or gone, which adds, in its balance */

struct circle {
    struct lamp_point centre; /* px of the first frame */
    double radius_px;
};

struct follower_small {
    int width, height;
    float *now, *key;
};

struct lamp_follower {
    int block_px;
    float *last;     /* luma of the frame before */
    float *doubted;  /* luma of a frame that may be damaged */
    float *odd;      /* by how much the last such frame differs from the frame before it */
    int doubt_count; /* how many came just before */
    int alike_count; /* how many of them were like the one before */
    bool has_odd;
    struct follower_small small;
    struct lamp_key key;
    struct circle left_out[LEFT_OUT_MAX];
    int left_out_count;
    struct lamp_motion to_key;       /* first frame to key frame, px */
    double key_gain;                 /* key frame over first frame */
    struct lamp_motion block_motion; /* key frame to the frame before, blocks */
    double usual_change;             /* mean difference between frames, codes */
    bool has_key;
};

/* -- key frame -- */

static bool is_left_out(const struct lamp_follower *f, float x, float y)
{
    struct lamp_motion back = lamp_motion_invert(&f->to_key);
    struct lamp_point px = {(x + 0.5) * f->block_px, (y + 0.5) * f->block_px};
    px = lamp_motion_apply(&back, px);
    for (int i = 0; i < f->left_out_count; i++) {
        if (hypot(px.x - f->left_out[i].centre.x, px.y - f->left_out[i].centre.y) <
            f->left_out[i].radius_px) {
            return true;
        }
    }
    return false;
}

static bool take_point(const struct lamp_follower *f, const float *y, int i, int j,
                       struct lamp_key_point *out)
{
    const float *at = y + (size_t)j * (size_t)f->key.width + i;
    float gx = (at[1] - at[-1]) / 2;
    float gy = (at[f->key.width] - at[-f->key.width]) / 2;
    if (gx * gx + gy * gy < GRADIENT_LEAST * GRADIENT_LEAST || at[0] > LAMP_FIT_SATURATED ||
        is_left_out(f, (float)i, (float)j)) {
        return false;
    }
    *out = (struct lamp_key_point){(float)i, (float)j, at[0], gx, gy};
    return true;
}

/* Points are spread: the strongest gradient of each cell of a grid. */
static void choose_points(struct lamp_follower *f, const float *y)
{
    int cell = 1;
    while ((f->key.width / cell) * (f->key.height / cell) > LAMP_KEY_POINTS_MAX) {
        cell++;
    }
    f->key.count = 0;
    for (int j0 = 1; j0 + cell < f->key.height; j0 += cell) {
        for (int i0 = 1; i0 + cell < f->key.width; i0 += cell) {
            struct lamp_key_point best = {0};
            for (int k = 0; k < cell * cell; k++) {
                struct lamp_key_point p;
                if (take_point(f, y, i0 + k % cell, j0 + k / cell, &p) &&
                    p.gx * p.gx + p.gy * p.gy > best.gx * best.gx + best.gy * best.gy) {
                    best = p;
                }
            }
            if ((best.gx != 0 || best.gy != 0) && f->key.count < LAMP_KEY_POINTS_MAX) {
                f->key.point[f->key.count++] = best;
            }
        }
    }
}

static void shrink(const struct lamp_follower *f, const float *y, float *out)
{
    for (int j = 0; j < f->small.height; j++) {
        for (int i = 0; i < f->small.width; i++) {
            float sum = 0;
            for (int k = 0; k < SMALL_STEP * SMALL_STEP; k++) {
                sum += y[(size_t)(j * SMALL_STEP + k / SMALL_STEP) * (size_t)f->key.width +
                         (size_t)(i * SMALL_STEP + k % SMALL_STEP)];
            }
            out[j * f->small.width + i] = sum / (SMALL_STEP * SMALL_STEP);
        }
    }
}

static void take_key(struct lamp_follower *f, const float *y)
{
    choose_points(f, y);
    shrink(f, y, f->small.key);
    f->block_motion = lamp_motion_none();
    f->has_key = true;
}

/* -- coarse search -- */

static double correlation_at(const struct follower_small *s, int dx, int dy)
{
    struct lamp_sums sums = {0};
    for (int j = dy < 0 ? -dy : 0; j < s->height - (dy > 0 ? dy : 0); j++) {
        const float *a = s->key + (ptrdiff_t)j * s->width;
        const float *b = s->now + (ptrdiff_t)(j + dy) * s->width + dx;
        for (int i = dx < 0 ? -dx : 0; i < s->width - (dx > 0 ? dx : 0); i++) {
            sums.a += (double)a[i];
            sums.b += (double)b[i];
            sums.aa += (double)(a[i] * a[i]);
            sums.bb += (double)(b[i] * b[i]);
            sums.ab += (double)(a[i] * b[i]);
            sums.n += 1;
        }
    }
    return sums.n < 16 ? 0 : lamp_sums_correlation(&sums);
}

/* The whole-step shift of the small picture that fits best, around where the frame before was. */
static struct lamp_motion search(const struct lamp_follower *f)
{
    int at_x = (int)lround(f->block_motion.tx / SMALL_STEP);
    int at_y = (int)lround(f->block_motion.ty / SMALL_STEP);
    double best = -1;
    struct lamp_motion found = f->block_motion;
    for (int dy = at_y - SEARCH_STEPS; dy <= at_y + SEARCH_STEPS; dy++) {
        for (int dx = at_x - SEARCH_STEPS; dx <= at_x + SEARCH_STEPS; dx++) {
            if (abs(dx) * 2 > f->small.width || abs(dy) * 2 > f->small.height) {
                continue;
            }
            double fit = correlation_at(&f->small, dx, dy);
            if (fit > best) {
                best = fit;
                found.tx = dx * SMALL_STEP;
                found.ty = dy * SMALL_STEP;
            }
        }
    }
    return found;
}

/* -- one frame -- */

static double mean_change(const struct lamp_follower *f, const float *y, const float *before)
{
    size_t count = (size_t)f->key.width * (size_t)f->key.height;
    float sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += fabsf(y[i] - before[i]);
    }
    return (double)sum / (double)count;
}

static struct lamp_motion in_px(const struct lamp_follower *f, struct lamp_motion m)
{
    /* Block i is centred on pixel (i + 1/2) * block. */
    double s = f->block_px;
    double h = s / 2;
    struct lamp_motion px = {m.a, m.b, m.tx * s, m.ty * s};
    px.tx += h - (m.a * h - m.b * h);
    px.ty += h - (m.b * h + m.a * h);
    return px;
}

static void begin_scene(struct lamp_follower *f, const float *y)
{
    f->to_key = lamp_motion_none();
    f->key_gain = 1;
    f->left_out_count = 0;
    take_key(f, y);
}

static struct lamp_fit best_fit(struct lamp_follower *f, const float *y)
{
    struct lamp_fit fit = lamp_fit_from(&f->key, y, f->block_motion);
    if (fit.correlation > 0.9 && fit.inside * 2 > f->key.count) {
        return fit;
    }
    shrink(f, y, f->small.now);
    struct lamp_fit other = lamp_fit_from(&f->key, y, search(f));
    return other.correlation > fit.correlation ? other : fit;
}

/* Light of a lamp that fills the picture comes and goes where it came before, though a frame may
 * have only part of it, and only brightens or only darkens. Damage does not come twice alike. */
static bool is_light_again(const struct lamp_follower *f, const float *y, double change)
{
    size_t count = (size_t)f->key.width * (size_t)f->key.height;
    struct lamp_sums sums = {.n = (double)count};
    for (size_t i = 0; f->has_odd && i < count; i++) {
        double now = (double)(y[i] - f->last[i]);
        double before = (double)f->odd[i];
        sums.a += now;
        sums.b += before;
        sums.aa += now * now;
        sums.bb += before * before;
        sums.ab += now * before;
    }
    double sign = sums.a * sums.b > 0 ? 1 : -1;
    return fabs(sums.a) > ONE_WAY_SHARE * change * sums.n &&
           sign * lamp_sums_correlation(&sums) > LIGHT_ALIKE;
}

/* A scene lasts: the frames after the first one of it are much like that. A picture that was
 * damaged on its way is like none, or by chance like one other. */
static bool is_new_scene(struct lamp_follower *f, const float *y, double change)
{
    bool is_alike = f->doubt_count > 0 && mean_change(f, y, f->doubted) < SCENE_SHARE * change;
    f->alike_count = is_alike ? f->alike_count + 1 : 0;
    return f->alike_count == ALIKE_LEAST || f->doubt_count == DOUBT_MOST;
}

/* Follow with the key frame; where that fails, with the frame before as key; where that fails, it
 * is a cut. */
static void follow(struct lamp_follower *f, const float *y, struct lamp_following *out)
{
    if (f->key.count < LAMP_KEY_POINTS_LEAST) {
        out->motion = f->to_key;
        out->gain = f->key_gain;
        take_key(f, y); /* nothing to follow yet: the picture may grow brighter */
        return;
    }
    struct lamp_fit fit = best_fit(f, y);
    bool is_lost = fit.correlation < FIT_LOST || fit.inside < LAMP_KEY_POINTS_LEAST;
    if (is_lost) {
        struct lamp_motion px = in_px(f, f->block_motion);
        f->to_key = lamp_motion_chain(&px, &f->to_key);
        take_key(f, f->last);
        fit = best_fit(f, y);
        is_lost = fit.correlation < FIT_LOST || fit.inside < LAMP_KEY_POINTS_LEAST;
    }
    bool is_sudden = out->change > CUT_CHANGE + 3 * f->usual_change &&
                     (f->doubt_count > 0 || !is_light_again(f, y, out->change));
    if (is_lost) {
        bool is_new = f->key.count >= LAMP_KEY_POINTS_LEAST && is_sudden;
        out->is_cut = is_new && is_new_scene(f, y, out->change);
        out->is_in_doubt = is_new && !out->is_cut;
        out->motion =
            f->to_key; /* not a new scene: a dark or covered picture, taken to stand still */
        out->gain = f->key_gain;
        if (out->is_cut) {
            begin_scene(f, y);
            out->motion = f->to_key;
        }
        return;
    }
    if (is_sudden && fit.correlation < FIT_POOR && f->doubt_count < POOR_MOST) {
        out->is_in_doubt = true; /* part of it may be damaged: it is no key to follow others with */
        return;
    }
    f->block_motion = fit.motion;
    struct lamp_motion px = in_px(f, fit.motion);
    out->motion = lamp_motion_chain(&px, &f->to_key);
    out->gain = f->key_gain * fit.gain;
    if (fit.correlation < FIT_POOR || fit.inside * 10 < f->key.count * 7) {
        f->to_key = out->motion;
        f->key_gain = out->gain;
        take_key(f, y);
    }
}

void lamp_follower_push(struct lamp_follower *f, const struct lamp_coarse *coarse,
                        struct lamp_following *out)
{
    *out = (struct lamp_following){.motion = lamp_motion_none(), .gain = 1};
    if (!f->has_key) {
        begin_scene(f, coarse->y);
    } else {
        out->change = mean_change(f, coarse->y, f->last);
        out->is_repeat = out->change < 1e-6 && f->usual_change > 0.3;
        follow(f, coarse->y, out);
        f->usual_change += 0.1 * (out->change - f->usual_change);
    }
    const size_t bytes = lamp_coarse_count(coarse) * sizeof *f->last;
    if (out->is_in_doubt) {
        f->doubt_count++;
        f->has_odd = true;
        for (size_t i = 0; i < lamp_coarse_count(coarse); i++) {
            f->odd[i] = coarse->y[i] - f->last[i];
        }
        memcpy(f->doubted, coarse->y, bytes);
        return;
    }
    f->doubt_count = 0;
    f->alike_count = 0;
    memcpy(f->last, coarse->y, bytes);
}

void lamp_follower_leave_out(struct lamp_follower *f, struct lamp_point centre, double radius_px)
{
    if (f->left_out_count < LEFT_OUT_MAX) {
        f->left_out[f->left_out_count++] = (struct circle){centre, radius_px};
    }
    int kept = 0;
    for (int i = 0; i < f->key.count; i++) {
        if (!is_left_out(f, f->key.point[i].x, f->key.point[i].y)) {
            f->key.point[kept++] = f->key.point[i];
        }
    }
    f->key.count = kept;
}

enum lamp_err lamp_follower_new(const struct lamp_coarse *coarse, struct lamp_follower **out)
{
    struct lamp_follower *f = calloc(1, sizeof *f);
    if (f == NULL) {
        return LAMP_NO_MEMORY;
    }
    f->key.width = coarse->width;
    f->key.height = coarse->height;
    f->block_px = coarse->block_px;
    f->small.width = coarse->width / SMALL_STEP;
    f->small.height = coarse->height / SMALL_STEP;
    size_t small = (size_t)f->small.width * (size_t)f->small.height;
    f->last = calloc(3 * lamp_coarse_count(coarse) + 2 * small, sizeof *f->last);
    if (f->last == NULL) {
        free(f);
        return LAMP_NO_MEMORY;
    }
    f->doubted = f->last + lamp_coarse_count(coarse);
    f->odd = f->doubted + lamp_coarse_count(coarse);
    f->small.now = f->odd + lamp_coarse_count(coarse);
    f->small.key = f->small.now + small;
    *out = f;
    return LAMP_OK;
}

void lamp_follower_free(struct lamp_follower *f)
{
    if (f != NULL) {
        free(f->last);
        free(f);
    }
}
