/* path.c - The likeliest row of kinds for a window's samples, weighed as a whole.
 *
 *     dark --+--------------------> dark        An edge falls into an exposure (the sample is
 * partly lit: |   '--> on ------.                    any level between the two is as likely), or
 * between two |   '--> flash    v                    exposures (nothing shows it but the change),
 * or it is soft
 *        +------ edge ---> lit                  and takes several samples. Each has its chance, so
 * that
 *        '--> rising... --^                     one stray frame is cheaper than two edges, two are
 * not.
 */
#include "rhythm/path.h"

#include <math.h>
#include <string.h>

/* The scale of a sample's going astray: of the step, in sds. */
#define STRAY_STEP 0.08
#define STRAY_SDS  2.0

/* A sample gone altogether wrong has this density over the range. */
#define WILD_DENSITY 1e-7

/* A flash or break within one exposure must stand out by so many sds. */
#define PULSE_SDS 5.5

/* Moving against a soft edge's direction costs at most this. */
#define REVERSE_MOST 40.0

/* A soft edge moves on: one that rests, by less than this share of the step, costs this. */
#define REST_STEP 0.03
#define REST_LOG  (-0.5)

/* Chance that a soft edge lasts one more sample, that it turns before it is over. */
#define SOFT_LASTS 0.75
#define SOFT_TURNS 0.05

/* What falls between exposures, or into them, is never quite ruled out. */
#define EXPOSED_LEAST 0.04

/* Area of half a normal curve of height 1, sds. */
#define HALF_NORMAL 1.2533141373155003

#define LOG_ROOT_TURN 0.91893853320467274
#define IMPOSSIBLE    (-1e30)

struct lamp_scatter lamp_scatter_make(double sd, const struct lamp_light_model *model)
{
    const double scale = fmax(STRAY_SDS * sd, STRAY_STEP * model->step);
    return (struct lamp_scatter){.per_sd = 1 / sd,
                                 .normal_log = -LOG_ROOT_TURN - log(sd),
                                 .per_stray = 1 / scale,
                                 .stray_log = log(model->stray_share / (2 * scale)),
                                 .wild_log = log(WILD_DENSITY / model->range)};
}

double lamp_scatter_log(const struct lamp_scatter *scatter, double off)
{
    const double z = off * scatter->per_sd;
    const double normal = scatter->normal_log - z * z / 2;
    const double stray = scatter->stray_log - fabs(off) * scatter->per_stray;
    return fmax(normal, fmax(stray, scatter->wild_log));
}

/* What is worked out once for a path. */
struct law {
    const struct lamp_light_model *model;
    struct lamp_scatter dark;
    struct lamp_scatter lit;
    double tails; /* What falling off outside the levels adds to the width of partly lit samples. */
};

/* Log chances of going from one kind to the next. */
struct ways {
    struct law law;
    double go[LAMP_KIND_COUNT][LAMP_KIND_COUNT];
    double edges[LAMP_KIND_COUNT][LAMP_KIND_COUNT]; /* Edges between the two exposures: 0 or 1. */
    double enter[LAMP_KIND_COUNT];
};

static struct law make_law(const struct lamp_light_model *model)
{
    return (struct law){.model = model,
                        .dark = lamp_scatter_make(model->dark_sd, model),
                        .lit = lamp_scatter_make(model->lit_sd, model),
                        .tails = HALF_NORMAL * (model->dark_sd + model->lit_sd)};
}

/* Log of the density of a partly lit sample: even between the two levels, falling off outside. */
static double weigh_part(double level, double dark, double lit, const struct law *law)
{
    const double below = fmax(0, dark - level) * law->dark.per_sd;
    const double above = fmax(0, level - lit) * law->lit.per_sd;
    const double out = fmax(below, above);
    return fmax(-out * out / 2 - log(lit - dark + law->tails), law->dark.wild_log);
}

/* Penalty for moving against the direction of a soft edge. */
static double weigh_reverse(double back, const struct lamp_light_model *model)
{
    const double sds = back / fmax(model->dark_sd, model->lit_sd) - 2;
    return sds > 0 ? -fmin(sds * sds / 2, REVERSE_MOST) : 0;
}

static void weigh_sample(const struct lamp_window *window, size_t i, const struct law *law,
                         double out[LAMP_KIND_COUNT])
{
    const struct lamp_light_model *model = law->model;
    const double level = window->level[i];
    const double dark = window->dark[i];
    const double lit = window->lit[i];
    const double part = weigh_part(level, dark, lit, law);
    const double climb = i > 0 ? level - window->level[i - 1] : 0;
    out[LAMP_KIND_DARK] = lamp_scatter_log(&law->dark, level - dark);
    out[LAMP_KIND_LIT] = lamp_scatter_log(&law->lit, level - lit);
    out[LAMP_KIND_ON] = part;
    out[LAMP_KIND_OFF] = part;
    out[LAMP_KIND_FLASH] = level - dark > PULSE_SDS * model->dark_sd ? part : IMPOSSIBLE;
    out[LAMP_KIND_BREAK] = lit - level > PULSE_SDS * model->lit_sd ? part : IMPOSSIBLE;
    const double rest = fabs(climb) < REST_STEP * model->step ? REST_LOG : 0;
    out[LAMP_KIND_RISING] = part + rest + weigh_reverse(-climb, model);
    out[LAMP_KIND_SINKING] = part + rest + weigh_reverse(climb, model);
}

static double clamp_share(double share)
{
    return fmin(fmax(share, EXPOSED_LEAST), 1 - EXPOSED_LEAST);
}

static bool is_pulse(enum lamp_kind kind)
{
    return kind == LAMP_KIND_FLASH || kind == LAMP_KIND_BREAK;
}

/* A flash or break within one exposure stands alone: what is left of an edge in the next frame is
 * none. */
static bool is_allowed(enum lamp_kind from, enum lamp_kind to)
{
    const bool is_alone = lamp_kind_end(from) == lamp_kind_begin(to) &&
                          (from <= LAMP_KIND_LIT) != (to <= LAMP_KIND_LIT);
    return (!is_pulse(from) && !is_pulse(to)) || is_alone;
}

/* Ways into and out of a soft edge. */
static double weigh_soft(enum lamp_kind from, enum lamp_kind to,
                         const struct lamp_light_model *model)
{
    const double edge = log(model->edge_share);
    const enum lamp_state end = lamp_kind_end(from);
    if (!lamp_kind_is_soft(from)) {
        return end == lamp_kind_begin(to) ? edge + log(model->soft_share) : IMPOSSIBLE;
    }
    if (from == to) {
        return log(SOFT_LASTS);
    }
    if (lamp_kind_is_soft(to)) {
        return edge + log(SOFT_TURNS);
    }
    const enum lamp_state arrived = end == LAMP_STATE_UP ? LAMP_STATE_LIT : LAMP_STATE_DARK;
    return lamp_kind_begin(to) == arrived ? log(1 - SOFT_LASTS) : IMPOSSIBLE;
}

/* Ways from one kind to another. */
static void draw_way(enum lamp_kind from, enum lamp_kind to, const struct lamp_light_model *model,
                     struct ways *ways)
{
    if (!is_allowed(from, to)) {
        ways->go[from][to] = IMPOSSIBLE;
    } else if (lamp_kind_is_soft(from) || lamp_kind_is_soft(to)) {
        ways->go[from][to] = weigh_soft(from, to, model);
    } else {
        ways->edges[from][to] = lamp_kind_end(from) != lamp_kind_begin(to);
    }
}

static void draw_ways(const struct lamp_light_model *model, struct ways *ways)
{
    const double edge = log(model->edge_share);
    const double quiet = log(1 - model->edge_share);
    const double within = edge + log(clamp_share(model->exposed));
    *ways = (struct ways){.law = make_law(model)};
    for (int kind = 0; kind < LAMP_KIND_COUNT; kind++) {
        ways->enter[kind] = kind <= LAMP_KIND_LIT ? quiet : within;
    }
    ways->enter[LAMP_KIND_FLASH] = within + log(model->pulse_share);
    ways->enter[LAMP_KIND_BREAK] = within + log(model->pulse_share);
    ways->enter[LAMP_KIND_RISING] = 0;
    ways->enter[LAMP_KIND_SINKING] = 0;
    for (int from = 0; from < LAMP_KIND_COUNT; from++) {
        for (int to = 0; to < LAMP_KIND_COUNT; to++) {
            draw_way((enum lamp_kind)from, (enum lamp_kind)to, model, ways);
        }
    }
}

/* Log chance of an edge in the time before sample `i` in which nothing was exposed. */
static double weigh_between(const struct lamp_window *window, size_t i,
                            const struct lamp_light_model *model)
{
    const double spans = window->interval_s > 0 ? window->span_s[i - 1] / window->interval_s : 1;
    const double unseen = fmax(spans - clamp_share(model->exposed), EXPOSED_LEAST);
    return log(fmin(model->edge_share * unseen, 0.9));
}

static bool is_open(const struct lamp_window *window, size_t i, int kind)
{
    return i >= window->decided || window->kind[i] == kind;
}

static double lit_share(const struct lamp_window *window, size_t i)
{
    const double share = (window->level[i] - window->dark[i]) / (window->lit[i] - window->dark[i]);
    return fmin(fmax(share, 0), 1);
}

/* A flash or break shared by samples `i` - 1 and `i` is as rare as one within a sample, if it is as
 * short. */
static void weigh_split(const struct lamp_window *window, size_t i, struct ways *ways)
{
    const double lit = lit_share(window, i - 1) + lit_share(window, i);
    const double rare = log(ways->law.model->pulse_share);
    ways->go[LAMP_KIND_ON][LAMP_KIND_OFF] = lit < LAMP_SPLIT_LEAST ? rare : 0;
    ways->go[LAMP_KIND_OFF][LAMP_KIND_ON] = 2 - lit < LAMP_SPLIT_LEAST ? rare : 0;
}

/* The best way to kind `to` from any kind of the sample before. */
static int find_way(const struct ways *ways, const double best[LAMP_KIND_COUNT], double between,
                    int to, double *chance)
{
    int from = 0;
    *chance = 2 * IMPOSSIBLE;
    for (int kind = 0; kind < LAMP_KIND_COUNT; kind++) {
        const double way = best[kind] + ways->go[kind][to] + ways->edges[kind][to] * between;
        if (way > *chance) {
            *chance = way;
            from = kind;
        }
    }
    return from;
}

/* Extend the best path to each kind of sample `i`. */
static void step_on(struct lamp_window *window, size_t i, struct ways *ways,
                    double best[LAMP_KIND_COUNT])
{
    double seen[LAMP_KIND_COUNT];
    double next[LAMP_KIND_COUNT];
    const double between = weigh_between(window, i, ways->law.model);
    weigh_split(window, i, ways);
    weigh_sample(window, i, &ways->law, seen);
    for (int to = 0; to < LAMP_KIND_COUNT; to++) {
        window->back[i][to] = (uint8_t)find_way(ways, best, between, to, &next[to]);
        next[to] += is_open(window, i, to) ? seen[to] + ways->enter[to] : IMPOSSIBLE;
    }
    memcpy(best, next, sizeof next);
}

double lamp_path_find(struct lamp_window *window, const struct lamp_light_model *model)
{
    if (window->count == 0) {
        return 0;
    }
    struct ways ways;
    draw_ways(model, &ways);
    double best[LAMP_KIND_COUNT];
    weigh_sample(window, 0, &ways.law, best);
    for (int kind = 0; kind < LAMP_KIND_COUNT; kind++) {
        best[kind] += ways.enter[kind] + (is_open(window, 0, kind) ? 0 : IMPOSSIBLE);
        best[kind] += lamp_kind_is_soft((enum lamp_kind)kind)
                          ? log(model->soft_share * model->edge_share)
                          : 0;
    }
    for (size_t i = 1; i < window->count; i++) {
        step_on(window, i, &ways, best);
    }
    int kind = 0;
    for (int other = 1; other < LAMP_KIND_COUNT; other++) {
        kind = best[other] > best[kind] ? other : kind;
    }
    const double score = best[kind];
    for (size_t i = window->count; i-- > 0;) {
        window->kind[i] = (uint8_t)kind;
        kind = window->back[i][kind];
    }
    return score;
}

double lamp_path_gain(const struct lamp_window *window, const struct lamp_light_model *model,
                      struct lamp_stretch stretch)
{
    const struct law law = make_law(model);
    const bool is_one = stretch.first == stretch.last;
    double gain = log(model->edge_share) + log(is_one ? model->pulse_share : model->edge_share / 4);
    for (size_t i = stretch.first; i <= stretch.last; i++) {
        double seen[LAMP_KIND_COUNT];
        weigh_sample(window, i, &law, seen);
        gain += seen[window->kind[i]] - seen[stretch.instead];
    }
    return gain;
}
