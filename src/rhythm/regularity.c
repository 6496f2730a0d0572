/* regularity.c - Repeating rhythm or irregular light: what each makes of the lengths.
 *
 *                  dark: tight    doubtful   loose
 *   lit: tight     by a timer     doubtful   irregular
 *        doubtful  doubtful       doubtful   irregular
 *        loose     irregular      irregular  irregular
 *
 * Light made by a timer either repeats, or its lengths come in random order.
 */
#include "rhythm/regularity.h"

#include <math.h>

#define PRIOR_REPEATING 0.5

/* Of groups that come by chance from a few kinds. */
#define PRIOR_FEW 0.03

/* A side measured too coarsely to show its scatter is seldom the only one that has any. */
#define COARSE_FACTOR 0.1

/* And a little scatter below such measurement is no reason to doubt a timer. */
#define COARSE_DOUBT_FACTOR 0.25

#define USUAL_LENGTHS 100.0

/* Of one side's band where the other's is the column: timed light aside, chance on one or both
 * sides. */
static const double prior[LAMP_BAND_COUNT][LAMP_BAND_COUNT] = {
    {0.00, 0.04, 0.12},
    {0.04, 0.03, 0.04},
    {0.12, 0.04, 0.15},
};

static double log_add(double a, double b)
{
    double more = fmax(a, b);
    return more == -INFINITY ? more : more + log1p(exp(fmin(a, b) - more));
}

/* Evidence of one side, over that of its tight band. Lengths are not quite as any model has them,
 * so many of them are not taken to say much more than USUAL_LENGTHS do. */
static double weigh_side(const struct lamp_classes *bands, int band)
{
    double lengths = 0;
    for (size_t k = 0; k < bands[LAMP_BAND_TIGHT].count; k++) {
        lengths += (double)bands[LAMP_BAND_TIGHT].members[k];
    }
    lengths += (double)bands[LAMP_BAND_TIGHT].odd;
    return (bands[band].evidence - bands[LAMP_BAND_TIGHT].evidence) / (1 + lengths / USUAL_LENGTHS);
}

static double weigh_pair(const struct lamp_regularity_evidence *evidence, int lit, int dark)
{
    double share = prior[lit][dark];
    bool is_lit_only =
        dark == LAMP_BAND_TIGHT && evidence->is_coarse_lit && !evidence->is_coarse_dark;
    bool is_dark_only =
        lit == LAMP_BAND_TIGHT && evidence->is_coarse_dark && !evidence->is_coarse_lit;
    if (is_lit_only || is_dark_only) {
        share *= COARSE_FACTOR;
    }
    if ((lit == LAMP_BAND_DOUBTFUL && evidence->is_coarse_lit) ||
        (dark == LAMP_BAND_DOUBTFUL && evidence->is_coarse_dark)) {
        share *= COARSE_DOUBT_FACTOR;
    }
    return log(share) + weigh_side(evidence->lit, lit) + weigh_side(evidence->dark, dark);
}

/* At least one side loose. */
static double weigh_loose(const struct lamp_regularity_evidence *evidence)
{
    double sum = weigh_pair(evidence, LAMP_BAND_LOOSE, LAMP_BAND_LOOSE);
    for (int other = LAMP_BAND_TIGHT; other < LAMP_BAND_LOOSE; other++) {
        sum = log_add(sum, weigh_pair(evidence, LAMP_BAND_LOOSE, other));
        sum = log_add(sum, weigh_pair(evidence, other, LAMP_BAND_LOOSE));
    }
    return sum;
}

/* Neither side loose, nor both tight. */
static double weigh_doubtful(const struct lamp_regularity_evidence *evidence)
{
    double sum = weigh_pair(evidence, LAMP_BAND_DOUBTFUL, LAMP_BAND_DOUBTFUL);
    sum = log_add(sum, weigh_pair(evidence, LAMP_BAND_DOUBTFUL, LAMP_BAND_TIGHT));
    return log_add(sum, weigh_pair(evidence, LAMP_BAND_TIGHT, LAMP_BAND_DOUBTFUL));
}

void lamp_regularity_weigh(const struct lamp_regularity_evidence *evidence,
                           struct lamp_regularity *out)
{
    double repeating = log(PRIOR_REPEATING) + (evidence->has_order ? evidence->order : 0);
    double random_order = -INFINITY;
    if (evidence->has_order) {
        random_order = log_add(log(evidence->random_order), log(PRIOR_FEW) + evidence->few);
    }
    double irregular = weigh_loose(evidence);
    double doubtful = weigh_doubtful(evidence);
    double all = log_add(log_add(repeating, random_order), log_add(doubtful, irregular));
    out->repeating = exp(repeating - all);
    out->random_order = exp(random_order - all);
    out->doubtful = exp(doubtful - all);
    out->irregular = exp(irregular - all);
    out->nats = irregular == -INFINITY ? 0 : repeating - irregular;
}
