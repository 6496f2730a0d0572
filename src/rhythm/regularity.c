/* regularity.c - Repeating rhythm or irregular light: what each makes of the lengths.
 *
 *                  dark: tight          doubtful     loose
 *   lit: tight     repeating or random  doubtful     irregular: dips or flashes of one width at
 * random times doubtful  doubtful             doubtful     irregular loose     irregular irregular
 * irregular: both by chance
 */
#include "rhythm/regularity.h"

#include <math.h>

#define PRIOR_REPEATING 0.5

/* A side measured too coarsely to show its scatter is seldom the only one that has any. */
#define COARSE_FACTOR 0.1

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

static double weigh_pair(const struct lamp_regularity_evidence *evidence, int lit, int dark)
{
    double share = prior[lit][dark];
    if ((lit != LAMP_BAND_TIGHT && dark == LAMP_BAND_TIGHT && evidence->is_coarse_lit) ||
        (dark != LAMP_BAND_TIGHT && lit == LAMP_BAND_TIGHT && evidence->is_coarse_dark)) {
        share *= COARSE_FACTOR;
    }
    return log(share) + evidence->lit[lit].evidence + evidence->dark[dark].evidence;
}

void lamp_regularity_weigh(const struct lamp_regularity_evidence *evidence,
                           struct lamp_regularity *out)
{
    double timed =
        evidence->lit[LAMP_BAND_TIGHT].evidence + evidence->dark[LAMP_BAND_TIGHT].evidence;
    double repeating = timed + log(PRIOR_REPEATING) + (evidence->has_order ? evidence->order : 0);
    double random_order = evidence->has_order ? timed + log(evidence->random_order) : -INFINITY;
    double doubtful = -INFINITY;
    double irregular = -INFINITY;
    for (int lit = 0; lit < LAMP_BAND_COUNT; lit++) {
        for (int dark = 0; dark < LAMP_BAND_COUNT; dark++) {
            bool is_loose = lit == LAMP_BAND_LOOSE || dark == LAMP_BAND_LOOSE;
            double *sum = is_loose ? &irregular : &doubtful;
            if (lit != LAMP_BAND_TIGHT || dark != LAMP_BAND_TIGHT) {
                *sum = log_add(*sum, weigh_pair(evidence, lit, dark));
            }
        }
    }
    double all = log_add(log_add(repeating, random_order), log_add(doubtful, irregular));
    out->repeating = exp(repeating - all);
    out->random_order = exp(random_order - all);
    out->doubtful = exp(doubtful - all);
    out->irregular = exp(irregular - all);
    out->nats = irregular == -INFINITY ? fmax(0, repeating - random_order) : repeating - irregular;
}
