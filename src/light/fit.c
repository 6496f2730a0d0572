/* fit.c - The motion that brings points of a key frame onto another frame, by least squares.
 *
 * Gauss-Newton on the differences at the points, those that do not fit (lamps, hands) weighing
 * little. Baker and Matthews, "Lucas-Kanade 20 Years On: A Unifying Framework", IJCV 56(3), 2004.
 */
#include "light/fit.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

enum {
    ROUNDS_MAX = 8 /* of least squares */
};

double lamp_sums_correlation(const struct lamp_sums *s)
{
    double va = s->aa - s->a * s->a / s->n;
    double vb = s->bb - s->b * s->b / s->n;
    double cov = s->ab - s->a * s->b / s->n;
    return va > 0 && vb > 0 ? cov / sqrt(va * vb) : 0;
}

/* Luma at a point between blocks; false outside. */
static bool sample(const struct lamp_key *key, const float *y, struct lamp_point p, float *out)
{
    if (!(p.x >= 0 && p.y >= 0 && p.x < key->width - 1 && p.y < key->height - 1)) {
        return false;
    }
    int i = (int)p.x;
    int j = (int)p.y;
    float u = (float)p.x - (float)i;
    float v = (float)p.y - (float)j;
    const float *at = y + (size_t)j * (size_t)key->width + i;
    float top = at[0] + u * (at[1] - at[0]);
    float low = at[key->width] + u * (at[key->width + 1] - at[key->width]);
    *out = top + v * (low - top);
    return true;
}

/* Gain and offset by weighted regression; differences of points with weights from the last round's
 * scatter. */
static void regress(const struct lamp_key *key, const float *y, struct lamp_fit *fit, float *now,
                    float *weight)
{
    struct lamp_sums s = {0};
    fit->inside = 0;
    for (int i = 0; i < key->count; i++) {
        const struct lamp_key_point *p = &key->point[i];
        weight[i] = 0;
        if (!sample(key, y, lamp_motion_apply(&fit->motion, (struct lamp_point){p->x, p->y}),
                    &now[i]) ||
            now[i] > LAMP_FIT_SATURATED) {
            continue;
        }
        double e = ((double)now[i] - fit->gain * (double)p->value - fit->offset) /
                   (2 * fit->scatter + 0.5);
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
    if (fit->inside < LAMP_KEY_POINTS_LEAST || !(variance > 0)) {
        fit->correlation = 0;
        return;
    }
    fit->gain = fmin(fmax((s.ab - s.a * s.b / s.n) / variance, 0.05), 20);
    fit->offset = (s.b - fit->gain * s.a) / s.n;
    fit->correlation = lamp_sums_correlation(&s);
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

/* One step of the motion. Turn and zoom are about the middle and are held back where few points
 * support them. */
static double step(const struct lamp_key *key, struct lamp_fit *fit, const float *now,
                   const float *weight)
{
    double m[4][5] = {{0}};
    double cx = key->width / 2.0;
    double cy = key->height / 2.0;
    double scatter = 0;
    double total = 0;
    for (int i = 0; i < key->count; i++) {
        const struct lamp_key_point *p = &key->point[i];
        if (!(weight[i] > 0)) {
            continue;
        }
        /* NOLINTNEXTLINE(clang-analyzer-core.*): nothing measured, no correlation */
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

struct lamp_fit lamp_fit_from(const struct lamp_key *key, const float *y, struct lamp_motion start)
{
    float now[LAMP_KEY_POINTS_MAX];
    float weight[LAMP_KEY_POINTS_MAX];
    struct lamp_fit fit = {.motion = start, .gain = 1, .scatter = 20};
    regress(key, y, &fit, now, weight);
    for (int round = 0; round < ROUNDS_MAX && fit.correlation > 0; round++) {
        double moved = step(key, &fit, now, weight);
        regress(key, y, &fit, now, weight);
        if (moved < 0.004) {
            break;
        }
    }
    return fit;
}
