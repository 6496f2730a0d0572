/* find.c - Where in the picture something goes on or off, on the coarse picture held still.
 *
 * Every frame is moved back onto the first one's grid and its gain taken out, so that a block of
 * the board stays in its place. A lamp that goes on or off then is a block whose range over the
 * last few frames stands out from what is usual for that block (texture under a shaking hand,
 * ripple) and from its neighbours (a hand, a shadow, a screen).
 */
#include "light/find.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    KEPT = LAMP_FRAMES_KEPT, /* frames whose range is taken: an edge is over within two, whatever it
                                began in */
    WARM_UP = 8,             /* frames before small changes count */
    RING_NEAR = 6,           /* blocks from a spot to the ring of its neighbours */
    RING_FAR = 18            /* the same for a lamp that is large in the picture */
};
#define LEAST_STEP  5.0F  /* codes: a block must change by that much at least */
#define EARLY_STEP  12.0F /* the same while nothing is known of what is usual */
#define USUAL_SHARE 2.5F  /* a change must exceed that many times what is usual */
#define CALM_SHARE  0.4F  /* of the change now: smaller ones before count as calm */

struct lamp_finder {
    int width, height, block_px;
    size_t count;
    float *kept[KEPT][3]; /* R', G', B' codes on the first frame's grid, newest at [newest] */
    float *range;  /* largest range of the three over the kept frames, less what all blocks had */
    float *usual;  /* running mean of range */
    float *before; /* largest range up to some frames ago, for was_calm */
    float *seen;   /* largest range so far */
    float *store;
    int newest, filled;
    unsigned frames;
};

/* -- holding still -- */

static float bilinear(const float *at, int width, float u, float v)
{
    float top = at[0] + u * (at[1] - at[0]);
    float low = at[width] + u * (at[width + 1] - at[width]);
    return top + v * (low - top);
}

/* A block of the first frame's grid on this one's: where it is, and between which blocks. */
struct seat {
    size_t at;
    float u, v;
};

/* False where the point is out of sight. */
static bool find_seat(const struct lamp_finder *f, float x, float y, struct seat *out)
{
    if (!(x > -0.5F && y > -0.5F && x < (float)f->width - 0.5F && y < (float)f->height - 0.5F)) {
        return false;
    }
    float cx = fminf(fmaxf(x, 0), (float)(f->width - 2));
    float cy = fminf(fmaxf(y, 0), (float)(f->height - 2));
    int xi = (int)cx;
    int yi = (int)cy;
    *out = (struct seat){(size_t)yi * (size_t)f->width + (size_t)xi, x - (float)xi, y - (float)yi};
    return true;
}

static void hold_still(struct lamp_finder *f, const struct lamp_coarse *c,
                       const struct lamp_motion *m, float gain)
{
    float **out = f->kept[f->newest];
    const float **last = (const float **)f->kept[(f->newest + KEPT - 1) % KEPT];
    float a = (float)m->a;
    float b = (float)m->b;
    float tx = (float)(m->tx / f->block_px + 0.5 * (m->a - m->b) - 0.5);
    float ty = (float)(m->ty / f->block_px + 0.5 * (m->b + m->a) - 0.5);
    float over_gain = 1 / gain;
    for (int j = 0; j < f->height; j++) {
        size_t k = (size_t)j * (size_t)f->width;
        for (int i = 0; i < f->width; i++, k++) {
            struct seat seat;
            if (!find_seat(f, a * (float)i - b * (float)j + tx, b * (float)i + a * (float)j + ty,
                           &seat)) {
                for (int p = 0; p < 3; p++) {
                    out[p][k] = f->filled > 0 ? last[p][k] : 0; /* out of sight: as it was */
                }
                continue;
            }
            float y = bilinear(c->y + seat.at, f->width, seat.u, seat.v) * over_gain;
            float u = bilinear(c->u + seat.at, f->width, seat.u, seat.v) - 128;
            float v = bilinear(c->v + seat.at, f->width, seat.u, seat.v) - 128;
            /* BT.601 shares are near enough for finding. */
            out[0][k] = y + 1.4F * v;
            out[1][k] = y - 0.34F * u - 0.71F * v;
            out[2][k] = y + 1.77F * u;
        }
    }
}

static void forget(struct lamp_finder *f)
{
    memset(f->usual, 0, 3 * f->count * sizeof *f->usual);
    f->filled = 0;
    f->frames = 0;
}

/* -- change -- */

static void widen(const float *restrict plane, float *restrict low, float *restrict high,
                  size_t count)
{
    for (size_t k = 0; k < count; k++) {
        low[k] = plane[k] < low[k] ? plane[k] : low[k];
        high[k] = plane[k] > high[k] ? plane[k] : high[k];
    }
}

static void keep_larger(float *restrict out, const float *restrict low, const float *restrict high,
                        size_t count)
{
    for (size_t k = 0; k < count; k++) {
        float range = high[k] - low[k];
        out[k] = range > out[k] ? range : out[k];
    }
}

/* A long picture is taken in strips that stay in the cache. */
static void take_range(struct lamp_finder *f)
{
    enum { STRIP = 1024 };
    float low[STRIP];
    float high[STRIP];
    for (size_t from = 0; from < f->count; from += STRIP) {
        size_t n = f->count - from < STRIP ? f->count - from : STRIP;
        memset(f->range + from, 0, n * sizeof *f->range);
        for (int p = 0; p < 3; p++) {
            memcpy(low, f->kept[f->newest][p] + from, n * sizeof *low);
            memcpy(high, low, n * sizeof *high);
            for (int back = 1; back < f->filled; back++) {
                widen(f->kept[(f->newest + KEPT - back) % KEPT][p] + from, low, high, n);
            }
            keep_larger(f->range + from, low, high, n);
        }
    }
}

static void learn_usual(struct lamp_finder *f)
{
    float rate = f->frames < 20 ? 1.0F / (float)(f->frames + 1) : 0.05F;
    for (size_t k = 0; k < f->count; k++) {
        float range = f->range[k];
        f->usual[k] += rate * (range - f->usual[k]);
        /* What was seen some frames ago; a range lasts for KEPT frames, so the change itself is not
         * yet in it. */
        f->before[k] += 0.2F * (f->seen[k] - f->before[k]);
        f->seen[k] = range > f->seen[k] ? range : f->seen[k];
    }
}

void lamp_finder_push(struct lamp_finder *f, const struct lamp_coarse *coarse,
                      const struct lamp_following *following)
{
    if (following->is_cut) {
        forget(f);
    } else if (f->frames > 0) {
        learn_usual(f);
    }
    f->newest = (f->newest + 1) % KEPT;
    hold_still(f, coarse, &following->motion, (float)following->gain);
    f->filled = f->filled < KEPT ? f->filled + 1 : KEPT;
    f->frames++;
    take_range(f);
}

/* -- spots -- */

static bool is_peak(const struct lamp_finder *f, const float *value, int i, int j)
{
    const float *at = value + (size_t)j * (size_t)f->width + i;
    for (int dj = -1; dj <= 1; dj++) {
        for (int di = -1; di <= 1; di++) {
            float other = at[dj * f->width + di];
            bool is_later = dj > 0 || (dj == 0 && di > 0);
            if ((di != 0 || dj != 0) && (is_later ? other > *at : other >= *at)) {
                return false;
            }
        }
    }
    return true;
}

/* The value that three quarters of a ring around a block do not exceed. */
static float ring_quartile(const struct lamp_finder *f, const float *value, int i, int j,
                           double radius)
{
    float ring[16];
    int n = 0;
    for (int k = 0; k < 16; k++) {
        double angle = k * 0.39269908;
        int x = i + (int)lround(radius * cos(angle));
        int y = j + (int)lround(radius * sin(angle));
        if (x < 0 || y < 0 || x >= f->width || y >= f->height) {
            continue;
        }
        float v = value[(size_t)y * (size_t)f->width + (size_t)x];
        int at = n++;
        for (; at > 0 && ring[at - 1] > v; at--) {
            ring[at] = ring[at - 1];
        }
        ring[at] = v;
    }
    return n == 0 ? 0 : ring[(n - 1) * 3 / 4];
}

/* The same of a near and a far ring: a lamp that fills the near one still stands out from the far
 * one. */
static float ring_value(const struct lamp_finder *f, const float *value, int i, int j)
{
    float near = ring_quartile(f, value, i, j, RING_NEAR);
    float far = ring_quartile(f, value, i, j, RING_FAR);
    return near < far ? near : far;
}

static void put_in(struct lamp_spotted *row, size_t *count, const struct lamp_spotted *spot)
{
    size_t at = *count < LAMP_SPOTTED_MAX ? (*count)++ : LAMP_SPOTTED_MAX;
    for (; at > 0 && row[at - 1].strength < spot->strength; at--) {
        if (at < LAMP_SPOTTED_MAX) {
            row[at] = row[at - 1];
        }
    }
    if (at < LAMP_SPOTTED_MAX) {
        row[at] = *spot;
    }
}

static struct lamp_point centre_px(const struct lamp_finder *f, int i, int j)
{
    return (struct lamp_point){(i + 0.5) * f->block_px, (j + 0.5) * f->block_px};
}

size_t lamp_finder_changed(struct lamp_finder *f, struct lamp_spotted out[LAMP_SPOTTED_MAX])
{
    size_t count = 0;
    float least = f->frames < WARM_UP ? EARLY_STEP : LEAST_STEP;
    for (int j = 1; j < f->height - 1; j++) {
        for (int i = 1; i < f->width - 1; i++) {
            size_t k = (size_t)j * (size_t)f->width + (size_t)i;
            float range = f->range[k];
            if (range < least + USUAL_SHARE * f->usual[k] || !is_peak(f, f->range, i, j)) {
                continue;
            }
            float around = ring_value(f, f->range, i, j);
            if (range < 1.6F * around + least) {
                continue;
            }
            struct lamp_spotted spot = {centre_px(f, i, j), (double)range,
                                        f->before[k] < CALM_SHARE * range};
            put_in(out, &count, &spot);
        }
    }
    return count;
}

void lamp_finder_still(const struct lamp_finder *f, struct lamp_still *out)
{
    *out = (struct lamp_still){.width = f->width, .height = f->height, .block_px = f->block_px};
    for (int p = 0; p < 3; p++) {
        out->plane[p] = f->kept[f->newest][p];
    }
}

enum lamp_err lamp_finder_new(const struct lamp_coarse *coarse, struct lamp_finder **out)
{
    struct lamp_finder *f = calloc(1, sizeof *f);
    if (f == NULL) {
        return LAMP_NO_MEMORY;
    }
    f->width = coarse->width;
    f->height = coarse->height;
    f->block_px = coarse->block_px;
    f->count = lamp_coarse_count(coarse);
    f->store = calloc((3 * KEPT + 4) * f->count, sizeof *f->store);
    if (f->store == NULL) {
        free(f);
        return LAMP_NO_MEMORY;
    }
    float *at = f->store;
    for (int k = 0; k < 3 * KEPT; k++, at += f->count) {
        f->kept[k / 3][k % 3] = at;
    }
    f->usual = at; /* usual, before and seen are cleared together by forget() */
    f->before = at + f->count;
    f->seen = at + 2 * f->count;
    f->range = at + 3 * f->count;
    *out = f;
    return LAMP_OK;
}

void lamp_finder_free(struct lamp_finder *f)
{
    if (f != NULL) {
        free(f->store);
        free(f);
    }
}
