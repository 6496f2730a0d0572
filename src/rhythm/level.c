/* level.c - Two levels that follow the light, or one: learnt from the samples together with their
 * noise.
 *
 * From a few rough splits of the samples into dark and lit, the levels, their noise and the rate of
 * edges are learnt by turns with the likeliest path (path.c) until the path stays. The best of
 * these is held against the other way to see the samples: one level that drifts. Two levels are
 * believed if they explain the samples much better, are far enough apart, and one could be a
 * lamp's.
 */
#include "rhythm/level.h"

#include <math.h>
#include <string.h>

#include "rhythm/crossing.h"
#include "rhythm/track.h"

#define ROUNDS 8

/* How a level is followed: auto exposure and hands move it over a second or more. */
#define NEAR_S 0.6
#define FAR_S  3.0

/* One level alone follows quicker, to explain all that is slow. */
#define DRIFT_NEAR_S 0.4
#define DRIFT_FAR_S  2.0

/* A level stays this near to its typical value: of the step, or of itself. */
#define REACH 0.4

/* Noise is never less than this share of the step: rounding, codec. */
#define LEAST_NOISE_SHARE 0.004
#define LEAST_NOISE       1e-6

/* The nearest quarter of normal samples is within so many sds. */
#define NEAREST_SDS 0.3186

/* Samples' worth of trust in the noise of both levels together. */
#define POOL_TRUST 6.0

/*
 * Levels of white noise, split, are 2.65 of the halves' sds apart, of a triangle wave 3.5. One
 * level may scatter widely if the other does not: a lamp that dims to all depths.
 */
#define LEAST_SDS         3.2
#define LEAST_UNEQUAL_SDS 5.0

/* An edge is never likelier than none, however quick the light: edges would be made up where there
 * are none. */
#define EDGE_SHARE_MOST 0.4

/* Exposures shorter than this share of the interval seldom hold an edge. */
#define BRIEF_EXPOSURE 0.5

/* A sample this far from its level strays. */
#define STRAY_SDS 4.0

/* Strays, pulses within an exposure, soft edges are at most this share of samples, of lengths, of
 * edges. */
#define STRAY_SHARE_MOST 0.02
#define PULSE_SHARE_MOST 0.6
#define SOFT_SHARE_MOST  0.8

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

struct
try {
    struct lamp_light_model model;
    double dark;
    double lit;
    double free; /* Free numbers in the two levels. */
    double score;
};

static double floor_noise(double sd, double step)
{
    return fmax(sd, fmax(LEAST_NOISE, LEAST_NOISE_SHARE * step));
}

static bool is_pure(const struct lamp_window *window, size_t i, enum lamp_kind kind)
{
    return window->kind[i] == kind;
}

/* Typical level of the samples of one kind; where there are none, the farthest level of all. */
static double find_typical(struct lamp_window *window, enum lamp_kind kind)
{
    double *found = window->room[0];
    size_t count = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (is_pure(window, i, kind)) {
            found[count++] = window->level[i];
        }
    }
    if (count > 0) {
        return lamp_quantile(found, count, 0.5);
    }
    memcpy(found, window->level, window->count * sizeof *found);
    return lamp_quantile(found, window->count, kind == LAMP_KIND_LIT ? 1 : 0);
}

/* Follow one level through its samples; those far off count little. */
static double follow_kind(struct lamp_window *window, enum lamp_kind kind, double typical,
                          const struct try *try, double *out)
{
    const double sd = kind == LAMP_KIND_LIT ? try->model.lit_sd : try->model.dark_sd;
    for (size_t i = 0; i < window->count; i++) {
        const double off = (window->level[i] - out[i]) / (3 * sd);
        window->weight[i] = is_pure(window, i, kind) ? 1 / (1 + off * off) : 0;
    }
    const struct lamp_track_rules rules = {.near_s = NEAR_S,
                                           .far_s = FAR_S,
                                           .rest = typical,
                                           .reach = REACH * fmax(try->model.step, fabs(typical))};
    return lamp_track_follow(window, window->weight, &rules, out);
}

/* Sum of squares about a level, strays cut to 3 sds. */
static double sum_squares(const struct lamp_window *window, enum lamp_kind kind,
                          const double *level, double sd, size_t *count)
{
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (is_pure(window, i, kind)) {
            const double off = fmin(fabs(window->level[i] - level[i]), 3 * sd);
            sum += off * off;
            ++*count;
        }
    }
    return sum;
}

static void learn_noise(const struct lamp_window *window, struct try *try)
{
    struct lamp_light_model *model = &try->model;
    size_t darks = 0;
    size_t lits = 0;
    const double dark = sum_squares(window, LAMP_KIND_DARK, window->dark, model->dark_sd, &darks);
    const double lit = sum_squares(window, LAMP_KIND_LIT, window->lit, model->lit_sd, &lits);
    const double all = (double)(darks + lits);
    const double pool = all > 0 ? (dark + lit) / all : 0;
    model->dark_sd =
        floor_noise(sqrt((dark + POOL_TRUST * pool) / ((double)darks + POOL_TRUST)), model->step);
    model->lit_sd =
        floor_noise(sqrt((lit + POOL_TRUST * pool) / ((double)lits + POOL_TRUST)), model->step);
}

/* What a path holds. */
struct count {
    double edges;
    double parts;  /* Edges within an exposure. */
    double pulses; /* Flashes and breaks within one. */
    double softs;  /* Edges that take several samples. */
    double strays; /* Samples far from their level. */
};

/* Whether samples `i` - 1 and `i` share a flash or break that is shorter than an exposure. */
static bool is_split(const struct lamp_window *window, size_t i)
{
    if (i == 0) {
        return false;
    }
    const double step = window->lit[i] - window->dark[i];
    const double lit = (window->level[i - 1] + window->level[i] - 2 * window->dark[i]) / step;
    const enum lamp_kind was = (enum lamp_kind)window->kind[i - 1];
    const enum lamp_kind is = (enum lamp_kind)window->kind[i];
    return (was == LAMP_KIND_ON && is == LAMP_KIND_OFF && lit < LAMP_SPLIT_LEAST) ||
           (was == LAMP_KIND_OFF && is == LAMP_KIND_ON && 2 - lit < LAMP_SPLIT_LEAST);
}

static struct count count_path(const struct lamp_window *window,
                               const struct lamp_light_model *model)
{
    struct count count = {.edges = 0};
    for (size_t i = 0; i < window->count; i++) {
        const enum lamp_kind kind = (enum lamp_kind)window->kind[i];
        const double dark = fabs(window->level[i] - window->dark[i]) / model->dark_sd;
        const double lit = fabs(window->level[i] - window->lit[i]) / model->lit_sd;
        const bool is_pulse = kind == LAMP_KIND_FLASH || kind == LAMP_KIND_BREAK;
        const bool is_part = kind == LAMP_KIND_ON || kind == LAMP_KIND_OFF;
        count.pulses += is_pulse || is_split(window, i);
        count.softs += lamp_kind_is_soft(kind) && (i == 0 || window->kind[i - 1] != kind);
        count.parts += is_part + 2 * is_pulse;
        count.strays += (kind == LAMP_KIND_DARK && dark > STRAY_SDS) ||
                        (kind == LAMP_KIND_LIT && lit > STRAY_SDS);
        count.edges +=
            is_part + 2 * is_pulse +
            (i > 0 && lamp_kind_end((enum lamp_kind)window->kind[i - 1]) != lamp_kind_begin(kind));
    }
    return count;
}

/* Learn how often edges, partly lit samples, pulses and strays come. */
static void learn_shares(const struct lamp_window *window, struct try *try)
{
    struct lamp_light_model *model = &try->model;
    const struct count count = count_path(window, model);
    const double n = (double)window->count;
    const double exposure = window->exposure_s / window->interval_s;
    model->exposed = window->exposure_s > 0 ? exposure : (count.parts + 2) / (count.edges + 4);
    model->edge_share = fmin((count.edges + 1) / (n + 2), EDGE_SHARE_MOST);
    model->pulse_share = fmin((count.pulses + 0.5) / (count.edges / 2 + 10), PULSE_SHARE_MOST);
    model->soft_share =
        fmin((count.softs + 0.5) / (count.edges + count.softs + 20), SOFT_SHARE_MOST);
    model->stray_share = fmin((count.strays + 1) / (n + 100), STRAY_SHARE_MOST);
}

/* Dark and lit level at each sample never come near each other. */
static void part_levels(struct lamp_window *window, double step)
{
    for (size_t i = 0; i < window->count; i++) {
        const double lack = 0.4 * step - (window->lit[i] - window->dark[i]);
        if (lack > 0) {
            window->lit[i] += lack / 2;
            window->dark[i] -= lack / 2;
        }
    }
}

/* Learn all but the kinds from the kinds. */
static void learn(struct lamp_window *window, struct try *try)
{
    try->dark = find_typical(window, LAMP_KIND_DARK);
    try->lit = find_typical(window, LAMP_KIND_LIT);
    try->model.step = fmax(try->lit - try->dark, 2 * LEAST_NOISE);
    try->free = follow_kind(window, LAMP_KIND_DARK, try->dark, try, window->dark);
    try->free += follow_kind(window, LAMP_KIND_LIT, try->lit, try, window->lit);
    part_levels(window, try->model.step);
    learn_noise(window, try);
    learn_shares(window, try);
}

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
        if (is_pure(window, i, kind)) {
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

static void set_flat(struct lamp_window *window, const struct try *try)
{
    for (size_t i = 0; i < window->count; i++) {
        window->dark[i] = try->dark;
        window->lit[i] = try->lit;
    }
}

/* Begin sure of the levels, near the extremes of the window's kinds: for light that is seldom
 * still. */
static void begin_tight(struct lamp_window *window, struct try *try)
{
    struct lamp_light_model *model = &try->model;
    try->dark = find_level(window, LAMP_KIND_DARK, 0.25, &model->dark_sd);
    try->lit = find_level(window, LAMP_KIND_LIT, 0.75, &model->lit_sd);
    model->step = fmax(fabs(try->lit - try->dark), LEAST_NOISE);
    try->lit = try->dark + model->step;
    model->dark_sd = floor_noise(model->dark_sd, model->step);
    model->lit_sd = floor_noise(model->lit_sd, model->step);
    model->edge_share = 0.3;
    model->pulse_share = 0.1;
    model->soft_share = 0.1;
    model->stray_share = STRAY_SHARE_MOST;
    model->exposed = window->exposure_s > 0 ? window->exposure_s / window->interval_s : 0.5;
    set_flat(window, try);
    (void)lamp_path_find(window, model);
}

/* Begin with the typical levels of the window's kinds, unsure of them: for light that drifts. */
static void begin_loose(struct lamp_window *window, struct try *try)
{
    try->dark = find_typical(window, LAMP_KIND_DARK);
    try->lit = find_typical(window, LAMP_KIND_LIT);
    try->model.step = fmax(fabs(try->lit - try->dark), LEAST_NOISE);
    try->model.dark_sd = try->model.step;
    try->model.lit_sd = try->model.step;
    set_flat(window, try);
    learn(window, try);
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

/* Follow one level that drifts. */
static double follow_one(struct lamp_window *window)
{
    memcpy(window->room[0], window->level, window->count * sizeof *window->level);
    const double typical = lamp_quantile(window->room[0], window->count, 0.5);
    for (size_t i = 0; i < window->count; i++) {
        window->weight[i] = 1;
    }
    const struct lamp_track_rules rules = {
        .near_s = DRIFT_NEAR_S, .far_s = DRIFT_FAR_S, .rest = typical, .reach = INFINITY};
    return lamp_track_follow(window, window->weight, &rules, window->one);
}

/* Sd about the one level: of the middle samples (share 0.68), or of all. */
static double measure_one(struct lamp_window *window, bool all)
{
    double *off = window->room[0];
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        off[i] = fabs(window->level[i] - window->one[i]);
        sum += off[i] * off[i];
    }
    return all ? sqrt(sum / (double)window->count) : lamp_quantile(off, window->count, 0.6827);
}

/* Log-likelihood of the samples under one level, with the noise that suits it best. */
static double score_one(struct lamp_window *window, const struct lamp_light_model *two)
{
    struct lamp_light_model model = *two;
    model.stray_share = STRAY_SHARE_MOST;
    const double middle = measure_one(window, false);
    const double whole = measure_one(window, true);
    double best = -INFINITY;
    for (int tried = 0; tried <= 4; tried++) {
        const double sd = floor_noise(middle + (whole - middle) * tried / 4, two->step);
        const struct lamp_scatter scatter = lamp_scatter_make(sd, &model);
        double score = 0;
        for (size_t i = 0; i < window->count; i++) {
            score += lamp_scatter_log(&scatter, window->level[i] - window->one[i]);
        }
        best = fmax(best, score);
    }
    return best;
}

/* Learn by turns with the path, until that stays; keep whatever explains the samples best so far.
 */
static void settle_try(struct lamp_window *window, struct try *try, struct try *best)
{
    for (int round = 0; round < ROUNDS; round++) {
        memcpy(window->last_kind, window->kind, window->count);
        learn(window, try);
        try->score = lamp_path_find(window, &try->model) - try->free;
        if (try->score > best->score) {
            *best = *try;
            keep(window);
        }
        if (memcmp(window->last_kind, window->kind, window->count) == 0) {
            break;
        }
    }
}

/* Learn from one start. */
static void try_start(struct lamp_window *window, bool is_tight, struct try *best)
{
    struct try try = {.model.range = best->model.range};
    if (is_tight) {
        begin_tight(window, &try);
    } else {
        begin_loose(window, &try);
    }
    settle_try(window, &try, best);
}

/* Try each start and keep the best. */
static void try_starts(struct lamp_window *window, const struct lamp_levels *before,
                       struct try *best)
{
    double *sorted = window->room[0];
    memcpy(sorted, window->level, window->count * sizeof *sorted);
    (void)lamp_quantile(sorted, window->count, 0);
    best->model.range = fmax(sorted[window->count - 1] - sorted[0], LEAST_NOISE);
    const size_t inner = window->count > 4 ? 1 : 0;
    const double classes = find_threshold(sorted, window->count);
    const double middle = (sorted[inner] + sorted[window->count - 1 - inner]) / 2;
    split_at(window, NULL, classes);
    try_start(window, false, best);
    split_at(window, NULL, classes);
    try_start(window, true, best);
    split_at(window, NULL, middle);
    try_start(window, true, best);
    split_at(window, window->one, 0);
    try_start(window, false, best);
    if (before != NULL) {
        split_at(window, NULL, (before->dark + before->lit) / 2);
        try_start(window, false, best);
    }
    take_kept(window);
}

static double pool_noise(const struct lamp_light_model *model)
{
    return sqrt((model->dark_sd * model->dark_sd + model->lit_sd * model->lit_sd) / 2);
}

/* Scatter of the lengths between edges, over their mean; infinite if there are too few. */
static double measure_scatter(const struct lamp_window *window)
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
    const double mean = sum / fmax(count, 1);
    return count < RIPPLE_COUNT ? INFINITY : sqrt(fmax(0, squares / count - mean * mean)) / mean;
}

/* Whether two levels are only the ripple of one: shallow, quick, regular. */
static bool is_ripple(const struct lamp_window *window, const struct try *try)
{
    const struct lamp_light_model *model = &try->model;
    return model->step < RIPPLE_SHARE * try->lit && model->edge_share > RIPPLE_EDGES &&
           measure_scatter(window) < RIPPLE_SCATTER;
}

/* Whether two levels are far enough apart, and one that of a lamp. */
static bool is_lamp(const struct lamp_window *window, const struct try *try,
                    const struct lamp_edger_rules *rules)
{
    const struct lamp_light_model *model = &try->model;
    const double step = try->lit - try->dark;
    const bool stands_out = step >= LEAST_SDS * pool_noise(model) ||
                            step >= LEAST_UNEQUAL_SDS * sqrt(model->dark_sd * model->lit_sd);
    return try->lit >= rules->least_level && step >= rules->least_step * try->lit &&
           try->lit > -1.5 * try->dark && stands_out && !is_ripple(window, try);
}

static double ask_evidence(const struct try *try, const struct lamp_levels *before, size_t count)
{
    const bool is_known = before != NULL && before->has_two &&
                          fabs(try->lit - before->lit) < 0.4 * (before->lit - before->dark);
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
                          struct lamp_levels *out)
{
    out->has_two = false;
    out->noise = measure_one(window, false);
    memcpy(window->room[0], window->one, window->count * sizeof *window->one);
    out->lit = out->dark = lamp_quantile(window->room[0], window->count, 0.5);
    const bool lit =
        window->decided > 0
            ? lamp_kind_end((enum lamp_kind)window->kind[window->decided - 1]) % 2 == LAMP_STATE_LIT
            : out->lit >= rules->least_level;
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
    const double free = follow_one(window);
    if (window->count >= LEAST_SAMPLES) {
        struct try best = {.score = -INFINITY};
        try_starts(window, before, &best);
        levels.evidence = best.score - (score_one(window, &best.model) - free);
        levels.has_two = is_lamp(window, &best, rules) &&
                         levels.evidence >= ask_evidence(&best, before, window->count);
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
