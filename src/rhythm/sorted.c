/* sorted.c - Lengths in order of size, and how likely a run of them is as one class. */
#include "rhythm/sorted.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What is so much less likely adds nothing to a double. */
#define LOG_NOTHING 36.0

#define LOG_2PI 1.8378770664093453

/* See struct lamp_sorted. One edge's bad luck, lost frames, counts for no more than MOST_SD times
 * the usual sd. */
#define SHIFT_SD 2.0
#define MOST_SD  4.0

/* An sd told too small is forgiven only while it is small against the length: noise may not explain
 * everything. */
#define FORGIVEN_SD 0.08

/* Of x, so that lengths without any noise keep a density. */
#define LEAST_VARIANCE 1e-8

#define JITTERS_MAX 8

/* The jitters of each band, as multiples of the rule's; a zero ends a row. */
static const double band_jitter[LAMP_BAND_COUNT][JITTERS_MAX] = {
    {1.0 / 3, 1.0, 1.5, 2.2, 0},
    {3.0, 4.0, 0},
    {5.7, 8.3, 11.7, 16.7, 23.0, 33.0, 47.0, 0},
};

struct indexed {
    double x;
    size_t index;
};

static int by_value(const void *a, const void *b)
{
    const struct indexed *left = a;
    const struct indexed *right = b;
    if (left->x != right->x) {
        return left->x < right->x ? -1 : 1;
    }
    return left->index < right->index ? -1 : 1;
}

static int by_descent(const void *a, const void *b)
{
    double left = *(const double *)a;
    double right = *(const double *)b;
    return (left < right) - (left > right);
}

static double median_sd(const struct lamp_measures *measures)
{
    double sd[LAMP_ROW_MAX];
    memcpy(sd, measures->sd_ns, measures->count * sizeof sd[0]);
    qsort(sd, measures->count, sizeof sd[0], by_descent);
    return sd[measures->count / 2];
}

/* Sums over the lengths before each. */
static void sum_up(const struct lamp_measures *measures, double most_sd_ns, struct lamp_sorted *out)
{
    out->sum[0] = out->square[0] = out->variance[0] = 0;
    for (size_t i = 0; i < out->count; i++) {
        double sd_ns = fmin(measures->sd_ns[out->index[i]], most_sd_ns);
        out->sum[i + 1] = out->sum[i] + out->x[i];
        out->square[i + 1] = out->square[i] + out->x[i] * out->x[i];
        out->variance[i + 1] = out->variance[i] + sd_ns * sd_ns;
    }
}

static void sort_measures(const struct lamp_measures *measures, struct lamp_sorted *out)
{
    struct indexed item[LAMP_ROW_MAX];
    double usual_sd_ns = median_sd(measures);
    out->count = measures->count;
    out->shift_ns = SHIFT_SD * usual_sd_ns;
    for (size_t i = 0; i < out->count; i++) {
        item[i] = (struct indexed){log(measures->ns[i] + out->shift_ns), i};
    }
    qsort(item, out->count, sizeof item[0], by_value);
    out->base = item[0].x; /* Near zero, sums of squares keep their digits. */
    for (size_t i = 0; i < out->count; i++) {
        out->x[i] = item[i].x - out->base;
        out->index[i] = item[i].index;
        out->ns[i] = measures->ns[item[i].index];
    }
    sum_up(measures, MOST_SD * usual_sd_ns, out);
}

/* Part the sorted lengths at their widest steps. */
static void cut_blocks(struct lamp_sorted *sorted)
{
    double step[LAMP_ROW_MAX];
    for (size_t i = 1; i < sorted->count; i++) {
        step[i - 1] = sorted->x[i] - sorted->x[i - 1];
    }
    qsort(step, sorted->count - 1, sizeof step[0], by_descent);
    double least = sorted->count > LAMP_BLOCKS_MAX ? step[LAMP_BLOCKS_MAX - 2] : 0;
    sorted->block_count = 1;
    sorted->block[0] = 0;
    for (size_t i = 1; i < sorted->count && sorted->block_count < LAMP_BLOCKS_MAX; i++) {
        double here = sorted->x[i] - sorted->x[i - 1];
        if (here > 0 && here >= least) {
            sorted->block[sorted->block_count++] = i;
        }
    }
    sorted->block[sorted->block_count] = sorted->count;
}

void lamp_sorted_make(const struct lamp_measures *measures, struct lamp_sorted *out)
{
    sort_measures(measures, out);
    cut_blocks(out);
}

double lamp_sorted_variance(const struct lamp_sorted *sorted, size_t from, size_t to)
{
    return (sorted->variance[to] - sorted->variance[from]) / (double)(to - from);
}

/* Log density of the lengths from..to as one class of `jitter`, its mean integrated out. What
 * measurement adds to its scatter goes by the class's mean: going by each length's own would
 * forgive short ones anything. */
static double class_evidence(const struct lamp_sorted *sorted, size_t from, size_t to,
                             const struct lamp_scatter *scatter)
{
    double members = (double)(to - from);
    double mean = (sorted->sum[to] - sorted->sum[from]) / members;
    double about_mean = fmax(sorted->square[to] - sorted->square[from] - members * mean * mean, 0);
    double shifted_ns = exp(mean + sorted->base);
    double own = scatter->jitter * fmax(shifted_ns - sorted->shift_ns, 0) / shifted_ns;
    double measured = lamp_sorted_variance(sorted, from, to) / (shifted_ns * shifted_ns);
    double scaled = measured * scatter->sd_scale * scatter->sd_scale;
    double variance =
        fmax(measured, fmin(scaled, FORGIVEN_SD * FORGIVEN_SD)) + own * own + LEAST_VARIANCE;
    double spread = (members - 1) * (log(variance) + LOG_2PI) + log(members);
    return -0.5 * (spread + about_mean / variance) - LAMP_LOG_RANGE;
}

double lamp_sorted_evidence(const struct lamp_sorted *sorted, size_t from, size_t to,
                            const struct lamp_scatter *scatter, enum lamp_band band)
{
    double evidence[JITTERS_MAX];
    double best = -INFINITY;
    size_t count = 0;
    for (; band_jitter[band][count] > 0; count++) {
        struct lamp_scatter own = {band_jitter[band][count] * scatter->jitter, scatter->sd_scale};
        evidence[count] = class_evidence(sorted, from, to, &own);
        best = fmax(best, evidence[count]);
    }
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += evidence[i] > best - LOG_NOTHING ? exp(evidence[i] - best) : 0;
    }
    return best + log(sum / (double)count);
}
