/* place.c - The time of an edge, from how much of an exposure was lit.
 *
 *            sample i          sample i+1          came on at  t = start + exposure * (1 - lit
 * share),
 *      |=== exposure ===|----|=== exposure ===|    went off at t = start + exposure * lit share,
 *                ^ part lit ^ between              between exposures: anywhere there.
 *
 * Near the ends of an exposure noise hides which of these it was; the three are weighed and their
 * mean and spread taken, so that nothing is rounded to a frame.
 */
#include "rhythm/place.h"

#include <math.h>

/* Stamps are no better than this, s, or this share of the interval. */
#define STAMP_SD_S     0.0003
#define STAMP_SD_SHARE 0.02

/* An edge next to a level that was never seen for a whole exposure is not known better than this,
 * of the interval. */
#define UNSURE_SHARE 0.25

/* Levels are not known better than to this share of the step. */
#define LEVEL_SHARE 0.01

#define SLOTS 3

/* A sample is on the way between the levels if it is off both by so many sds, and this share of the
 * step. */
#define MIDWAY_SDS   5.0
#define MIDWAY_SHARE 0.04
#define MIDWAY_MOST  4

/* The middle of a soft edge is not known better than this share of the interval. */
#define SOFT_SD_SHARE 0.15

#define ROOT_2        1.4142135623730951
#define NORMAL_HEIGHT 0.3989422804014327

/* A stretch of time that may hold the edge. */
struct slot {
    double weight;
    double mean_s;
    double var;
    double lean; /* How much of an error of the exposure goes into the time. */
};

/* All that is needed to place one edge. */
struct scene {
    const struct lamp_window *window;
    const struct lamp_light_model *model;
    const struct lamp_exposure *exposure;
    bool lit;
    bool is_unsure; /* A level was not seen for a whole exposure. */
};

static double exposure_at(const struct scene *scene, size_t i)
{
    const int64_t ns = scene->window->exposure_ns[i];
    const double told = ns > 0 ? (double)ns / 1e9 : scene->exposure->exposure_s;
    return fmin(told, scene->window->span_s[i]);
}

/* Density of sample `i` if it is all dark or all lit. */
static double weigh_state(const struct scene *scene, size_t i, bool lit)
{
    const struct lamp_window *window = scene->window;
    const double off = window->level[i] - (lit ? window->lit[i] : window->dark[i]);
    const double sd = lit ? scene->model->lit_sd : scene->model->dark_sd;
    const struct lamp_scatter scatter = lamp_scatter_make(sd, scene->model);
    return exp(lamp_scatter_log(&scatter, off));
}

/* Mean and variance of a normal quantity known to be from 0 to 1; returns how likely it was to be.
 */
static double cut_normal(double mean, double sd, double *out_mean, double *out_var)
{
    const double a = -mean / sd;
    const double b = (1 - mean) / sd;
    const double mass = 0.5 * (erf(b / ROOT_2) - erf(a / ROOT_2));
    if (mass < 1e-6) {
        *out_mean = mean < 0.5 ? 0 : 1;
        *out_var = sd * sd / 4;
        return 1e-6;
    }
    const double at_a = NORMAL_HEIGHT * exp(-a * a / 2) / mass;
    const double at_b = NORMAL_HEIGHT * exp(-b * b / 2) / mass;
    const double shift = at_a - at_b;
    *out_mean = mean + sd * shift;
    *out_var = sd * sd * fmax(0, 1 + a * at_a - b * at_b - shift * shift);
    return mass;
}

/* Lit share of sample `i` and its variance; returns how likely such a level is for any share. */
static double measure_share(const struct scene *scene, size_t i, double *share, double *var)
{
    const struct lamp_window *window = scene->window;
    const double step = window->lit[i] - window->dark[i];
    const double raw = (window->level[i] - window->dark[i]) / step;
    const double part = fmin(fmax(raw, 0), 1);
    const double dark_sd = scene->model->dark_sd * (1 - part);
    const double lit_sd = scene->model->lit_sd * part;
    const double sd = sqrt(dark_sd * dark_sd + lit_sd * lit_sd) / step;
    return cut_normal(raw, sqrt(sd * sd + LEVEL_SHARE * LEVEL_SHARE), share, var);
}

/* The edge is within the exposure of sample `i`. */
static struct slot slot_within(const struct scene *scene, size_t i)
{
    const double exposure_s = exposure_at(scene, i);
    double share;
    double var;
    const double mass = measure_share(scene, i, &share, &var);
    const double lean = scene->lit ? 1 - share : share;
    return (struct slot){.weight = mass * exposure_s / scene->model->step,
                         .mean_s = scene->window->t_s[i] + exposure_s * lean,
                         .var = exposure_s * exposure_s * var,
                         .lean = lean};
}

/* The edge is between the exposures of samples `i` and `i` + 1. */
static struct slot slot_between(const struct scene *scene, size_t i)
{
    const double exposure_s = exposure_at(scene, i);
    const double unseen_s = fmax(scene->window->span_s[i] - exposure_s, 0);
    return (struct slot){.weight = unseen_s,
                         .mean_s = scene->window->t_s[i] + exposure_s + unseen_s / 2,
                         .var = unseen_s * unseen_s / 12,
                         .lean = 0.5};
}

static bool is_pure(const struct lamp_window *window, size_t i)
{
    return window->kind[i] == LAMP_KIND_DARK || window->kind[i] == LAMP_KIND_LIT;
}

/* Seen as within sample `i`: there, or just before or after it. */
static size_t list_within(const struct scene *scene, size_t i, struct slot slot[SLOTS])
{
    const struct lamp_window *window = scene->window;
    size_t count = 0;
    slot[count++] = slot_within(scene, i);
    if (i > 0 && is_pure(window, i - 1)) {
        slot[count] = slot_between(scene, i - 1);
        slot[count++].weight *= weigh_state(scene, i, scene->lit);
    }
    if (i + 1 < window->count && is_pure(window, i + 1)) {
        slot[count] = slot_between(scene, i);
        slot[count++].weight *= weigh_state(scene, i, !scene->lit);
    }
    return count;
}

/* Seen as between samples `i` and `i` + 1: there, or within either. */
static size_t list_between(const struct scene *scene, size_t i, struct slot slot[SLOTS])
{
    const double old_before = weigh_state(scene, i, !scene->lit);
    const double new_after = weigh_state(scene, i + 1, scene->lit);
    size_t count = 0;
    slot[count] = slot_between(scene, i);
    slot[count++].weight *= old_before * new_after;
    if (is_pure(scene->window, i)) {
        slot[count] = slot_within(scene, i);
        slot[count++].weight *= new_after;
    }
    if (is_pure(scene->window, i + 1)) {
        slot[count] = slot_within(scene, i + 1);
        slot[count++].weight *= old_before;
    }
    return count;
}

/* One edge of a flash (or break) seen in sample `i` alone: all within, or cut by either end of the
 * exposure. */
static size_t list_pulse(const struct scene *scene, size_t i, struct slot slot[SLOTS])
{
    const struct lamp_window *window = scene->window;
    const bool begins = scene->lit == (window->kind[i] == LAMP_KIND_FLASH);
    double share;
    double var;
    measure_share(scene, i, &share, &var);
    const double exposure_s = exposure_at(scene, i);
    const double length = window->kind[i] == LAMP_KIND_FLASH ? share : 1 - share;
    const double slack_s = exposure_s * (1 - length);
    const double at_s = window->t_s[i] + (begins ? 0 : exposure_s * length);
    const double noise = exposure_s * exposure_s * var;
    size_t count = 0;
    slot[count++] =
        (struct slot){slack_s + 1e-9, at_s + slack_s / 2, slack_s * slack_s / 12 + noise, 0.5};
    const double after_s = fmax(window->span_s[i] - exposure_s, 0);
    const double before_s = i > 0 ? fmax(window->span_s[i - 1] - exposure_at(scene, i - 1), 0) : 0;
    const struct slot early = {before_s, begins ? window->t_s[i] - before_s / 2 : at_s,
                               (begins ? before_s * before_s / 12 : 0) + noise, 0.5};
    const struct slot late = {after_s,
                              window->t_s[i] + (begins ? slack_s : exposure_s + after_s / 2),
                              (begins ? 0 : after_s * after_s / 12) + noise, 0.5};
    slot[count++] = early;
    slot[count++] = late;
    return count;
}

static void mix_slots(const struct scene *scene, const struct slot *slot, size_t count,
                      struct lamp_place *out)
{
    double weight = 0;
    double mean = 0;
    double lean = 0;
    for (size_t i = 0; i < count; i++) {
        weight += slot[i].weight;
        mean += slot[i].weight * slot[i].mean_s;
        lean += slot[i].weight * slot[i].lean;
    }
    const double share = weight > 0 ? 1 / weight : 0;
    mean = weight > 0 ? mean * share : slot[0].mean_s;
    double var = weight > 0 ? 0 : slot[0].var;
    for (size_t i = 0; i < count; i++) {
        const double off = slot[i].mean_s - mean;
        var += slot[i].weight * share * (slot[i].var + off * off);
    }
    const double least_sd = fmin(STAMP_SD_S, STAMP_SD_SHARE * scene->window->interval_s);
    const double stamp_sd = fmax(least_sd, scene->window->stamp_sd_s);
    const double exposure_sd = lean * share * scene->exposure->sd_s;
    const double level_sd = scene->is_unsure ? UNSURE_SHARE * scene->window->interval_s : 0;
    out->t_s = mean;
    out->sd_s = sqrt(var + stamp_sd * stamp_sd + exposure_sd * exposure_sd + level_sd * level_sd);
}

/* A soft edge: where the light crosses the middle, the samples taken at the middle of their
 * exposures. */
static void place_soft(const struct scene *scene, const struct lamp_crossing *crossing,
                       struct lamp_place *out)
{
    const struct lamp_window *window = scene->window;
    const size_t end = crossing->last + 1 < window->count ? crossing->last + 1 : crossing->last;
    size_t i = crossing->first > 0 ? crossing->first - 1 : 0;
    double was = 0;
    double is = 0;
    for (; i < end; i++) {
        was = window->level[i] - (window->dark[i] + window->lit[i]) / 2;
        is = window->level[i + 1] - (window->dark[i + 1] + window->lit[i + 1]) / 2;
        if ((was < 0) != (is < 0) && (is > was) == crossing->lit) {
            break;
        }
    }
    const bool found = i < end;
    const double share = found ? was / (was - is) : 0.5;
    const size_t at = found ? i : (crossing->first + crossing->last) / 2;
    const double length_s = window->t_s[end] - window->t_s[crossing->first];
    out->t_s = window->t_s[at] + share * window->span_s[at] + exposure_at(scene, at) / 2;
    out->sd_s = fmax(SOFT_SD_SHARE * window->interval_s, length_s / (found ? 10 : sqrt(12)));
}

/* Whether a sample taken for all dark or all lit is on the way between the two. */
static bool is_midway(const struct scene *scene, size_t i)
{
    const struct lamp_window *window = scene->window;
    const double step = window->lit[i] - window->dark[i];
    const double share = (window->level[i] - window->dark[i]) / step;
    const double dark = fmax(MIDWAY_SDS * scene->model->dark_sd / step, MIDWAY_SHARE);
    const double lit = fmax(MIDWAY_SDS * scene->model->lit_sd / step, MIDWAY_SHARE);
    return is_pure(window, i) && share > dark && share < 1 - lit;
}

/* An edge with more samples on the way than one exposure explains is soft, however it was seen. */
static bool soften(const struct scene *scene, struct lamp_crossing *crossing)
{
    if (crossing->how != LAMP_CROSSING_WITHIN && crossing->how != LAMP_CROSSING_BETWEEN) {
        return crossing->how == LAMP_CROSSING_SOFT;
    }
    const bool is_between = crossing->how == LAMP_CROSSING_BETWEEN;
    size_t first = is_between ? crossing->last : crossing->first;  /* Of the samples on the way, */
    size_t end = is_between ? crossing->last : crossing->last + 1; /* and one past their last. */
    for (int more = 0; more < MIDWAY_MOST && first > 0 && is_midway(scene, first - 1); more++) {
        first--;
    }
    for (int more = 0; more < MIDWAY_MOST && end < scene->window->count && is_midway(scene, end);
         more++) {
        end++;
    }
    if (end < first + 2) {
        return false;
    }
    *crossing = (struct lamp_crossing){first, end - 1, LAMP_CROSSING_SOFT, crossing->lit};
    return true;
}

void lamp_edge_place(const struct lamp_window *window, const struct lamp_levels *levels,
                     const struct lamp_exposure *exposure, const struct lamp_crossing *crossing,
                     struct lamp_place *out)
{
    const struct scene scene = {window, &levels->model, exposure, crossing->lit,
                                !levels->dark_is_sure || !levels->lit_is_sure};
    struct lamp_crossing seen = *crossing;
    if (soften(&scene, &seen)) {
        place_soft(&scene, &seen, out);
        return;
    }
    struct slot slot[SLOTS] = {{.weight = 0}};
    size_t count = 0;
    switch (crossing->how) {
    case LAMP_CROSSING_SOFT: return; /* Placed above. */
    case LAMP_CROSSING_WITHIN: count = list_within(&scene, crossing->first, slot); break;
    case LAMP_CROSSING_BETWEEN: count = list_between(&scene, crossing->first, slot); break;
    case LAMP_CROSSING_PULSE: count = list_pulse(&scene, crossing->first, slot); break;
    }
    mix_slots(&scene, slot, count, out);
}
