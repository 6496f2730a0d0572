/* score.c - How well lengths fit one entry, played over and over from any moment on.
 *
 * A board runs fast or slow as a whole, by `scale`; each class of lengths may depart from the book
 * by its tolerance, the same in every cycle; each length departs from its class by measurement and
 * jitter. So scale and classes are shared unknowns: estimated with the alignment, and paid for
 * once, not once a length.
 */
#include "match/score.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include "match/count.h"

/* Clocks of boards: common practice, no source. One standard deviation; the tolerance is the hard
 * limit. */
#define SCALE_SD 0.05

/* How many times lengths are aligned and classes estimated anew. */
#define FULL_PASSES 2

/* Lengths of one class may scatter more than they were measured to: by this much at least (sd of
 * the logarithm), or so much that their true deviations are twice the told ones. */
#define SPREAD_SD       0.08
#define SPREAD_MEASURED 3.0

/* Lengths of one class that scatter more than this, sd of the logarithm, are not repeats of one
 * length. */
#define SCATTER_SD       0.12
#define SCATTER_MEASURED 6.0

/* Classes that need more than this of the tolerance's width among themselves strain it, and so does
 * a common scale that has less than this share of it left: the light may be of a code like the
 * entry that no book lists. */
#define STRAIN_MOST 0.8
#define ROOM_LEAST  0.25

/* What the lengths laid along the cycle say of each class. */
struct class_sums {
    double weight[LAMP_MODEL_CLASSES_MAX];
    double sum[LAMP_MODEL_CLASSES_MAX];    /* Of weighted departures from nominal, log. */
    double spread[LAMP_MODEL_CLASSES_MAX]; /* Variance beyond the measurement's. */
    bool is_scattered;                     /* Lengths of a class differ more than repeats do. */
    size_t count[LAMP_MODEL_CLASSES_MAX];
};

/* Estimates: the scale, and how far each class departs from it. */
struct estimate {
    double log_scale;
    double scale_weight;
    double departure[LAMP_MODEL_CLASSES_MAX];
    double weight[LAMP_MODEL_CLASSES_MAX]; /* 1 / variance of each departure, with its prior. */
};

static double clamp(double value, double least, double most)
{
    return fmin(fmax(value, least), most);
}

/* Prior variance of a class's departure: the tolerance is two standard deviations. */
static double class_variance(const struct lamp_model *model, const struct lamp_sight *sight,
                             size_t c)
{
    double sd = model->tolerance / 2;
    double bias = sight->bias_s / model->class_s[c];
    return sd * sd + bias * bias;
}

static void guess_from_book(const struct lamp_model *model, const struct lamp_sight *sight,
                            struct lamp_guess *out)
{
    for (size_t c = 0; c < model->class_count; c++) {
        out->mean[c] = log(model->class_s[c]);
        out->doubt[c] = class_variance(model, sight, c) + SCALE_SD * SCALE_SD;
    }
}

static void measure_spread(const struct lamp_model *model, const struct lamp_sight *sight,
                           const struct lamp_alignment *alignment, struct class_sums *sums)
{
    double measured[LAMP_MODEL_CLASSES_MAX] = {0};
    for (size_t i = 0; i < alignment->count; i++) {
        const struct lamp_step *step = &alignment->step[i];
        if (lamp_step_is_matched(step, sight)) {
            size_t c = model->class_of[step->at];
            const struct lamp_seen *seen = &sight->seen[step->seen];
            double off = seen->log - log(model->class_s[c]) - sums->sum[c] / sums->weight[c];
            sums->spread[c] += (off * off - seen->variance) / (double)sums->count[c];
            measured[c] += seen->measured / (double)sums->count[c];
        }
    }
    for (size_t c = 0; c < model->class_count; c++) {
        double scatter_most = fmax(SCATTER_MEASURED * measured[c], SCATTER_SD * SCATTER_SD);
        double spread_most = fmax(SPREAD_MEASURED * measured[c], SPREAD_SD * SPREAD_SD);
        sums->is_scattered = sums->is_scattered || sums->spread[c] > scatter_most;
        sums->spread[c] = clamp(sums->spread[c], 0, spread_most);
    }
}

static void sum_classes(const struct lamp_model *model, const struct lamp_sight *sight,
                        const struct lamp_alignment *alignment, struct class_sums *out)
{
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < alignment->count; i++) {
        const struct lamp_step *step = &alignment->step[i];
        if (lamp_step_is_matched(step, sight)) {
            size_t c = model->class_of[step->at];
            double weight = 1 / sight->seen[step->seen].variance;
            out->weight[c] += weight;
            out->sum[c] += weight * (sight->seen[step->seen].log - log(model->class_s[c]));
            out->count[c]++;
        }
    }
    measure_spread(model, sight, alignment, out);
}

static void estimate_scale(const struct lamp_model *model, const struct lamp_sight *sight,
                           const struct class_sums *sums, struct estimate *out)
{
    double weight = 1 / (SCALE_SD * SCALE_SD);
    double sum = 0;
    for (size_t c = 0; c < model->class_count; c++) {
        if (sums->count[c] > 0) {
            double w = 1 / (class_variance(model, sight, c) + 1 / sums->weight[c]);
            weight += w;
            sum += w * sums->sum[c] / sums->weight[c];
        }
    }
    out->scale_weight = weight;
    out->log_scale = clamp(sum / weight, log1p(-model->tolerance), log1p(model->tolerance));
}

static void estimate(const struct lamp_model *model, const struct lamp_sight *sight,
                     const struct class_sums *sums, struct estimate *out)
{
    estimate_scale(model, sight, sums, out);
    for (size_t c = 0; c < model->class_count; c++) {
        double prior = 1 / class_variance(model, sight, c);
        double bias = sight->bias_s / model->class_s[c];
        out->weight[c] = prior + sums->weight[c];
        double departure = (sums->sum[c] - sums->weight[c] * out->log_scale) / out->weight[c];
        out->departure[c] =
            clamp(departure, log1p(-model->tolerance) - bias, log1p(model->tolerance) + bias);
    }
}

static void guess_from_estimate(const struct lamp_model *model, const struct class_sums *sums,
                                const struct estimate *estimate, struct lamp_guess *out)
{
    for (size_t c = 0; c < model->class_count; c++) {
        out->mean[c] = log(model->class_s[c]) + estimate->log_scale + estimate->departure[c];
        out->doubt[c] = sums->count[c] > 0 ? sums->spread[c] : 1 / estimate->weight[c];
    }
}

/* The shared unknowns integrated out about their estimates (Laplace): prior there, times the width
 * that is left. */
static double price_estimate(const struct lamp_model *model, const struct lamp_sight *sight,
                             const struct class_sums *sums, const struct estimate *estimate)
{
    double off = estimate->log_scale / SCALE_SD;
    double sum = -0.5 * off * off - log(SCALE_SD) - 0.5 * log(estimate->scale_weight);
    for (size_t c = 0; c < model->class_count; c++) {
        if (sums->count[c] > 0) {
            double variance = class_variance(model, sight, c);
            double departure = estimate->departure[c];
            sum +=
                -0.5 * departure * departure / variance - 0.5 * log(variance * estimate->weight[c]);
        }
    }
    return sum;
}

/* Where the classes lie in the tolerance, all as logarithms of measured over nominal. */
static void place_in_tolerance(const struct lamp_model *model, const struct class_sums *sums,
                               struct lamp_fit *fit)
{
    double least = log1p(-model->tolerance);
    double most = log1p(model->tolerance);
    double low = INFINITY;
    double high = -INFINITY;
    double doubt = 0;
    for (size_t c = 0; c < model->class_count; c++) {
        if (sums->count[c] > 0) {
            double mean = sums->sum[c] / sums->weight[c];
            low = fmin(low, mean);
            high = fmax(high, mean);
            doubt = fmax(doubt, sqrt(1 / sums->weight[c]));
        }
    }
    if (high < low) {
        return;
    }
    /* The scales that bring the highest class and the lowest one in. */
    double room = fmin(most, low - least) - fmax(least, high - most) - doubt;
    fit->is_within = room > 0 && fabs(low + high) / 2 <= most;
    fit->has_room = fit->is_within && !sums->is_scattered && room > ROOM_LEAST * most &&
                    high - low <= STRAIN_MOST * (most - least);
}

static void measure_classes(const struct lamp_model *model, const struct lamp_sight *sight,
                            const struct lamp_alignment *alignment, struct lamp_fit *fit)
{
    for (size_t i = 0; i < alignment->count; i++) {
        const struct lamp_step *step = &alignment->step[i];
        const struct lamp_seen *seen = &sight->seen[step->seen];
        if (lamp_step_is_matched(step, sight)) {
            size_t c = model->class_of[step->at];
            fit->class_seen[c]++;
            fit->class_s[c] += seen->s;
        }
    }
    for (size_t c = 0; c < model->class_count; c++) {
        fit->class_s[c] /= fit->class_seen[c] > 0 ? (double)fit->class_seen[c] : 1;
    }
}

void lamp_fit_roughly(const struct lamp_model *model, const struct lamp_sight *sight,
                      double edge_price, struct lamp_fit *out)
{
    struct lamp_guess guess;
    struct lamp_alignment alignment;
    memset(out, 0, sizeof *out);
    guess_from_book(model, sight, &guess);
    lamp_align(model, sight, &guess, edge_price, &alignment);
    out->log_likelihood = alignment.log_likelihood - sight->irregular;
    out->scale = 1;
    lamp_count_steps(model, sight, &alignment, out);
}

void lamp_fit_fully(const struct lamp_model *model, const struct lamp_sight *sight,
                    double edge_price, struct lamp_fit *out)
{
    struct lamp_guess guess;
    struct lamp_alignment alignment;
    struct class_sums sums;
    struct estimate at;
    memset(out, 0, sizeof *out);
    guess_from_book(model, sight, &guess);
    lamp_align(model, sight, &guess, edge_price, &alignment);
    for (size_t pass = 0; pass < FULL_PASSES; pass++) {
        sum_classes(model, sight, &alignment, &sums);
        estimate(model, sight, &sums, &at);
        guess_from_estimate(model, &sums, &at, &guess);
        lamp_align(model, sight, &guess, edge_price, &alignment);
    }
    out->log_likelihood =
        alignment.log_likelihood + price_estimate(model, sight, &sums, &at) - sight->irregular;
    out->scale = exp(at.log_scale);
    sum_classes(model, sight, &alignment, &sums);
    place_in_tolerance(model, &sums, out);
    lamp_count_steps(model, sight, &alignment, out);
    lamp_count_repeats(model, sight, &alignment, out);
    measure_classes(model, sight, &alignment, out);
}
