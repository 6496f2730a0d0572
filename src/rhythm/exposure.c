/* exposure.c - How long a camera exposes, told from the share of edges that fall into an exposure.
 *
 * An edge comes at any moment of the sample interval. With the chance (exposure / interval) it
 * leaves a sample partly lit, to any share; otherwise all samples are fully dark or lit. The chance
 * is learnt by expectation and maximisation, noise allowed for.
 */
#include <math.h>

#include "rhythm/place.h"

#define ROUNDS 12

/* The exposure before any edge was seen: any share of the interval. */
#define PRIOR_EDGES 2.0
#define PRIOR_PARTS 1.0

/* Edges at so many places are not in step with the camera. */
#define MANY_PLACES 7.0

#define ROOT_2        1.4142135623730951
#define NORMAL_HEIGHT 0.3989422804014327

/* What an edge says: the lit share of the sample most likely to hold it, and the noise of that. */
struct glimpse {
    double lit;
    double dark_sd;
    double lit_sd;
};

static double lit_share(const struct lamp_window *window, size_t i)
{
    return (window->level[i] - window->dark[i]) / (window->lit[i] - window->dark[i]);
}

static bool glimpse_at(const struct lamp_window *window, const struct lamp_light_model *model,
                       const struct lamp_crossing *crossing, struct glimpse *out)
{
    if (crossing->how != LAMP_CROSSING_WITHIN && crossing->how != LAMP_CROSSING_BETWEEN) {
        return false;
    }
    size_t i = crossing->first;
    if (lamp_window_has_gap(window, i)) {
        return false; /* no exposure where there would have been one */
    }
    if (crossing->how == LAMP_CROSSING_BETWEEN) {
        const double first = fabs(lit_share(window, i) - (crossing->lit ? 0 : 1));
        const double last = fabs(lit_share(window, i + 1) - (crossing->lit ? 1 : 0));
        i += last > first;
    }
    const double step = window->lit[i] - window->dark[i];
    *out = (struct glimpse){lit_share(window, i), model->dark_sd / step, model->lit_sd / step};
    return true;
}

static double normal(double x, double sd)
{
    return NORMAL_HEIGHT / sd * exp(-x * x / (2 * sd * sd));
}

/* Chance that the sample is partly lit, if `share` of edges leave one. */
static double weigh_part(const struct glimpse *glimpse, double share)
{
    const double noise = glimpse->lit < 0.5 ? glimpse->dark_sd : glimpse->lit_sd;
    const double inside =
        0.5 * (erf(glimpse->lit / (noise * ROOT_2)) - erf((glimpse->lit - 1) / (noise * ROOT_2)));
    const double pure =
        0.5 * (normal(glimpse->lit, glimpse->dark_sd) + normal(glimpse->lit - 1, glimpse->lit_sd));
    const double part = share * inside;
    const double all = part + (1 - share) * pure;
    return all > 0 ? part / all : 0.5;
}

/* At how many places the edges fell: e to the entropy of the places. */
static double count_places(const struct lamp_exposure *sum)
{
    double entropy = 0;
    for (size_t i = 0; i < LAMP_EXPOSURE_PLACES; i++) {
        const double share = sum->place[i] / sum->parts;
        entropy -= share > 0 ? share * log(share) : 0;
    }
    return exp(entropy);
}

/*
 * Edges in step with the camera fall to a few places again and again: together they say no more
 * than as many edges as there are places. None within an exposure may all be at one place outside
 * it.
 */
static double count_apart(const struct lamp_exposure *sum)
{
    if (sum->parts < 1) {
        return fmin(sum->edges / 2, MANY_PLACES);
    }
    const double places = count_places(sum);
    return places >= MANY_PLACES ? sum->edges : fmin(sum->edges, places * sum->edges / sum->parts);
}

static double told_share(const struct lamp_exposure *sum)
{
    const double trust = sum->edges > 0 ? count_apart(sum) / sum->edges : 0;
    return (trust * sum->parts + PRIOR_PARTS) / (trust * sum->edges + PRIOR_EDGES);
}

void lamp_exposure_note(struct lamp_exposure *exposure, const struct lamp_window *window,
                        const struct lamp_light_model *model, const struct lamp_crossing *crossing)
{
    struct glimpse glimpse;
    if (!glimpse_at(window, model, crossing, &glimpse)) {
        return;
    }
    const double share = window->interval_s > 0 ? exposure->exposure_s / window->interval_s : 0.5;
    const double part = weigh_part(&glimpse, share);
    const double lit = fmin(fmax(glimpse.lit, 0), 1);
    const double place = crossing->lit ? 1 - lit : lit;
    exposure->edges += 1;
    exposure->parts += part;
    exposure->place[(size_t)(place * (LAMP_EXPOSURE_PLACES - 0.001))] += part;
}

/* One round: the share of part-lit edges, given the last round's. */
static struct lamp_exposure sum_glimpses(const struct lamp_window *window,
                                         const struct lamp_light_model *model,
                                         const struct lamp_exposure *so_far)
{
    struct lamp_exposure sum = *so_far;
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    for (size_t i = window->decided; i < window->count; i++) {
        const size_t count = lamp_crossings_at(window, i, at);
        for (size_t c = 0; c < count; c++) {
            lamp_exposure_note(&sum, window, model, &at[c]);
        }
    }
    return sum;
}

void lamp_exposure_learn(struct lamp_exposure *exposure, const struct lamp_window *window,
                         const struct lamp_levels *levels)
{
    if (window->exposure_s > 0) {
        exposure->exposure_s = window->exposure_s;
        exposure->sd_s = 0;
        return;
    }
    if (!levels->has_two) {
        return;
    }
    double share = told_share(exposure);
    double apart = 0;
    for (int round = 0; round < ROUNDS; round++) {
        exposure->exposure_s = share * window->interval_s;
        const struct lamp_exposure sum = sum_glimpses(window, &levels->model, exposure);
        share = told_share(&sum);
        apart = count_apart(&sum);
    }
    exposure->exposure_s = share * window->interval_s;
    exposure->sd_s = window->interval_s * sqrt(share * (1 - share) / (apart + PRIOR_EDGES + 1));
}
