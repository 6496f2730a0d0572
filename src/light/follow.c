/* follow.c - How the picture moved since the first frame, and how the camera's gain changed.
 *
 *   key frame, coarse            this frame, coarse
 *   .--------------.             .--------------.
 *   |  +   +    +  |   motion    | +   +    +   |    + strong gradients: this frame, moved back,
 *   |    +    +    |  ------->   |   +    +     |      must look like the key frame there, but for
 *   '--------------'             '--------------'      one gain and one offset
 *
 * The motion is found by least squares on the differences at some hundred points (Gauss-Newton), those that do not
 * fit (lamps, hands) weighing little. Where it begins from a jump too large for that, a search over whole steps of a
 * picture of a quarter of the size comes first. Baker and Matthews, "Lucas-Kanade 20 Years On", IJCV 56(3), 2004.
 */
#include "light/follow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    POINTS_MAX = 1200,  /* followed points of one key frame */
    POINTS_LEAST = 30,  /* fewer say nothing of motion */
    ROUNDS_MAX = 8,     /* of least squares */
    SMALL_STEP = 4,     /* blocks of the coarse picture to one of the small one */
    SEARCH_STEPS = 4,   /* of the small picture, each way */
    LEFT_OUT_MAX = 64
};
#define GRADIENT_LEAST 2.0F /* codes a block: weaker gradients are noise */
#define SATURATED      240.0F
#define FIT_LOST       0.35 /* correlation below which nothing fits */
#define FIT_POOR       0.80 /* below it a new key frame is taken */
#define CUT_CHANGE     8.0  /* codes by which a new scene differs at least from the frame before, on the mean */

struct point {
    float x, y;   /* block coordinates in the key frame */
    float value;  /* luma */
    float gx, gy; /* its gradient, codes a block */
};

struct circle {
    struct lamp_point centre; /* px of the first frame */
    double radius_px;
};

struct follower_small {
    int width, height;
    float *now, *key;
};

struct lamp_follower {
    int width, height, block_px;
    float *last;                 /* luma of the frame before */
    struct follower_small small;
    struct point point[POINTS_MAX];
    int point_count;
    struct circle left_out[LEFT_OUT_MAX];
    int left_out_count;
    struct lamp_motion to_key;   /* first frame to key frame, px */
    double key_gain;             /* key frame over first frame */
    struct lamp_motion block_motion; /* key frame to the frame before, blocks */
    double usual_change;         /* mean difference between frames, codes */
    bool has_key, has_last;
};

/* ---- key frame ------------------------------------------------------------------------------------------------ */

static bool is_left_out(const struct lamp_follower *f, float x, float y)
{
    struct lamp_motion back = lamp_motion_invert(&f->to_key);
    struct lamp_point px = {(x + 0.5) * f->block_px, (y + 0.5) * f->block_px};
    px = lamp_motion_apply(&back, px);
    for (int i = 0; i < f->left_out_count; i++) {
        if (hypot(px.x - f->left_out[i].centre.x, px.y - f->left_out[i].centre.y) < f->left_out[i].radius_px) {
            return true;
        }
    }
    return false;
}

static bool take_point(const struct lamp_follower *f, const float *y, int i, int j, struct point *out)
{
    const float *at = y + (size_t)j * (size_t)f->width + i;
    float gx = (at[1] - at[-1]) / 2;
    float gy = (at[f->width] - at[-f->width]) / 2;
    if (gx * gx + gy * gy < GRADIENT_LEAST * GRADIENT_LEAST || at[0] > SATURATED ||
        is_left_out(f, (float)i, (float)j)) {
        return false;
    }
    *out = (struct point){(float)i, (float)j, at[0], gx, gy};
    return true;
}

/* Points are spread: the strongest gradient of each cell of a grid. */
static void choose_points(struct lamp_follower *f, const float *y)
{
    int cell = 1;
    while ((f->width / cell) * (f->height / cell) > POINTS_MAX) {
        cell++;
    }
    f->point_count = 0;
    for (int j0 = 1; j0 + cell < f->height; j0 += cell) {
        for (int i0 = 1; i0 + cell < f->width; i0 += cell) {
            struct point best = {0};
            for (int k = 0; k < cell * cell; k++) {
                struct point p;
                if (take_point(f, y, i0 + k % cell, j0 + k / cell, &p) &&
                    p.gx * p.gx + p.gy * p.gy > best.gx * best.gx + best.gy * best.gy) {
                    best = p;
                }
            }
            if ((best.gx != 0 || best.gy != 0) && f->point_count < POINTS_MAX) {
                f->point[f->point_count++] = best;
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
                sum += y[(size_t)(j * SMALL_STEP + k / SMALL_STEP) * (size_t)f->width +
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

/* ---- coarse search -------------------------------------------------------------------------------------------- */

struct sums {
    double n, a, b, aa, bb, ab;
};

static double correlation(const struct sums *s)
{
    double va = s->aa - s->a * s->a / s->n;
    double vb = s->bb - s->b * s->b / s->n;
    double cov = s->ab - s->a * s->b / s->n;
    return va > 0 && vb > 0 ? cov / sqrt(va * vb) : 0;
}

static double correlation_at(const struct follower_small *s, int dx, int dy)
{
    struct sums sums = {0};
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
    return sums.n < 16 ? 0 : correlation(&sums);
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

/* ---- least squares -------------------------------------------------------------------------------------------- */

static bool sample(const struct lamp_follower *f, const float *y, struct lamp_point p, float *out)
{
    if (!(p.x >= 0 && p.y >= 0 && p.x < f->width - 1 && p.y < f->height - 1)) {
        return false;
    }
    int i = (int)p.x;
    int j = (int)p.y;
    float u = (float)p.x - (float)i;
    float v = (float)p.y - (float)j;
    const float *at = y + (size_t)j * (size_t)f->width + i;
    float top = at[0] + u * (at[1] - at[0]);
    float low = at[f->width] + u * (at[f->width + 1] - at[f->width]);
    *out = top + v * (low - top);
    return true;
}

struct fit {
    struct lamp_motion motion; /* blocks, key frame to now */
    double gain, offset;
    double scatter;            /* mean absolute difference, codes */
    double correlation;
    int inside;                /* points inside the picture */
};

/* Gain and offset by weighted regression; differences of points with weights from the last round's scatter. */
static void regress(const struct lamp_follower *f, const float *y, struct fit *fit, float *now, float *weight)
{
    struct sums s = {0};
    fit->inside = 0;
    for (int i = 0; i < f->point_count; i++) {
        const struct point *p = &f->point[i];
        weight[i] = 0;
        if (!sample(f, y, lamp_motion_apply(&fit->motion, (struct lamp_point){p->x, p->y}), &now[i]) ||
            now[i] > SATURATED) {
            continue;
        }
        double e = ((double)now[i] - fit->gain * (double)p->value - fit->offset) / (2 * fit->scatter + 0.5);
        double w = 1 / (1 + e * e);
        weight[i] = (float)w;
        fit->inside++;
        s.n += w;
        s.a += w * (double)p->value;
        s.b += w * (double)now[i];
        s.aa += w * (double)(p->value * p->value);
        s.bb += w * (double)(now[i] * now[i]);
        s.ab += w * (double)(p->value * now[i]);
    }
    double variance = s.aa - s.a * s.a / s.n;
    if (fit->inside < POINTS_LEAST || !(variance > 0)) {
        fit->correlation = 0;
        return;
    }
    fit->gain = fmin(fmax((s.ab - s.a * s.b / s.n) / variance, 0.05), 20);
    fit->offset = (s.b - fit->gain * s.a) / s.n;
    fit->correlation = correlation(&s);
}

/* Solve the 4x4 system by Gauss elimination; the matrix is positive definite. */
static bool solve(double m[4][5], double out[4])
{
    for (int k = 0; k < 4; k++) {
        if (!(m[k][k] > 1e-9)) {
            return false;
        }
        for (int r = k + 1; r < 4; r++) {
            double ratio = m[r][k] / m[k][k];
            for (int c = k; c < 5; c++) {
                m[r][c] -= ratio * m[k][c];
            }
        }
    }
    for (int k = 3; k >= 0; k--) {
        out[k] = m[k][4];
        for (int c = k + 1; c < 4; c++) {
            out[k] -= m[k][c] * out[c];
        }
        out[k] /= m[k][k];
    }
    return true;
}

/* One step of the motion. Turn and zoom are about the middle and are held back where few points support them. */
static double step(const struct lamp_follower *f, struct fit *fit, const float *now, const float *weight)
{
    double m[4][5] = {{0}};
    double cx = f->width / 2.0;
    double cy = f->height / 2.0;
    double scatter = 0;
    double total = 0;
    for (int i = 0; i < f->point_count; i++) {
        const struct point *p = &f->point[i];
        if (!(weight[i] > 0)) {
            continue;
        }
        double e = (double)now[i] - fit->gain * (double)p->value - fit->offset;
        double gx = fit->gain * (double)p->gx;
        double gy = fit->gain * (double)p->gy;
        double dx = (double)p->x - cx;
        double dy = (double)p->y - cy;
        double j[4] = {gx, gy, gx * dx + gy * dy, gy * dx - gx * dy};
        for (int r = 0; r < 4; r++) {
            for (int c = 0; c < 4; c++) {
                m[r][c] += (double)weight[i] * j[r] * j[c];
            }
            m[r][4] -= (double)weight[i] * j[r] * e;
        }
        scatter += (double)weight[i] * fabs(e);
        total += (double)weight[i];
    }
    fit->scatter = scatter / fmax(total, 1e-9);
    double stiff = total * (fit->scatter * fit->scatter + 0.5);
    m[0][0] += 0.02 * stiff;
    m[1][1] += 0.02 * stiff;
    m[2][2] += 2 * stiff;
    m[3][3] += 2 * stiff;
    double d[4];
    if (!solve(m, d)) {
        return 0;
    }
    /* The step is in the key frame's coordinates about its middle: now = motion o step. */
    struct lamp_motion by = {1 + d[2], d[3], 0, 0};
    by.tx = cx + d[0] - (by.a * cx - by.b * cy);
    by.ty = cy + d[1] - (by.b * cx + by.a * cy);
    fit->motion = lamp_motion_chain(&fit->motion, &by);
    return fabs(d[0]) + fabs(d[1]) + (fabs(d[2]) + fabs(d[3])) * cx;
}

static struct fit fit_from(const struct lamp_follower *f, const float *y, struct lamp_motion start)
{
    float now[POINTS_MAX];
    float weight[POINTS_MAX];
    struct fit fit = {.motion = start, .gain = 1, .scatter = 20};
    regress(f, y, &fit, now, weight);
    for (int round = 0; round < ROUNDS_MAX && fit.correlation > 0; round++) {
        double moved = step(f, &fit, now, weight);
        regress(f, y, &fit, now, weight);
        if (moved < 0.004) {
            break;
        }
    }
    return fit;
}

/* ---- one frame ------------------------------------------------------------------------------------------------ */

static double mean_change(const struct lamp_follower *f, const float *y)
{
    size_t count = (size_t)f->width * (size_t)f->height;
    float sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += fabsf(y[i] - f->last[i]);
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

static struct fit best_fit(struct lamp_follower *f, const float *y)
{
    struct fit fit = fit_from(f, y, f->block_motion);
    if (fit.correlation > 0.9 && fit.inside * 2 > f->point_count) {
        return fit;
    }
    shrink(f, y, f->small.now);
    struct fit other = fit_from(f, y, search(f));
    return other.correlation > fit.correlation ? other : fit;
}

/* Follow with the key frame; where that fails, with the frame before as key; where that fails, it is a cut. */
static void follow(struct lamp_follower *f, const float *y, struct lamp_following *out)
{
    if (f->point_count < POINTS_LEAST) {
        out->motion = f->to_key;
        out->gain = f->key_gain;
        take_key(f, y); /* nothing to follow yet: the picture may grow brighter */
        return;
    }
    struct fit fit = best_fit(f, y);
    bool is_lost = fit.correlation < FIT_LOST || fit.inside < POINTS_LEAST;
    if (is_lost) {
        struct lamp_motion px = in_px(f, f->block_motion);
        f->to_key = lamp_motion_chain(&px, &f->to_key);
        take_key(f, f->last);
        fit = best_fit(f, y);
        is_lost = fit.correlation < FIT_LOST || fit.inside < POINTS_LEAST;
    }
    if (is_lost) {
        out->is_cut = f->point_count >= POINTS_LEAST && out->change > CUT_CHANGE + 3 * f->usual_change;
        out->motion = f->to_key; /* not a new scene: a dark or covered picture, taken to stand still */
        out->gain = f->key_gain;
        if (out->is_cut) {
            begin_scene(f, y);
            out->motion = f->to_key;
        }
        return;
    }
    f->block_motion = fit.motion;
    struct lamp_motion px = in_px(f, fit.motion);
    out->motion = lamp_motion_chain(&px, &f->to_key);
    out->gain = f->key_gain * fit.gain;
    if (fit.correlation < FIT_POOR || fit.inside * 10 < f->point_count * 7) {
        f->to_key = out->motion;
        f->key_gain = out->gain;
        take_key(f, y);
    }
}

void lamp_follower_push(struct lamp_follower *f, const struct lamp_coarse *coarse, struct lamp_following *out)
{
    *out = (struct lamp_following){.motion = lamp_motion_none(), .gain = 1};
    if (!f->has_key) {
        begin_scene(f, coarse->y);
    } else {
        out->change = mean_change(f, coarse->y);
        out->is_repeat = out->change < 1e-6 && f->usual_change > 0.3;
        follow(f, coarse->y, out);
        f->usual_change += 0.1 * (out->change - f->usual_change);
    }
    memcpy(f->last, coarse->y, lamp_coarse_count(coarse) * sizeof *f->last);
}

void lamp_follower_leave_out(struct lamp_follower *f, struct lamp_point centre, double radius_px)
{
    if (f->left_out_count < LEFT_OUT_MAX) {
        f->left_out[f->left_out_count++] = (struct circle){centre, radius_px};
    }
    int kept = 0;
    for (int i = 0; i < f->point_count; i++) {
        if (!is_left_out(f, f->point[i].x, f->point[i].y)) {
            f->point[kept++] = f->point[i];
        }
    }
    f->point_count = kept;
}

enum lamp_err lamp_follower_new(const struct lamp_coarse *coarse, struct lamp_follower **out)
{
    struct lamp_follower *f = calloc(1, sizeof *f);
    if (f == NULL) {
        return LAMP_NO_MEMORY;
    }
    f->width = coarse->width;
    f->height = coarse->height;
    f->block_px = coarse->block_px;
    f->small.width = coarse->width / SMALL_STEP;
    f->small.height = coarse->height / SMALL_STEP;
    size_t small = (size_t)f->small.width * (size_t)f->small.height;
    f->last = calloc(lamp_coarse_count(coarse) + 2 * small, sizeof *f->last);
    if (f->last == NULL) {
        free(f);
        return LAMP_NO_MEMORY;
    }
    f->small.now = f->last + lamp_coarse_count(coarse);
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
