/* guess.c - One set of two levels and what goes with them, learnt from a window's samples.
 *
 * From a few rough splits of the samples into dark and lit, the levels, their noise and the rate of
 * edges are learnt by turns with the likeliest path (path.c) until the path stays. The best of
 * these is kept.
 */
#include "rhythm/guess.h"

#include <math.h>
#include <string.h>

#define ROUNDS 8

/* Samples at either end of all levels that may be wild, share of all. */
#define WILD_SHARE 0.005

/* Light that goes farther below nothing than above it is what taking away the surroundings left. */
#define LEAST_OVER_DARK (-1.5)

/* The nearest quarter of normal samples is within so many sds. */
#define NEAREST_SDS 0.3186

static void split_at(struct lamp_window *window, const double *threshold, double flat)
{
    for (size_t i = window->decided; i < window->count; i++) {
        const double limit = threshold != NULL ? threshold[i] : flat;
        window->kind[i] = window->level[i] > limit ? LAMP_KIND_LIT : LAMP_KIND_DARK;
    }
}

/* Level at `share` of the way through the samples of one kind; and how near to it the nearest of
 * them are. */
static double find_level(struct lamp_window *window, enum lamp_kind kind, double share, double *sd)
{
    double *found = window->room[0];
    size_t count = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (window->kind[i] == kind) {
            found[count++] = window->level[i];
        }
    }
    const double level = lamp_quantile(found, count, share);
    for (size_t i = 0; i < count; i++) {
        found[i] = fabs(found[i] - level);
    }
    *sd = lamp_quantile(found, count, 0.25) / NEAREST_SDS;
    return level;
}

static void set_flat(struct lamp_window *window, const struct lamp_guess *guess)
{
    for (size_t i = 0; i < window->count; i++) {
        window->dark[i] = guess->dark;
        window->lit[i] = guess->lit;
    }
}

/* Begin sure of the levels, near the extremes of the window's kinds: for light that is seldom
 * still. */
static void begin_tight(struct lamp_window *window, struct lamp_guess *guess)
{
    struct lamp_light_model *model = &guess->model;
    guess->dark = find_level(window, LAMP_KIND_DARK, 0.25, &model->dark_sd);
    guess->lit = find_level(window, LAMP_KIND_LIT, 0.75, &model->lit_sd);
    model->step = fmax(fabs(guess->lit - guess->dark), LAMP_LEAST_NOISE);
    guess->lit = guess->dark + model->step;
    model->dark_sd = lamp_noise_floor(model->dark_sd, model);
    model->lit_sd = lamp_noise_floor(model->lit_sd, model);
    model->edge_share = 0.3;
    model->pulse_share = 0.1;
    model->soft_share = 0.1;
    model->stray_share = LAMP_STRAY_SHARE_MOST;
    model->exposed = window->exposure_s > 0 ? window->exposure_s / window->interval_s : 0.5;
    set_flat(window, guess);
    (void)lamp_path_find(window, model);
}

/* Begin with the typical levels of the window's kinds, unsure of them: for light that drifts. */
static void begin_loose(struct lamp_window *window, struct lamp_guess *guess)
{
    guess->dark = lamp_level_typical(window, LAMP_KIND_DARK);
    guess->lit = lamp_level_typical(window, LAMP_KIND_LIT);
    guess->model.step = fmax(fabs(guess->lit - guess->dark), LAMP_LEAST_NOISE);
    guess->model.dark_sd = guess->model.step;
    guess->model.lit_sd = guess->model.step;
    set_flat(window, guess);
    lamp_guess_learn(window, guess);
}

static void keep(struct lamp_window *window)
{
    memcpy(window->kept_kind, window->kind, window->count);
    memcpy(window->kept_dark, window->dark, window->count * sizeof *window->dark);
    memcpy(window->kept_lit, window->lit, window->count * sizeof *window->lit);
}

static void take_kept(struct lamp_window *window)
{
    memcpy(window->kind, window->kept_kind, window->count);
    memcpy(window->dark, window->kept_dark, window->count * sizeof *window->dark);
    memcpy(window->lit, window->kept_lit, window->count * sizeof *window->lit);
}

/* The threshold that parts levels into two classes farthest apart (N. Otsu, IEEE Trans. SMC 9,
 * 1979). */
static double find_threshold(const double *sorted, size_t count)
{
    double all = 0;
    for (size_t i = 0; i < count; i++) {
        all += sorted[i];
    }
    double low = 0;
    double best = -1;
    double threshold = sorted[0];
    for (size_t i = 0; i + 1 < count; i++) {
        low += sorted[i];
        const double n = (double)(i + 1);
        const double m = (double)count - n;
        const double apart = low / n - (all - low) / m;
        if (n * m * apart * apart > best) {
            best = n * m * apart * apart;
            threshold = (sorted[i] + sorted[i + 1]) / 2;
        }
    }
    return threshold;
}

/* Whether the levels could be those of a lamp, whatever it does. */
static bool is_lamp(const struct lamp_guess *guess, const struct lamp_edger_rules *rules)
{
    return guess->lit >= rules->least_level &&
           guess->lit - guess->dark >= rules->least_step * guess->lit &&
           guess->lit > LEAST_OVER_DARK * guess->dark;
}

static bool is_better(const struct lamp_guess *guess, const struct lamp_guess *best)
{
    return guess->is_lamp != best->is_lamp ? guess->is_lamp : guess->score > best->score;
}

/* Learn by turns with the path, until that stays; keep whatever explains the samples best so far.
 */
static void settle_try(struct lamp_window *window, const struct lamp_edger_rules *rules,
                       struct lamp_guess *guess, struct lamp_guess *best)
{
    for (int round = 0; round < ROUNDS; round++) {
        memcpy(window->last_kind, window->kind, window->count);
        lamp_guess_learn(window, guess);
        guess->score = lamp_path_find(window, &guess->model) - guess->free;
        guess->is_lamp = is_lamp(guess, rules);
        if (is_better(guess, best)) {
            *best = *guess;
            keep(window);
        }
        if (memcmp(window->last_kind, window->kind, window->count) == 0) {
            break;
        }
    }
}

/* Learn from one start. */
static void try_start(struct lamp_window *window, const struct lamp_edger_rules *rules,
                      bool is_tight, struct lamp_guess *best)
{
    struct lamp_guess guess = {.model = {.range = best->model.range, .reach = best->model.reach}};
    if (is_tight) {
        begin_tight(window, &guess);
    } else {
        begin_loose(window, &guess);
    }
    settle_try(window, rules, &guess, best);
}

void lamp_guess_best(struct lamp_window *window, const struct lamp_edger_rules *rules,
                     const double *known, struct lamp_guess *best)
{
    double *sorted = window->room[0];
    memcpy(sorted, window->level, window->count * sizeof *sorted);
    (void)lamp_quantile(sorted, window->count, 0);
    best->model.range = fmax(sorted[window->count - 1] - sorted[0], LAMP_LEAST_NOISE);
    const size_t wild = (size_t)(WILD_SHARE * (double)window->count) + 1;
    best->model.reach =
        window->count > 2 * wild ? sorted[window->count - 1 - wild] - sorted[wild] : 0;
    const size_t inner = window->count > 4 ? 1 : 0;
    const double classes = find_threshold(sorted, window->count);
    const double middle = (sorted[inner] + sorted[window->count - 1 - inner]) / 2;
    split_at(window, NULL, classes);
    try_start(window, rules, false, best);
    split_at(window, NULL, classes);
    try_start(window, rules, true, best);
    split_at(window, NULL, middle);
    try_start(window, rules, true, best);
    split_at(window, window->one, 0);
    try_start(window, rules, false, best);
    if (known != NULL) {
        split_at(window, NULL, *known);
        try_start(window, rules, false, best);
    }
    take_kept(window);
}
