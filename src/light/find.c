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

/* A run of blocks in one row of the first frame's grid, on this frame's: block `at` + n of it, and
 * u + du * n, v + dv * n from there to its neighbours at the right and below, 0..1. */
struct run {
    ptrdiff_t at;
    int count;
    float u, du, v, dv;
};

/* Blocks until a share that begins at `from` leaves 0..1. */
static float blocks_within(float from, float step)
{
    float way = step > 0 ? 1 - from : from;
    return fabsf(step) * 1e6F > way ? way / fabsf(step) : 1e6F;
}

/* The run from (x, y) on, at most `most` blocks long; 0 long where the point is out of sight. At
 * the border a block stands for what is beyond it, and runs are one block long. */
static struct run find_run(const struct lamp_finder *f, float x, float y, float du, float dv,
                           int most)
{
    struct run run = {.du = du, .dv = dv};
    if (!(x > -0.5F && y > -0.5F && x < (float)f->width - 0.5F && y < (float)f->height - 0.5F)) {
        return run;
    }
    int xi = (int)fminf(fmaxf(x, 0), (float)(f->width - 2));
    int yi = (int)fminf(fmaxf(y, 0), (float)(f->height - 2));
    run.at = (ptrdiff_t)yi * f->width + xi;
    run.u = x - (float)xi;
    run.v = y - (float)yi;
    run.count = 1;
    if (run.u >= 0 && run.u <= 1 && run.v >= 0 && run.v <= 1) {
        float within = fminf(blocks_within(run.u, du), blocks_within(run.v, dv));
        most = most < f->width - 1 - xi ? most : f->width - 1 - xi;
        run.count = within < 1 ? 1 : (within < (float)most ? (int)within : most);
    }
    return run;
}

/* Y, Cb, Cr of a run to R', G', B', the gain taken out of Y. */
static void hold_run(const struct lamp_coarse *c, const struct run *run, float over_gain,
                     float *restrict red, float *restrict green, float *restrict blue)
{
    const float *cy = c->y + run->at;
    const float *cu = c->u + run->at;
    const float *cv = c->v + run->at;
    for (int n = 0; n < run->count; n++) {
        float along = run->u + run->du * (float)n;
        float down = run->v + run->dv * (float)n;
        float y = bilinear(cy + n, c->width, along, down) * over_gain;
        float u = bilinear(cu + n, c->width, along, down) - 128;
        float v = bilinear(cv + n, c->width, along, down) - 128;
        /* BT.601 shares are near enough for finding. */
        red[n] = y + 1.4F * v;
        green[n] = y - 0.34F * u - 0.71F * v;
        blue[n] = y + 1.77F * u;
    }
}

static void hold_still(struct lamp_finder *f, const struct lamp_coarse *c,
                       const struct lamp_motion *m, float gain)
{
    float **out = f->kept[f->newest];
    float **last = f->kept[(f->newest + KEPT - 1) % KEPT];
    float a = (float)m->a;
    float b = (float)m->b;
    float tx = (float)(m->tx / f->block_px + 0.5 * (m->a - m->b) - 0.5);
    float ty = (float)(m->ty / f->block_px + 0.5 * (m->b + m->a) - 0.5);
    for (int j = 0; j < f->height; j++) {
        size_t k = (size_t)j * (size_t)f->width;
        for (int i = 0; i < f->width;) {
            struct run run = find_run(f, a * (float)i - b * (float)j + tx,
                                      b * (float)i + a * (float)j + ty, a - 1, b, f->width - i);
            for (int p = 0; p < 3 && run.count == 0; p++) {
                out[p][k] = f->filled > 0 ? last[p][k] : 0; /* out of sight: as it was */
            }
            hold_run(c, &run, 1 / gain, out[0] + k, out[1] + k, out[2] + k);
            int taken = run.count > 0 ? run.count : 1;
            i += taken;
            k += (size_t)taken;
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

static float larger(float a, float b)
{
    return a > b ? a : b;
}

static float smaller(float a, float b)
{
    return a < b ? a : b;
}

_Static_assert(KEPT == 4, "widen() takes four pictures");

/* The range of four pictures, where it is larger than what `out` has. */
static void widen(const float *const from[KEPT], float *restrict out, size_t count)
{
    const float *a = from[0];
    const float *b = from[1];
    const float *c = from[2];
    const float *d = from[3];
    for (size_t k = 0; k < count; k++) {
        float high = larger(larger(a[k], b[k]), larger(c[k], d[k]));
        float low = smaller(smaller(a[k], b[k]), smaller(c[k], d[k]));
        out[k] = larger(high - low, out[k]);
    }
}

static void take_range(struct lamp_finder *f)
{
    memset(f->range, 0, f->count * sizeof *f->range);
    for (int p = 0; p < 3; p++) {
        const float *from[KEPT];
        for (int back = 0; back < KEPT; back++) {
            int used = back < f->filled ? back : 0;
            from[back] = f->kept[(f->newest + KEPT - used) % KEPT][p];
        }
        widen(from, f->range, f->count);
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
