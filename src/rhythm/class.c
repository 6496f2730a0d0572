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
#include <string.h>

#include "rhythm/sorted.h"

/* Neighbouring classes are at least this far apart, whatever the precision: ln 1.25. */
#define LEAST_STEP 0.2231

/* And this many combined sd: tight classes must stand clear, others only apart. */
#define LEAST_STEP_SD_TIGHT 4.0
#define LEAST_STEP_SD_OTHER 2.5

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

/* Best way to explain the first blocks with `count` classes, the worst of them of band `worst`. */
struct step {
    double score;
    size_t from; /* Block where the last class, or the odd block, begins. */
    int before;  /* Worst band before it. */
    bool is_class;
};

struct search {
    const struct lamp_sorted *sorted;
    size_t most;
    struct lamp_scatter scatter;
    double log_odd; /* Price of a length in no class, per length. */
    double log_member;
    double log_factorial[LAMP_ROW_MAX + LAMP_CLASSES_MAX];
    double evidence[LAMP_BAND_COUNT][LAMP_BLOCKS_MAX][LAMP_BLOCKS_MAX + 1];
    struct step step[LAMP_BAND_COUNT][LAMP_CLASSES_MAX + 1][LAMP_BLOCKS_MAX + 1];
};

/* Fill the evidence of every run of blocks as one class of `band`. */
static void weigh_band(struct search *search, enum lamp_band band)
{
    const struct lamp_sorted *sorted = search->sorted;
    for (size_t i = 0; i < sorted->block_count; i++) {
        for (size_t j = i + 1; j <= sorted->block_count; j++) {
            search->evidence[band][i][j] = lamp_sorted_evidence(
                sorted, sorted->block[i], sorted->block[j], &search->scatter, band);
        }
    }
}

static void weigh_classes(struct search *search)
{
    for (int band = 0; band < LAMP_BAND_COUNT; band++) {
        weigh_band(search, (enum lamp_band)band);
    }
}

/* Two lengths that differ may as well be one of each class; where they are all there are, they may
 * not. */
static bool has_enough(const struct lamp_sorted *sorted, size_t members, int band)
{
    return members >= least_members[band] || (members == sorted->count && members > 1);
}

static void offer(struct step *step, const struct step *other)
{
    if (other->score > step->score) {
        *step = *other;
    }
}

/* From what explains the blocks before `i`, its worst class of band `before`, go on with one class
 * over the blocks i..j-1 of band `band`. */
static void add_class(struct search *search, size_t i, size_t j, int before, int band)
{
    size_t members = search->sorted->block[j] - search->sorted->block[i];
    double price = (double)members * search->log_member + search->log_factorial[members];
    double gain = search->evidence[band][i][j] + price;
    int worst = before > band ? before : band;
    for (size_t k = 0; k < search->most; k++) {
        struct step next = {search->step[before][k][i].score + gain, i, before, true};
        offer(&search->step[worst][k + 1][j], &next);
    }
}

static void add_classes(struct search *search, size_t i, size_t j)
{
    size_t members = search->sorted->block[j] - search->sorted->block[i];
    for (int band = 0; band < LAMP_BAND_COUNT && has_enough(search->sorted, members, band);
         band++) {
        for (int before = 0; before < LAMP_BAND_COUNT; before++) {
            add_class(search, i, j, before, band);
        }
    }
}

/* Go on from what explains the blocks before the last one of `j` with its lengths in no class. */
static void add_odd(struct search *search, size_t j, int worst)
{
    const struct lamp_sorted *sorted = search->sorted;
    double price = (double)(sorted->block[j] - sorted->block[j - 1]) * search->log_odd;
    for (size_t k = 0; k <= search->most; k++) {
        struct step next = {search->step[worst][k][j - 1].score + price, j - 1, worst, false};
        offer(&search->step[worst][k][j], &next);
    }
}

static void begin_step(struct search *search, size_t j)
{
    for (int worst = 0; worst < LAMP_BAND_COUNT; worst++) {
        for (size_t k = 0; k <= search->most; k++) {
            bool is_begin = worst == LAMP_BAND_TIGHT && k == 0 && j == 0;
            search->step[worst][k][j] = (struct step){.score = is_begin ? 0 : -INFINITY};
        }
    }
}

static void search_partitions(struct search *search)
{
    begin_step(search, 0);
    for (size_t j = 1; j <= search->sorted->block_count; j++) {
        begin_step(search, j);
        for (int worst = 0; worst < LAMP_BAND_COUNT; worst++) {
            add_odd(search, j, worst);
        }
        for (size_t i = 0; i < j; i++) {
            add_classes(search, i, j);
        }
    }
}

/* Mean and scatter of one class, never less than the rule's jitter and the measurement make likely.
 */
static void describe_class(const struct search *search, size_t from, size_t to,
                           struct lamp_classes *out, size_t k)
{
    const struct lamp_sorted *sorted = search->sorted;
    double members = (double)(to - from);
    double sum = 0;
    double square = 0;
    for (size_t i = from; i < to; i++) {
        sum += sorted->ns[i];
        out->of[sorted->index[i]] = (short)k;
    }
    double mean = sum / members;
    for (size_t i = from; i < to; i++) {
        square += (sorted->ns[i] - mean) * (sorted->ns[i] - mean);
    }
    double least = lamp_sorted_variance(sorted, from, to) / (mean * mean) +
                   search->scatter.jitter * search->scatter.jitter;
    out->mean[k] = log(mean);
    out->sd[k] = sqrt(fmax(square / members / (mean * mean), least));
    out->members[k] = to - from;
}

static void describe_odd(const struct lamp_sorted *sorted, size_t from, size_t to,
                         struct lamp_classes *out)
{
    out->odd += to - from;
    for (size_t i = from; i < to; i++) {
        out->of[sorted->index[i]] = LAMP_CLASS_ODD;
    }
}

/* Walk back along the best steps and write down the partition they make. */
static void trace_partition(const struct search *search, int worst, size_t count,
                            struct lamp_classes *out)
{
    const struct lamp_sorted *sorted = search->sorted;
    size_t k = count;
    *out = (struct lamp_classes){.count = count};
    for (size_t j = sorted->block_count; j > 0;) {
        const struct step *step = &search->step[worst][k][j];
        if (step->is_class) {
            k--;
            describe_class(search, sorted->block[step->from], sorted->block[j], out, k);
        } else {
            describe_odd(sorted, sorted->block[step->from], sorted->block[j], out);
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
    double evidence = search->step[worst][count][search->sorted->block_count].score + log_prior +
                      log(count_prior[count - 1]) + search->log_factorial[count - 1] -
                      search->log_factorial[search->sorted->count + count - 1];
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
    if (outer->sd_scale != search->scatter.sd_scale) {
        search->scatter.sd_scale = outer->sd_scale;
        weigh_classes(search);
    }
    search->log_odd = log(outer->odd_share) - LAMP_LOG_RANGE;
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
    struct lamp_sorted sorted;
    struct search search = {
        .sorted = &sorted, .most = rules->most, .scatter.jitter = rules->jitter};
    lamp_sorted_make(measures, &sorted);
    for (size_t i = 2; i < sizeof search.log_factorial / sizeof search.log_factorial[0]; i++) {
        search.log_factorial[i] = search.log_factorial[i - 1] + log((double)i);
    }
    for (size_t i = 0; i < sizeof outers / sizeof outers[0]; i++) {
        search_outer(&search, &outers[i], out);
    }
}
