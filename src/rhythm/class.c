/* class.c - Lengths into classes: the partition of the log lengths that pays for itself.
 *
 *   log length   ..:.            :.:.:
 *              --gap---      .  --rest--
 *                           odd
 *
 * The evidence of a class is the density of its members with the mean and the jitter integrated
 * out: the mean may lie anywhere
 * over three decades, the members scatter about it by measurement and by one of a band's jitters.
 * Partitions are compared by the sum over their classes, plus the price of saying which length
 * is in which class. Dynamic programming over the sorted lengths finds the best; it may part them
 * only at the widest steps between neighbours.
 */
#include "rhythm/class.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define BLOCKS_MAX 64

#define LOG_2PI 1.8378770664093453

/* A class's mean may be anywhere from 10 ms to 10 s, before anything is seen: the log of that
 * range, ln ln 1000. */
#define LOG_RANGE 1.9327

/* Neighbouring classes are at least this far apart, whatever the precision: ln 1.25. */
#define LEAST_STEP 0.2231

/* And this many combined sd: tight classes must stand clear, others only apart. */
#define LEAST_STEP_SD_TIGHT 4.0
#define LEAST_STEP_SD_OTHER 2.5

/* See struct sorted. One edge's bad luck, lost frames, counts for no more than MOST_SD times the
 * usual sd. */
#define SHIFT_SD 2.0
#define MOST_SD  4.0

/* An sd told too small is forgiven only while it is small against the length: noise may not explain
 * everything. */
#define FORGIVEN_SD 0.08

/* Of x, so that lengths without any noise keep a density. */
#define LEAST_VARIANCE 1e-8

/* The jitters of each band, as multiples of the rule's; a zero ends a row. */
static const double band_jitter[LAMP_BAND_COUNT][8] = {
    {1.0 / 3, 1.0, 1.5, 2.2, 0},
    {3.0, 4.0, 0},
    {5.7, 8.3, 11.7, 16.7, 23.0, 33.0, 47.0, 0},
};

/* Fewest lengths that show a scatter of each band: two that differ may as well be one of each
 * class. */
static const size_t least_members[LAMP_BAND_COUNT] = {1, 2, 3};

/* Prior share of 1, 2, 3, 4 classes. The fourth is for Morse words parted otherwise than repeats.
 */
static const double count_prior[LAMP_CLASSES_MAX] = {0.40, 0.30, 0.25, 0.05};

/* What is not known of the source as a whole: whether sd is told too small, and how many lengths
 * are damaged. */
static const struct outer {
    double sd_scale;
    double odd_share;
    double prior;
} outers[] = {{1, 0.03, 0.56}, {1, 0.15, 0.24}, {2, 0.03, 0.14}, {2, 0.15, 0.06}};

/* Lengths as x = ln(length + shift). A shift of two sd keeps the noise of lengths hardly longer
 * than itself near to even and of one width; for longer ones x is the logarithm. */
struct sorted {
    size_t count;
    double shift_ns;
    double base; /* What was taken from every x. */
    double x[LAMP_ROW_MAX];
    double ns[LAMP_ROW_MAX];
    double sd_ns[LAMP_ROW_MAX];
    size_t index[LAMP_ROW_MAX]; /* Place in the measures. */
    size_t block_count;
    size_t block[BLOCKS_MAX + 1]; /* First length of each block; the last one ends them. */
};

/* Sums over the lengths before each. */
struct sums {
    double x[LAMP_ROW_MAX + 1];
    double square[LAMP_ROW_MAX + 1];
    double variance_ns[LAMP_ROW_MAX + 1];
};

/* Best way to explain the first blocks with `count` classes, the worst of them of band `worst`. */
struct step {
    double score;
    size_t from; /* Block where the last class, or the odd block, begins. */
    int before;  /* Worst band before it. */
    bool is_class;
};

struct search {
    const struct sorted *sorted;
    struct sums sums;
    size_t most;
    double jitter;
    double sd_scale;
    double log_odd; /* Price of a length in no class, per length. */
    double log_member;
    double evidence[LAMP_BAND_COUNT][BLOCKS_MAX][BLOCKS_MAX + 1];
    struct step step[LAMP_BAND_COUNT][LAMP_CLASSES_MAX + 1][BLOCKS_MAX + 1];
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

static void sort_measures(const struct lamp_measures *measures, struct sorted *out)
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
        out->sd_ns[i] = fmin(measures->sd_ns[item[i].index], MOST_SD * usual_sd_ns);
    }
}

/* Part the sorted lengths at their widest steps. */
static void cut_blocks(struct sorted *sorted)
{
    double step[LAMP_ROW_MAX];
    for (size_t i = 1; i < sorted->count; i++) {
        step[i - 1] = sorted->x[i] - sorted->x[i - 1];
    }
    qsort(step, sorted->count - 1, sizeof step[0], by_descent);
    double least = sorted->count > BLOCKS_MAX ? step[BLOCKS_MAX - 2] : 0;
    sorted->block_count = 1;
    sorted->block[0] = 0;
    for (size_t i = 1; i < sorted->count && sorted->block_count < BLOCKS_MAX; i++) {
        double here = sorted->x[i] - sorted->x[i - 1];
        if (here > 0 && here >= least) {
            sorted->block[sorted->block_count++] = i;
        }
    }
    sorted->block[sorted->block_count] = sorted->count;
}

static void sum_up(const struct sorted *sorted, struct sums *out)
{
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < sorted->count; i++) {
        out->x[i + 1] = out->x[i] + sorted->x[i];
        out->square[i + 1] = out->square[i] + sorted->x[i] * sorted->x[i];
        out->variance_ns[i + 1] = out->variance_ns[i] + sorted->sd_ns[i] * sorted->sd_ns[i];
    }
}

/* Log density of the lengths from..to as one class of `jitter`, its mean integrated out. What
 * measurement adds to its scatter goes by the class's mean: going by each length's own would
 * forgive short ones anything. */
static double class_evidence(const struct search *search, size_t from, size_t to, double jitter)
{
    const struct sums *sums = &search->sums;
    double members = (double)(to - from);
    double mean = (sums->x[to] - sums->x[from]) / members;
    double about_mean = fmax(sums->square[to] - sums->square[from] - members * mean * mean, 0);
    double shifted_ns = exp(mean + search->sorted->base);
    double own = jitter * fmax(shifted_ns - search->sorted->shift_ns, 0) / shifted_ns;
    double measured =
        (sums->variance_ns[to] - sums->variance_ns[from]) / members / (shifted_ns * shifted_ns);
    double scaled = fmin(measured * search->sd_scale * search->sd_scale, FORGIVEN_SD * FORGIVEN_SD);
    double variance = fmax(measured, scaled) + own * own + LEAST_VARIANCE;
    return -0.5 *
               ((members - 1) * (log(variance) + LOG_2PI) + log(members) + about_mean / variance) -
           LOG_RANGE;
}

static double log_add(double a, double b)
{
    double more = fmax(a, b);
    return more == -INFINITY ? more : more + log1p(exp(fmin(a, b) - more));
}

/* Evidence of the lengths from..to as one class of a band, its jitter integrated out. */
static double band_evidence(const struct search *search, size_t from, size_t to, int band)
{
    double sum = -INFINITY;
    size_t count = 0;
    for (; band_jitter[band][count] > 0; count++) {
        sum = log_add(sum,
                      class_evidence(search, from, to, band_jitter[band][count] * search->jitter));
    }
    return sum - log((double)count);
}

/* Fill the evidence of every run of blocks as one class. */
static void weigh_classes(struct search *search)
{
    const size_t *block = search->sorted->block;
    for (int band = 0; band < LAMP_BAND_COUNT; band++) {
        for (size_t i = 0; i < search->sorted->block_count; i++) {
            for (size_t j = i + 1; j <= search->sorted->block_count; j++) {
                search->evidence[band][i][j] = band_evidence(search, block[i], block[j], band);
            }
        }
    }
}

static void offer(struct step *step, const struct step *better)
{
    if (better->score > step->score) {
        *step = *better;
    }
}

/* From what explains the blocks before `i`, go on with one class over the blocks i..j-1. */
static void add_class(struct search *search, size_t i, size_t j)
{
    const struct sorted *sorted = search->sorted;
    size_t members = sorted->block[j] - sorted->block[i];
    double price = (double)members * search->log_member + lgamma((double)members + 1);
    for (int band = 0; band < LAMP_BAND_COUNT && members >= least_members[band]; band++) {
        double gain = search->evidence[band][i][j] + price;
        for (int before = 0; before < LAMP_BAND_COUNT; before++) {
            for (size_t k = 0; k < search->most; k++) {
                int worst = before > band ? before : band;
                struct step next = {search->step[before][k][i].score + gain, i, before, true};
                offer(&search->step[worst][k + 1][j], &next);
            }
        }
    }
}

static void add_odd(struct search *search, size_t j)
{
    const struct sorted *sorted = search->sorted;
    double price = (double)(sorted->block[j] - sorted->block[j - 1]) * search->log_odd;
    for (int worst = 0; worst < LAMP_BAND_COUNT; worst++) {
        for (size_t k = 0; k <= search->most; k++) {
            struct step next = {search->step[worst][k][j - 1].score + price, j - 1, worst, false};
            offer(&search->step[worst][k][j], &next);
        }
    }
}

static void search_partitions(struct search *search)
{
    for (int worst = 0; worst < LAMP_BAND_COUNT; worst++) {
        for (size_t k = 0; k <= search->most; k++) {
            for (size_t j = 0; j <= search->sorted->block_count; j++) {
                search->step[worst][k][j] = (struct step){.score = -INFINITY};
            }
        }
    }
    search->step[LAMP_BAND_TIGHT][0][0].score = 0;
    for (size_t j = 1; j <= search->sorted->block_count; j++) {
        add_odd(search, j);
        for (size_t i = 0; i < j; i++) {
            add_class(search, i, j);
        }
    }
}

/* Mean and scatter of one class, never less than the rule's jitter and the measurement make likely.
 */
static void describe_class(const struct search *search, size_t from, size_t to,
                           struct lamp_classes *out, size_t k)
{
    const struct sorted *sorted = search->sorted;
    double members = (double)(to - from);
    double sum = 0;
    double square = 0;
    for (size_t i = from; i < to; i++) {
        sum += sorted->ns[i];
        out->of[sorted->index[i]] = (signed char)k;
    }
    double mean = sum / members;
    for (size_t i = from; i < to; i++) {
        square += (sorted->ns[i] - mean) * (sorted->ns[i] - mean);
    }
    double measured_ns = (search->sums.variance_ns[to] - search->sums.variance_ns[from]) / members;
    double least = measured_ns / (mean * mean) + search->jitter * search->jitter;
    out->mean[k] = log(mean);
    out->sd[k] = sqrt(fmax(square / members / (mean * mean), least));
    out->members[k] = to - from;
}

/* Walk back along the best steps and write down the partition they make. */
static void trace_partition(const struct search *search, int worst, size_t count,
                            struct lamp_classes *out)
{
    const struct sorted *sorted = search->sorted;
    size_t j = sorted->block_count;
    size_t k = count;
    out->count = count;
    out->odd = 0;
    while (j > 0) {
        const struct step *step = &search->step[worst][k][j];
        size_t from = sorted->block[step->from];
        size_t to = sorted->block[j];
        if (step->is_class) {
            k--;
            describe_class(search, from, to, out, k);
        } else {
            out->odd += to - from;
            for (size_t i = from; i < to; i++) {
                out->of[sorted->index[i]] = LAMP_CLASS_ODD;
            }
        }
        worst = step->before;
        j = step->from;
    }
}

/* Whether each class stands clear of the next: one that scatters is not to be told as two. */
static bool is_separated(const struct lamp_classes *classes, int worst)
{
    double least_sd = worst == LAMP_BAND_TIGHT ? LEAST_STEP_SD_TIGHT : LEAST_STEP_SD_OTHER;
    for (size_t k = 1; k < classes->count; k++) {
        double step = classes->mean[k] - classes->mean[k - 1];
        if (step < LEAST_STEP || step < least_sd * hypot(classes->sd[k], classes->sd[k - 1])) {
            return false;
        }
    }
    return true;
}

/* Keep the partition with `count` classes, worst band `worst`, where it beats what was kept for
 * that band. */
static void keep_better(const struct search *search, int worst, size_t count, double log_prior,
                        struct lamp_classes *out)
{
    double members = (double)search->sorted->count;
    double evidence = search->step[worst][count][search->sorted->block_count].score + log_prior +
                      log(count_prior[count - 1]) + lgamma((double)count) -
                      lgamma(members + (double)count);
    if (!(evidence > out->evidence)) {
        return;
    }
    struct lamp_classes found;
    trace_partition(search, worst, count, &found);
    if (is_separated(&found, worst)) {
        found.evidence = evidence;
        *out = found;
    }
}

static void search_outer(struct search *search, const struct outer *outer,
                         struct lamp_classes out[LAMP_BAND_COUNT])
{
    search->log_odd = log(outer->odd_share) - LOG_RANGE;
    search->log_member = log1p(-outer->odd_share);
    search_partitions(search);
    for (int worst = 0; worst < LAMP_BAND_COUNT; worst++) {
        for (size_t count = 1; count <= search->most; count++) {
            keep_better(search, worst, count, log(outer->prior), &out[worst]);
        }
    }
}

void lamp_classes_find(const struct lamp_measures *measures, const struct lamp_class_rules *rules,
                       struct lamp_classes out[LAMP_BAND_COUNT])
{
    for (int band = 0; band < LAMP_BAND_COUNT; band++) {
        memset(&out[band], 0, sizeof out[band]);
        out[band].evidence = band == LAMP_BAND_TIGHT && measures->count == 0 ? 0 : -INFINITY;
    }
    if (measures->count == 0) {
        return;
    }
    struct sorted sorted;
    struct search search = {.sorted = &sorted, .most = rules->most, .jitter = rules->jitter};
    sort_measures(measures, &sorted);
    cut_blocks(&sorted);
    sum_up(&sorted, &search.sums);
    for (size_t i = 0; i < sizeof outers / sizeof outers[0]; i++) {
        if (outers[i].sd_scale != search.sd_scale) {
            search.sd_scale = outers[i].sd_scale;
            weigh_classes(&search);
        }
        search_outer(&search, &outers[i], out);
    }
}
