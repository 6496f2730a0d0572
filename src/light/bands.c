/* bands.c - The bands that rippling room light draws across pictures taken row by row.
 *
 *     row   light
 *      |   )            Lamps on the mains ripple at 100 or 120 Hz. A camera that reads one row
 * after |      )         another shows the ripple as bands: all that the room lights, in a row, has
 *      |        )       one factor more or less light. From picture to picture the bands travel, at
 *      v      )         a rate that looks like a blinking lamp.
 *           )
 *
 * The factor is told from whole rows, against what they usually are: the departures of eight strips
 * side by side agree in it, whereas a lamp, a hand or a shadow is in few of them. Where a wave and
 * its double explain most of the departures, there are bands.
 */
#include "light/bands.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    BEGIN_FRAMES = 8,  /* pictures of a scene in which bands are believed at once */
    LIKELY_FRAMES = 4, /* in a row that must look banded later on */
    LEVEL_FRAMES = 60, /* after that many pictures with bands, their mean has none */
    STRIPS = LAMP_BAND_STRIPS,
    WAVES = LAMP_BAND_WAVES,
    BINS = LAMP_BAND_BINS,
    TERMS = 6, /* of the fit: constant, motion, wave and its double */
    ROUNDS = 3 /* of the fit, rows that do not fit weighing less */
};
#define TURN       6.283185307179586
#define WAVE_LEAST 0.6    /* cycles over the picture: slower ones may be anything */
#define WAVE_STEP  0.0625 /* cycles over the picture from one wave number to the next */
#define FADE       0.93   /* share of what was known that stays known for one more picture */
#define FOLLOW_SLOW                                                                             \
    0.002F                /* share of the way to the newest picture that what is usual goes ... \
                           */
#define FOLLOW      0.03F /* ... and the mean */
#define LEAST_RMS   0.01  /* of the log of light: weaker bands do no harm */
#define NO_RMS      0.003 /* the same: not looked into */
#define LEAST_CLEAR 0.75  /* share of the departures that bands must explain to be seen ... */
#define STILL_CLEAR 0.4   /* ... and to be seen further */

/* Light to the power `power` is in proportion to the code above `black`, near enough. */
struct tone {
    float black; /* on the 8-bit scale */
    float power;
};

static struct tone tone_of(const struct lamp_frame *frame)
{
    float toe = 0.055F; /* IEC 61966-2-1 */
    float power = 1 / 2.4F;
    switch (frame->transfer) {
    case LAMP_TRANSFER_LINEAR:
        toe = 0;
        power = 1;
        break;
    case LAMP_TRANSFER_BT709: /* ITU-R BT.709-6, 1.2 */
        toe = 0.099F;
        power = 0.45F;
        break;
    case LAMP_TRANSFER_HLG: /* ITU-R BT.2100-2, table 5: a root below the knee */
        toe = 0;
        power = 0.5F;
        break;
    case LAMP_TRANSFER_PQ: /* ITU-R BT.2100-2, table 4: about its middle */
        toe = 0;
        power = 0.2F;
        break;
    default: break;
    }
    float black = frame->is_full_range ? -toe * 255 : 16 - toe * 219;
    return (struct tone){black, power};
}

/* -- waves -- */

static double mean_of(const float *value, int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        sum += (double)value[i];
    }
    return sum / n;
}

static double product_of(const float *a, const float *b, int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        sum += (double)(a[i] * b[i]);
    }
    return sum;
}

static void scale_to_one(float *value, int n)
{
    float by = (float)(1 / sqrt(fmax(product_of(value, value, n), 1e-12)));
    for (int i = 0; i < n; i++) {
        value[i] *= by;
    }
}

static double cycles_of(double wave)
{
    return WAVE_LEAST + WAVE_STEP * wave;
}

/* Cosine and sine of each wave number without their mean, the sine without what it has of the
 * cosine: how much of anything a wave explains is then the sum of two squares. */
static void make_waves(struct lamp_bands *b)
{
    for (int k = 0; k < WAVES; k++) {
        for (int part = 0; part < 2; part++) {
            float *value = b->wave[k][part];
            for (int i = 0; i < BINS; i++) {
                double turns = cycles_of(k) * (i + 0.5) / BINS;
                value[i] = (float)(part == 0 ? cos(TURN * turns) : sin(TURN * turns));
            }
            float mean = (float)mean_of(value, BINS);
            for (int i = 0; i < BINS; i++) {
                value[i] -= mean;
            }
            float shared = part == 0 ? 0 : (float)product_of(value, b->wave[k][0], BINS);
            for (int i = 0; i < BINS && part == 1; i++) {
                value[i] -= shared * b->wave[k][0][i];
            }
            scale_to_one(value, BINS);
        }
    }
}

enum lamp_err lamp_bands_init(struct lamp_bands *b, const struct lamp_coarse *coarse)
{
    size_t rows = (size_t)coarse->height;
    *b = (struct lamp_bands){
        .width = coarse->width, .height = coarse->height, .block_px = coarse->block_px};
    b->store = calloc((3 * STRIPS + 1 + LAMP_FRAMES_KEPT) * rows, sizeof *b->store);
    if (b->store == NULL) {
        return LAMP_NO_MEMORY;
    }
    b->row = b->store;
    b->usual = b->store + STRIPS * rows;
    b->mean = b->usual + STRIPS * rows;
    b->shift = b->mean + STRIPS * rows;
    for (size_t i = 0; i < LAMP_FRAMES_KEPT; i++) {
        b->light[i] = b->shift + (1 + i) * rows;
    }
    make_waves(b);
    lamp_bands_forget(b);
    return LAMP_OK;
}

void lamp_bands_forget(struct lamp_bands *b)
{
    b->frames = 0;
    b->seen_count = 0;
    b->likely_count = 0;
    b->total = 0;
    for (int j = 0; j < b->height; j++) {
        b->shift[j] = 1;
    }
    b->are_seen = false;
    memset(b->power, 0, sizeof b->power);
}

void lamp_bands_fini(struct lamp_bands *b)
{
    free(b->store);
    *b = (struct lamp_bands){0};
}

/* -- rows -- */

static void make_logs(struct lamp_bands *b, const struct tone *tone)
{
    for (int i = 0; i < 256; i++) {
        b->log_light[i] = logf(fmaxf((float)i - tone->black, 2)) / tone->power;
    }
    b->black = tone->black;
}

/* The mean of logs: a block that is driven white, and follows no ripple, counts no more than any.
 */
static void take_rows(struct lamp_bands *b, const struct lamp_coarse *coarse)
{
    int across = b->width / STRIPS;
    for (int j = 0; j < b->height; j++) {
        const float *at = coarse->y + (ptrdiff_t)j * b->width;
        for (int s = 0; s < STRIPS; s++, at += across) {
            float sum = 0;
            for (int i = 0; i < across; i += 2) { /* every other block says enough */
                sum += b->log_light[(int)at[i] & 255];
            }
            b->row[s * b->height + j] = sum / (float)((across + 1) / 2);
        }
    }
}

/* Between the rows of one strip; held where the picture ends. */
static float row_at(const struct lamp_bands *b, const float *strip, float row)
{
    float inside = fminf(fmaxf(row, 0), (float)b->height - 1.001F);
    int at = (int)inside;
    return strip[at] + (inside - (float)at) * (strip[at + 1] - strip[at]);
}

/* Where the rows of a strip go, at its middle: row j to from + j * step. */
struct rows {
    float from, step;
};

static struct rows move_rows(const struct lamp_bands *b, const struct lamp_motion *motion, int s)
{
    double block = b->block_px;
    struct lamp_point p = {(s + 0.5) * b->width / STRIPS * block, 0.5 * block};
    return (struct rows){(float)(lamp_motion_apply(motion, p).y / block - 0.5), (float)motion->a};
}

/* Mean of the middle half of eight, and half the span of it. */
static float middle_of(float value[STRIPS], float *spread)
{
    for (int i = 1; i < STRIPS; i++) {
        float v = value[i];
        int at = i;
        for (; at > 0 && value[at - 1] > v; at--) {
            value[at] = value[at - 1];
        }
        value[at] = v;
    }
    *spread = (value[STRIPS * 3 / 4 - 1] - value[STRIPS / 4]) / 2;
    return (value[2] + value[3] + value[4] + value[5]) / 4;
}

/* How each row departs from what is usual, by what most strips say. */
struct departures {
    float row[LAMP_BAND_ROWS_MAX];
    double unlike; /* mean square by which strips differ */
};

static void depart(const struct lamp_bands *b, const float *rows, const struct lamp_motion *back,
                   struct departures *out)
{
    struct rows to[STRIPS];
    out->unlike = 0;
    for (int s = 0; s < STRIPS; s++) {
        to[s] = move_rows(b, back, s);
    }
    for (int j = 0; j < b->height; j++) {
        float value[STRIPS];
        float spread;
        for (int s = 0; s < STRIPS; s++) {
            ptrdiff_t at = (ptrdiff_t)s * b->height;
            float row = to[s].from + (float)j * to[s].step;
            value[s] = rows[at + j] - row_at(b, b->usual + at, row);
        }
        out->row[j] = middle_of(value, &spread);
        out->unlike += (double)(spread * spread) / b->height;
    }
}

/* What the row would depart by if the picture moved by a row. */
static double slope_at(const struct lamp_bands *b, int j)
{
    int above = j > 0 ? j - 1 : j;
    int below = j < b->height - 1 ? j + 1 : j;
    double sum = 0;
    for (int s = 0; s < STRIPS; s++) {
        const float *usual = b->usual + (ptrdiff_t)s * b->height;
        sum += (double)(usual[below] - usual[above]) / (below - above);
    }
    return sum / STRIPS;
}

static void hold(struct lamp_bands *b, const struct lamp_motion *motion)
{
    float slow = b->frames == 0 ? 1 : FOLLOW_SLOW;
    float fast = b->frames == 0 ? 1 : FOLLOW;
    for (int s = 0; s < STRIPS; s++) {
        struct rows to = move_rows(b, motion, s);
        const float *strip = b->row + (ptrdiff_t)s * b->height;
        float *usual = b->usual + (ptrdiff_t)s * b->height;
        float *mean = b->mean + (ptrdiff_t)s * b->height;
        for (int j = 0; j < b->height; j++) {
            float now = row_at(b, strip, to.from + (float)j * to.step);
            usual[j] += slow * (now - usual[j]);
            mean[j] += fast * (now - mean[j]);
        }
    }
}

/* -- what the rows say -- */

/* How much of the departures each wave explains; the newest pictures count most. */
static void weigh_waves(struct lamp_bands *b, const struct departures *d)
{
    float bin[BINS];
    for (int i = 0; i < BINS; i++) {
        int from = i * b->height / BINS;
        int to = (i + 1) * b->height / BINS;
        to = to > from ? to : from + 1;
        bin[i] = (float)mean_of(d->row + from, to - from);
    }
    float mean = (float)mean_of(bin, BINS);
    for (int i = 0; i < BINS; i++) {
        bin[i] -= mean;
    }
    double all = product_of(bin, bin, BINS);
    b->total = FADE * b->total + all + d->unlike * BINS;
    for (int k = 0; k < WAVES; k++) {
        b->power[k] *= FADE;
    }
    for (int k = 0; k < WAVES && all > BINS * NO_RMS * NO_RMS; k++) {
        double c = product_of(bin, b->wave[k][0], BINS);
        double s = product_of(bin, b->wave[k][1], BINS);
        b->power[k] += c * c + s * s;
    }
}

/* The wave that explains most, between the ones that were tried. */
static double best_wave(const struct lamp_bands *b, double *power)
{
    int best = 0;
    for (int k = 1; k < WAVES; k++) {
        best = b->power[k] > b->power[best] ? k : best;
    }
    *power = b->power[best];
    if (best == 0 || best == WAVES - 1) {
        return best;
    }
    double before = b->power[best - 1];
    double after = b->power[best + 1];
    double bend = 2 * *power - before - after;
    return bend > 0 ? best + (after - before) / (2 * bend) : best;
}

/* Solve by Gauss elimination; the matrix is positive definite, or the term is left out. */
static void solve(double m[TERMS][TERMS + 1], double out[TERMS])
{
    for (int k = 0; k < TERMS; k++) {
        for (int r = k + 1; r < TERMS && m[k][k] > 1e-9; r++) {
            double ratio = m[r][k] / m[k][k];
            for (int c = k; c <= TERMS; c++) {
                m[r][c] -= ratio * m[k][c];
            }
        }
    }
    for (int k = TERMS - 1; k >= 0; k--) {
        out[k] = m[k][TERMS];
        for (int c = k + 1; c < TERMS; c++) {
            out[k] -= m[k][c] * out[c];
        }
        out[k] = m[k][k] > 1e-9 ? out[k] / m[k][k] : 0;
    }
}

static void terms_of(const struct lamp_bands *b, double cycles, int j, double out[TERMS])
{
    double angle = TURN * cycles * (j + 0.5) / b->height;
    out[0] = 1;
    out[1] = slope_at(b, j);
    out[2] = cos(angle);
    out[3] = sin(angle);
    out[4] = out[2] * out[2] - out[3] * out[3];
    out[5] = 2 * out[2] * out[3];
}

/* One round: `light` is the bands' part of the fit before and after. */
static void fit_round(const struct lamp_bands *b, const struct departures *d, double cycles,
                      double share[TERMS], double *scatter)
{
    double m[TERMS][TERMS + 1] = {{0}};
    double sum = 0;
    for (int j = 0; j < b->height; j++) {
        double term[TERMS];
        terms_of(b, cycles, j, term);
        double e = (double)d->row[j];
        for (int r = 0; r < TERMS; r++) {
            e -= share[r] * term[r];
        }
        double weight = 1 / (1 + e * e / (4 * *scatter * *scatter + 1e-8));
        sum += fmin(fabs(e), 3 * *scatter);
        for (int r = 0; r < TERMS; r++) {
            for (int c = 0; c < TERMS; c++) {
                m[r][c] += weight * term[r] * term[c];
            }
            m[r][TERMS] += weight * term[r] * (double)d->row[j];
        }
    }
    *scatter = sum / b->height;
    solve(m, share);
}

static void fit(const struct lamp_bands *b, const struct departures *d, double cycles, float *light)
{
    double share[TERMS] = {0};
    double scatter = 1;
    for (int round = 0; round < ROUNDS; round++) {
        fit_round(b, d, cycles, share, &scatter);
    }
    for (int j = 0; j < b->height; j++) {
        double term[TERMS];
        terms_of(b, cycles, j, term);
        double sum = 0;
        for (int r = 2; r < TERMS; r++) {
            sum += share[r] * term[r];
        }
        light[j] = (float)exp(fmin(fmax(sum, -2), 2));
    }
}

/* Bands are there from the first picture on or come with a lamp that is switched on; what looks
 * like them for a moment only is something else, as a new scene is. */
static bool see(struct lamp_bands *b, const struct departures *d, double *cycles)
{
    double power;
    weigh_waves(b, d);
    *cycles = cycles_of(best_wave(b, &power));
    double known = b->frames < 1 / (1 - FADE) ? b->frames : 1 / (1 - FADE);
    double clear = b->are_seen ? STILL_CLEAR : LEAST_CLEAR;
    bool are_likely = power > clear * b->total && power > known * BINS * LEAST_RMS * LEAST_RMS;
    b->likely_count = are_likely ? b->likely_count + 1 : 0;
    b->are_seen = are_likely && (b->frames < BEGIN_FRAMES || b->likely_count >= LIKELY_FRAMES);
    return b->are_seen;
}

/* The picture as it were in what is usual. */
static void take_out(const float *light, const struct tone *tone, struct lamp_coarse *coarse)
{
    for (int j = 0; j < coarse->height; j++) {
        float by = powf(light[j], -tone->power);
        ptrdiff_t from = (ptrdiff_t)j * coarse->width;
        for (int i = 0; i < coarse->width; i++) {
            coarse->y[from + i] = tone->black + (coarse->y[from + i] - tone->black) * by;
            coarse->u[from + i] = 128 + (coarse->u[from + i] - 128) * by;
            coarse->v[from + i] = 128 + (coarse->v[from + i] - 128) * by;
        }
    }
}

const float *lamp_bands_push(struct lamp_bands *b, struct lamp_coarse *coarse,
                             const struct lamp_frame *frame, const struct lamp_motion *motion)
{
    struct tone tone = tone_of(frame);
    struct departures d;
    double cycles;
    float *light = b->light[b->frames % LAMP_FRAMES_KEPT];
    bool are_seen = false;
    if (b->height > LAMP_BAND_ROWS_MAX) {
        return NULL;
    }
    if (b->frames == 0 || fabsf(tone.black - b->black) > 0.1F) {
        make_logs(b, &tone);
    }
    take_rows(b, coarse);
    if (b->frames > 0) {
        struct lamp_motion back = lamp_motion_invert(motion);
        depart(b, b->row, &back, &d);
        are_seen = see(b, &d, &cycles);
    }
    hold(b, motion);
    b->frames++;
    if (!are_seen) {
        return NULL;
    }
    b->seen_count++;
    fit(b, &d, cycles, light);
    take_out(light, &tone, coarse);
    for (int j = 0; j < b->height; j++) {
        light[j] *= b->shift[j];
    }
    return light;
}

bool lamp_bands_level(struct lamp_bands *b, float *change)
{
    struct departures d;
    const struct lamp_motion none = lamp_motion_none();
    double power;
    if (!b->are_seen || b->seen_count % LEVEL_FRAMES != 0) {
        return false;
    }
    depart(b, b->mean, &none, &d);
    fit(b, &d, cycles_of(best_wave(b, &power)), change);
    for (int j = 0; j < b->height; j++) {
        change[j] = 1 / (change[j] * b->shift[j]);
        b->shift[j] *= change[j];
        for (int i = 0; i < LAMP_FRAMES_KEPT; i++) {
            b->light[i][j] *= change[j];
        }
    }
    return true;
}
