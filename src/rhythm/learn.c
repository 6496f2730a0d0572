/* learn.c - Learn levels, noise and chances from what each sample is taken for. */
#include <math.h>
#include <string.h>

#include "rhythm/guess.h"
#include "rhythm/track.h"

/* How a level is followed: auto exposure and hands move it over a second or more. */
#define NEAR_S 0.6
#define FAR_S  3.0

/* A level stays this near to its typical value: of the step, or of itself. */
#define REACH 0.4

/* Noise is never less than this share of the step: rounding, codec. */
#define LEAST_NOISE_SHARE 0.004

/* Samples' worth of trust in the noise of both levels together. */
#define POOL_TRUST 6.0

/* An edge is never likelier than none, however quick the light: edges would be made up where there
 * are none. */
#define EDGE_SHARE_MOST 0.4

/* A sample this far from its level strays. */
#define STRAY_SDS 4.0

/* Pulses within an exposure, soft edges are at most this share of lengths, of
 * edges. */
#define PULSE_SHARE_MOST 0.6
#define SOFT_SHARE_MOST  0.8

double lamp_noise_floor(double sd, const struct lamp_light_model *model)
{
    const double step = fmax(model->step, model->reach);
    return fmax(sd, fmax(LAMP_LEAST_NOISE, LEAST_NOISE_SHARE * step));
}

double lamp_level_typical(struct lamp_window *window, enum lamp_kind kind)
{
    double *found = window->room[0];
    size_t count = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (window->kind[i] == kind) {
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
                          const struct lamp_guess *guess, double *out)
{
    const double sd = kind == LAMP_KIND_LIT ? guess->model.lit_sd : guess->model.dark_sd;
    for (size_t i = 0; i < window->count; i++) {
        const double off = (window->level[i] - out[i]) / (3 * sd);
        window->weight[i] = window->kind[i] == kind ? 1 / (1 + off * off) : 0;
    }
    const struct lamp_track_rules rules = {.near_s = NEAR_S,
                                           .far_s = FAR_S,
                                           .rest = typical,
                                           .reach = REACH * fmax(guess->model.step, fabs(typical))};
    return lamp_track_follow(window, window->weight, &rules, out);
}

/* Sum of squares about a level, strays cut to 3 sds. */
static double sum_squares(const struct lamp_window *window, enum lamp_kind kind,
                          const double *level, double sd, size_t *count)
{
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (window->kind[i] == kind) {
            const double off = fmin(fabs(window->level[i] - level[i]), 3 * sd);
            sum += off * off;
            ++*count;
        }
    }
    return sum;
}

static void learn_noise(const struct lamp_window *window, struct lamp_guess *guess)
{
    struct lamp_light_model *model = &guess->model;
    size_t darks = 0;
    size_t lits = 0;
    const double dark = sum_squares(window, LAMP_KIND_DARK, window->dark, model->dark_sd, &darks);
    const double lit = sum_squares(window, LAMP_KIND_LIT, window->lit, model->lit_sd, &lits);
    const double all = (double)(darks + lits);
    const double pool = all > 0 ? (dark + lit) / all : 0;
    model->dark_sd =
        lamp_noise_floor(sqrt((dark + POOL_TRUST * pool) / ((double)darks + POOL_TRUST)), model);
    model->lit_sd =
        lamp_noise_floor(sqrt((lit + POOL_TRUST * pool) / ((double)lits + POOL_TRUST)), model);
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
static void learn_shares(const struct lamp_window *window, struct lamp_guess *guess)
{
    struct lamp_light_model *model = &guess->model;
    const struct count count = count_path(window, model);
    const double n = (double)window->count;
    const double exposure = window->exposure_s / window->interval_s;
    model->exposed = window->exposure_s > 0 ? exposure : (count.parts + 2) / (count.edges + 4);
    model->edge_share = fmin((count.edges + 1) / (n + 2), EDGE_SHARE_MOST);
    model->pulse_share = fmin((count.pulses + 0.5) / (count.edges / 2 + 10), PULSE_SHARE_MOST);
    model->soft_share =
        fmin((count.softs + 0.5) / (count.edges + count.softs + 20), SOFT_SHARE_MOST);
    model->stray_share = fmin((count.strays + 1) / (n + 100), LAMP_STRAY_SHARE_MOST);
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

void lamp_guess_learn(struct lamp_window *window, struct lamp_guess *guess)
{
    guess->dark = lamp_level_typical(window, LAMP_KIND_DARK);
    guess->lit = lamp_level_typical(window, LAMP_KIND_LIT);
    guess->model.step = fmax(guess->lit - guess->dark, 2 * LAMP_LEAST_NOISE);
    guess->free = follow_kind(window, LAMP_KIND_DARK, guess->dark, guess, window->dark);
    guess->free += follow_kind(window, LAMP_KIND_LIT, guess->lit, guess, window->lit);
    part_levels(window, guess->model.step);
    learn_noise(window, guess);
    learn_shares(window, guess);
}
