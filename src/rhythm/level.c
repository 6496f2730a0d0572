/* level.c - Two levels that follow the light, or one: learnt from the samples together with their
 * noise.
 *
 * The best guess of two levels (guess.c) is held against the other way to see the samples: one
 * level that drifts. Two levels are believed if they explain the samples much better, are far
 * enough apart, and one could be a lamp's.
 */
#include "rhythm/level.h"

#include <math.h>
#include <string.h>

#include "rhythm/crossing.h"
#include "rhythm/guess.h"
#include "rhythm/single.h"

/*
 * Levels of white noise, split, are 2.65 of the halves' sds apart, of a triangle wave 3.5. One
 * level may scatter widely if the other does not: a lamp that dims to all depths.
 */
#define LEAST_SDS         3.2
#define LEAST_UNEQUAL_SDS 5.0

/* Exposures shorter than this share of the interval seldom hold an edge. */
#define BRIEF_EXPOSURE 0.5

/* Room light and dimmed lamps alias: steps of less than this share of the light, with so many edges
 * a sample. */
#define RIPPLE_SHARE   0.35
#define RIPPLE_EDGES   0.18
#define RIPPLE_COUNT   8
#define RIPPLE_SCATTER 0.5

/* Evidence asked for, nats, and for each factor e of samples. */
#define LEAST_EVIDENCE     12.0
#define EVIDENCE_PER_COUNT 1.0
#define KNOWN_EVIDENCE     4.0

/* Fewer samples than this cannot tell two levels from one. */
#define LEAST_SAMPLES 6

static double pool_noise(const struct lamp_light_model *model)
{
    return sqrt((model->dark_sd * model->dark_sd + model->lit_sd * model->lit_sd) / 2);
}

/* Scatter of the lengths between edges, over their mean; infinite if there are too few. */
static double measure_scatter(const struct lamp_window *window, double *mean)
{
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    double count = 0;
    double sum = 0;
    double squares = 0;
    size_t last = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (lamp_crossings_at(window, i, at) > 0) {
            const double length = (double)(i - last);
            count += 1;
            sum += length;
            squares += length * length;
            last = i;
        }
    }
    *mean = sum / fmax(count, 1);
    return count < RIPPLE_COUNT ? INFINITY : sqrt(fmax(0, squares / count - *mean * *mean)) / *mean;
}

/* Whether two levels are only the ripple of one: shallow, quick, regular, and no better than waves.
 */
static bool is_ripple(struct lamp_window *window, const struct lamp_guess *guess, double free)
{
    const struct lamp_light_model *model = &guess->model;
    double samples;
    if (model->step >= RIPPLE_SHARE * guess->lit || model->edge_share <= RIPPLE_EDGES ||
        measure_scatter(window, &samples) >= RIPPLE_SCATTER) {
        return false;
    }
    const double cycle_s = 2 * samples * window->interval_s;
    const double evidence = guess->score - lamp_single_score_ripple(window, model, free, cycle_s);
    return evidence < LEAST_EVIDENCE + EVIDENCE_PER_COUNT * log((double)window->count);
}

/* Whether two levels are a lamp's, and far enough apart for their noise. */
static bool stands_out(const struct lamp_guess *guess)
{
    const struct lamp_light_model *model = &guess->model;
    const double step = guess->lit - guess->dark;
    return guess->is_lamp && (step >= LEAST_SDS * pool_noise(model) ||
                              step >= LEAST_UNEQUAL_SDS * sqrt(model->dark_sd * model->lit_sd));
}

static double ask_evidence(const struct lamp_guess *guess, const struct lamp_levels *before,
                           size_t count)
{
    const bool is_known = before != NULL && before->has_two &&
                          fabs(guess->lit - before->lit) < 0.4 * (before->lit - before->dark);
    return is_known ? KNOWN_EVIDENCE : LEAST_EVIDENCE + EVIDENCE_PER_COUNT * log((double)count);
}

static bool is_part(const struct lamp_window *window, size_t i)
{
    return window->kind[i] == LAMP_KIND_ON || window->kind[i] == LAMP_KIND_OFF;
}

/* Whether a level is sure: some sample showed it for its whole exposure, as its neighbours tell. */
static bool is_sure(const struct lamp_window *window, const struct lamp_light_model *model,
                    enum lamp_kind kind)
{
    const bool any_will_do = window->exposure_s > 0 && model->exposed < BRIEF_EXPOSURE;
    for (size_t i = 1; i + 1 < window->count; i++) {
        const bool is_within = is_part(window, i - 1) && is_part(window, i + 1);
        const bool is_pair = window->kind[i + 1] == kind;
        if (window->kind[i] == kind && (is_within || is_pair || any_will_do)) {
            return true;
        }
    }
    return false;
}

/* The lamp is all along as it was, or as its level says. */
void lamp_levels_take_one(struct lamp_window *window, const struct lamp_edger_rules *rules,
                          struct lamp_levels *levels)
{
    levels->has_two = false;
    levels->noise = lamp_single_spread(window, false);
    memcpy(window->room[0], window->one, window->count * sizeof *window->one);
    levels->lit = levels->dark = lamp_quantile(window->room[0], window->count, 0.5);
    const bool lit =
        window->decided > 0
            ? lamp_kind_end((enum lamp_kind)window->kind[window->decided - 1]) % 2 == LAMP_STATE_LIT
            : levels->lit >= rules->least_level;
    for (size_t i = 0; i < window->count; i++) {
        window->dark[i] = window->lit[i] = window->one[i];
        window->kind[i] =
            i < window->decided ? window->kind[i] : (lit ? LAMP_KIND_LIT : LAMP_KIND_DARK);
    }
}

void lamp_levels_fit(struct lamp_window *window, const struct lamp_edger_rules *rules,
                     const struct lamp_levels *before, struct lamp_levels *out)
{
    struct lamp_levels levels = {.has_two = false};
    const double free = lamp_single_follow(window);
    if (window->count >= LEAST_SAMPLES) {
        const double known = before != NULL ? (before->dark + before->lit) / 2 : 0;
        struct lamp_guess best = {.score = -INFINITY};
        lamp_guess_best(window, rules, before != NULL ? &known : NULL, &best);
        levels.evidence = best.score - lamp_single_score(window, &best.model, free);
        levels.has_two = stands_out(&best) &&
                         levels.evidence >= ask_evidence(&best, before, window->count) &&
                         !is_ripple(window, &best, free);
        levels.model = best.model;
        levels.dark_is_sure = is_sure(window, &best.model, LAMP_KIND_DARK);
        levels.lit_is_sure = is_sure(window, &best.model, LAMP_KIND_LIT);
        levels.dark = best.dark;
        levels.lit = best.lit;
        levels.noise = pool_noise(&best.model);
    }
    if (!levels.has_two) {
        lamp_levels_take_one(window, rules, &levels);
    }
    *out = levels;
}
