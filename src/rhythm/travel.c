/* travel.c - How the light goes between its levels: at once, in steps, or slowly.
 *
 *     |‾|_|‾|__      an edge is over within an exposure
 *     /\_/\/\_       soft: edges take many samples, and little time is spent at the top or bottom
 *     .-'|__.-'|     stepped: the light rests on its way
 *     ‾|_|‾|.|‾      uneven: flashes or breaks one after the other go to different levels
 */
#include "rhythm/travel.h"

#include <math.h>
#include <string.h>

#include "rhythm/run.h"

/* An edge is hard if two neighbouring intervals hold this share of the way. */
#define HARD_SHARE 0.75

/* It is stepped if two and two more, with so many samples between, hold this share. */
#define STEPPED_SHARE 0.85
#define REST_SAMPLES  2

/* The way between extremes, from the middle to here. */
#define MID_SHARE 0.8

/* A run goes to another level than its neighbours: share of the step, sds. Auto exposure moves lit
 * ones. */
#define UNEVEN_DARK_SHARE 0.09
#define UNEVEN_LIT_SHARE  0.18
#define UNEVEN_SDS        4.0
#define UNEVEN_MOST       0.6

/* Where exposures are shorter than this share of the interval, a pure sample is one even if alone.
 */
#define BRIEF_EXPOSURE 0.3

/* Runs farther apart than this are not compared: levels drift. */
#define COMPARE_S 8.0

/* Light is smooth, uneven if such a share of it is. */
#define SMOOTH_EDGE_SHARE 0.3
#define SMOOTH_MID_SHARE  0.45
#define UNEVEN_SHARE      0.35
#define UNEVEN_LEAST      3

/* Change towards the new state from sample `i` on, over one interval or two. */
static double measure_change(const struct lamp_window *window, size_t i, size_t to, bool lit)
{
    const double one = window->level[i + 1] - window->level[i];
    const double two = i + 2 <= to ? window->level[i + 2] - window->level[i] : one;
    return lit ? fmax(one, two) : -fmin(one, two);
}

/* Largest change towards the new state over one or two intervals, between two samples; says where.
 */
static double find_fastest(const struct lamp_window *window, size_t from, size_t to, bool lit,
                           size_t *where)
{
    double fastest = 0;
    for (size_t i = from; i + 1 <= to; i++) {
        const double change = measure_change(window, i, to, lit);
        if (change > fastest) {
            fastest = change;
            *where = i;
        }
    }
    return fastest;
}

/* Largest change apart from the one at `where`, the light resting between the two. */
static double find_second(const struct lamp_window *window, const struct lamp_run run[2],
                          size_t where)
{
    const bool lit = run[1].lit;
    const size_t before_end = where - (where < REST_SAMPLES ? where : REST_SAMPLES);
    const size_t after_start = where + 2 + REST_SAMPLES;
    size_t at = 0;
    const double before =
        before_end > run[0].first ? find_fastest(window, run[0].first, before_end, lit, &at) : 0;
    const double after = after_start + 1 < run[1].end
                             ? find_fastest(window, after_start, run[1].end - 1, lit, &at)
                             : 0;
    return fmax(before, after);
}

/* `run` holds the run before the edge and the one after it. */
static void note_edge(struct lamp_travel *travel, const struct lamp_window *window,
                      const struct lamp_run run[2])
{
    const struct lamp_crossing *edge = &run[1].start;
    const size_t from = edge->first > 2 ? edge->first - 2 : 0;
    const size_t to = edge->last + 2 < window->count ? edge->last + 2 : window->count - 1;
    const double way = fabs(run[1].extreme - run[0].extreme);
    size_t where = from;
    const double fastest = find_fastest(window, from, to, run[1].lit, &where);
    travel->edge_count++;
    if (fastest >= HARD_SHARE * way) {
        return;
    }
    if (fastest + find_second(window, run, where) >= STEPPED_SHARE * way) {
        travel->stepped_count++;
    } else {
        travel->soft_count++;
    }
}

/* Add the time that a run spends near its extreme, and on the way there. */
static void note_way(struct lamp_travel *travel, const struct lamp_window *window,
                     const struct lamp_run *run, double base)
{
    for (size_t i = run->first; i < run->end; i++) {
        const double share = (window->level[i] - base) / (run->extreme - base);
        if (share >= MID_SHARE) {
            *(run->lit ? &travel->top_time_s : &travel->bottom_time_s) += window->span_s[i];
        } else if (share >= 0.5) {
            travel->mid_time_s += window->span_s[i];
        }
    }
}

/* Whether the level of a run is well known: not from one sample that may have been partly lit. */
static bool is_plain(const struct lamp_run *run, const struct lamp_crossing *end,
                     const struct lamp_light_model *model)
{
    const bool is_set_off =
        run->start.how == LAMP_CROSSING_WITHIN && end->how == LAMP_CROSSING_WITHIN;
    const bool one_will_do = is_set_off || model->exposed < BRIEF_EXPOSURE;
    return run->is_whole && run->pure_count >= (one_will_do ? 1 : 2);
}

static double middle_of(const struct lamp_window *window, const struct lamp_run *run)
{
    return (window->t_s[run->first] + window->t_s[run->end - 1]) / 2;
}

/* Compare the middle one of three runs of one state with the others: drift goes straight past them.
 */
static void note_level(struct lamp_travel *travel, const struct lamp_window *window,
                       const struct lamp_run run[3], const struct lamp_light_model *model)
{
    const double apart_s = middle_of(window, &run[2]) - middle_of(window, &run[0]);
    if (apart_s <= 0 || apart_s > COMPARE_S) {
        return;
    }
    const bool lit = run[1].lit;
    const double share = (middle_of(window, &run[1]) - middle_of(window, &run[0])) / apart_s;
    const double expected = run[0].level + share * (run[2].level - run[0].level);
    const double noise = (lit ? model->lit_sd : model->dark_sd) *
                         sqrt(1 / (double)run[1].pure_count + 0.25 / (double)run[0].pure_count +
                              0.25 / (double)run[2].pure_count);
    const double least = (lit ? UNEVEN_LIT_SHARE : UNEVEN_DARK_SHARE) * model->step;
    const double asked = fmax(least, fmin(UNEVEN_SDS * noise, UNEVEN_MOST * model->step));
    travel->run_count[lit]++;
    travel->uneven_count[lit] += fabs(run[1].level - expected) > asked;
}

/* The sample at which a change of state is complete. */
static size_t end_of(const struct lamp_crossing *crossing)
{
    return crossing->how == LAMP_CROSSING_SOFT ? crossing->last + 1 : crossing->last;
}

/* The newest plain runs of one state. */
struct plain {
    struct lamp_run run[3];
    size_t count;
};

static void keep_plain(struct plain *plain, const struct lamp_run *run)
{
    if (plain->count == 3) {
        memmove(plain->run, plain->run + 1, 2 * sizeof *plain->run);
        plain->count = 2;
    }
    plain->run[plain->count++] = *run;
}

/* What is looked at, run by run. */
struct look {
    struct lamp_travel *travel;
    const struct lamp_window *window;
    const struct lamp_light_model *model;
    struct plain plain[2]; /* Dark, lit. */
};

/* The middle one of three runs is whole: add it. */
static void note_whole(struct look *look, const struct lamp_run run[3], bool is_ours)
{
    struct plain *same = &look->plain[run[1].lit];
    if (is_ours) {
        note_way(look->travel, look->window, &run[1], (run[0].extreme + run[2].extreme) / 2);
    }
    if (is_plain(&run[1], &run[2].start, look->model)) {
        keep_plain(same, &run[1]);
        if (same->count == 3 && is_ours) {
            note_level(look->travel, look->window, same->run, look->model);
        }
    }
}

static void note_runs(struct look *look, struct lamp_part part)
{
    struct lamp_run_reader reader = {.window = look->window, .model = look->model};
    struct lamp_run run[3]; /* The newest last. */
    for (size_t count = 0; lamp_run_next(&reader, &run[2]); count++) {
        const size_t end = count > 0 ? end_of(&run[2].start) : 0;
        const bool is_ours = end >= part.edges_from && end < part.to;
        if (count >= 1 && is_ours) {
            note_edge(look->travel, look->window, run + 1);
        }
        if (count >= 2) {
            note_whole(look, run, is_ours);
        }
        memmove(run, run + 1, 2 * sizeof *run);
    }
}

double lamp_travel_noise(struct lamp_window *window)
{
    size_t count = 0;
    for (size_t i = 0; i + 2 < window->count; i++) {
        const uint8_t kind = window->kind[i];
        if (kind <= LAMP_KIND_LIT && window->kind[i + 1] == kind && window->kind[i + 2] == kind) {
            window->room[0][count++] =
                fabs(window->level[i] - 2 * window->level[i + 1] + window->level[i + 2]);
        }
    }
    return count > 0 ? lamp_quantile(window->room[0], count, 0.5) / LAMP_SECOND_DIFFERENCE_SDS
                     : INFINITY;
}

void lamp_travel_note(struct lamp_travel *travel, const struct lamp_window *window,
                      const struct lamp_light_model *model, double noise, struct lamp_part part)
{
    struct lamp_light_model quiet = *model;
    quiet.dark_sd = fmin(model->dark_sd, noise);
    quiet.lit_sd = fmin(model->lit_sd, noise);
    struct look look = {.travel = travel, .window = window, .model = &quiet};
    note_runs(&look, part);
}

bool lamp_travel_is_smooth(const struct lamp_travel *travel)
{
    const double still_s = fmin(travel->top_time_s, travel->bottom_time_s);
    const double mid_s = travel->mid_time_s;
    return (double)travel->soft_count > SMOOTH_EDGE_SHARE * (double)travel->edge_count &&
           mid_s > SMOOTH_MID_SHARE * (mid_s + still_s);
}

bool lamp_travel_is_uneven(const struct lamp_travel *travel)
{
    for (int lit = 0; lit < 2; lit++) {
        const double runs = (double)travel->run_count[lit];
        if (runs >= UNEVEN_LEAST && (double)travel->uneven_count[lit] > UNEVEN_SHARE * runs) {
            return true;
        }
    }
    return travel->stepped_count >= UNEVEN_LEAST &&
           (double)travel->stepped_count > UNEVEN_SHARE * (double)travel->edge_count;
}
