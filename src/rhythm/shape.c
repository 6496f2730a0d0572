/* shape.c - What kind of light a trace shows, summed up window by window.
 *
 *     two levels   |‾|_|‾|__      an edge is over within an exposure
 *     smooth       /\_/\/\_       edges take many samples, and little time is spent at the top or
 * bottom uneven       ‾|_|‾|.|‾      flashes or breaks one after the other go to different levels
 *     constant     ‾‾‾‾‾‾‾‾‾      no edges
 */
#include "rhythm/shape.h"

#include <math.h>
#include <string.h>

#include "rhythm/period.h"
#include "rhythm/run.h"

/* An edge is hard if two neighbouring intervals hold this share of the way. */
#define HARD_SHARE 0.75

/* The way between extremes, from here to here. */
#define MID_SHARE 0.8

/* Two runs of one state go to different levels: share of the step, and sds. Auto exposure moves lit
 * ones. */
#define UNEVEN_DARK_SHARE 0.1
#define UNEVEN_LIT_SHARE  0.2
#define UNEVEN_SDS        4.0

/* Where exposures are shorter than this share of the interval, a pure sample is one even if alone.
 */
#define BRIEF_EXPOSURE 0.3

/* Runs farther apart than this are not compared: levels drift. */
#define COMPARE_S 6.0

/* Light without edges swells if it sinks by this share of its upper level: drift does not. */
#define SWELL_SHARE 0.55

/* It must do so by so many sds. */
#define SWELL_SDS 6.0

/* It does with less if it repeats: so strongly, within so long. */
#define SWELL_REPEAT_SHARE    0.25
#define SWELL_REPEAT_STRENGTH 0.7
#define SWELL_REPEAT_S        8.0

/* Light is smooth, uneven if such a share of it is. */
#define SMOOTH_EDGE_SHARE 0.35
#define SMOOTH_MID_SHARE  0.45
#define SMOOTH_TIME_SHARE 0.3
#define UNEVEN_RUN_SHARE  0.35
#define UNEVEN_LEAST      3

/* Extremes of light that is not of two levels. */
#define EXTREME_SHARE 0.01

/* A lamp that is lit all along stands out from the dark by so many sds of the mean of so many
 * samples. */
#define LIT_SDS     3.0
#define LIT_SAMPLES 64.0

/* How a window looks as a whole. */
struct look {
    double noise;   /* From one sample to the next. */
    bool is_smooth; /* Its light swells and sinks. */
};

/* The sample at which a change of state is complete. */
static size_t end_of(const struct lamp_crossing *crossing)
{
    return crossing->how == LAMP_CROSSING_SOFT ? crossing->last + 1 : crossing->last;
}

/* Largest change towards the new state over one or two intervals near a crossing. */
static double find_fastest(const struct lamp_window *window, const struct lamp_crossing *crossing)
{
    const size_t from = crossing->first > 2 ? crossing->first - 2 : 0;
    const size_t to = crossing->last + 3 < window->count ? crossing->last + 3 : window->count;
    const double sign = crossing->lit ? 1 : -1;
    double fastest = 0;
    for (size_t i = from; i + 1 < to; i++) {
        fastest = fmax(fastest, sign * (window->level[i + 1] - window->level[i]));
        if (i + 2 < to) {
            fastest = fmax(fastest, sign * (window->level[i + 2] - window->level[i]));
        }
    }
    return fastest;
}

static void note_edge(struct lamp_shape_sums *sums, const struct lamp_window *window,
                      const struct lamp_run *was, const struct lamp_run *is)
{
    const double way = fabs(is->extreme - was->extreme);
    sums->edge_count++;
    sums->soft_count += find_fastest(window, &is->start) < HARD_SHARE * way;
}

/* Add the time that a run spends near its extreme, and on the way there. */
static void note_way(struct lamp_shape_sums *sums, const struct lamp_window *window,
                     const struct lamp_run *run, double base)
{
    for (size_t i = run->first; i < run->end; i++) {
        const double share = (window->level[i] - base) / (run->extreme - base);
        if (share >= MID_SHARE) {
            *(run->lit ? &sums->top_time_s : &sums->bottom_time_s) += window->span_s[i];
        } else if (share >= 0.5) {
            sums->mid_time_s += window->span_s[i];
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

/* Compare a run with the one of the same state before it: `run` holds these and the two between and
 * after. */
static void note_pair(struct lamp_shape_sums *sums, const struct lamp_window *window,
                      const struct lamp_run run[4], const struct lamp_light_model *model)
{
    const struct lamp_run *was = &run[0];
    const struct lamp_run *is = &run[2];
    if (!is_plain(was, &run[1].start, model) || !is_plain(is, &run[3].start, model) ||
        window->t_s[is->first] - window->t_s[was->end - 1] > COMPARE_S) {
        return;
    }
    const double sd = is->lit ? model->lit_sd : model->dark_sd;
    const double noise = sd * sqrt(1 / (double)was->pure_count + 1 / (double)is->pure_count);
    const double least = (is->lit ? UNEVEN_LIT_SHARE : UNEVEN_DARK_SHARE) * model->step;
    const double asked = fmax(least, fmin(UNEVEN_SDS * noise, 0.6 * model->step));
    sums->pair_count[is->lit]++;
    sums->uneven_count[is->lit] += fabs(is->level - was->level) > asked;
}

static void note_runs(struct lamp_shape_sums *sums, const struct lamp_window *window,
                      const struct lamp_light_model *model, struct lamp_part part)
{
    struct lamp_run_reader reader = {.window = window, .model = model};
    struct lamp_run run[4];
    for (size_t count = 0; lamp_run_next(&reader, &run[3]); count++) {
        const size_t end = count > 0 ? end_of(&run[3].start) : 0;
        const bool is_ours = end >= part.edges_from && end < part.to;
        if (count >= 1 && is_ours) {
            note_edge(sums, window, &run[2], &run[3]);
        }
        if (count >= 2 && is_ours) {
            note_way(sums, window, &run[2], (run[1].extreme + run[3].extreme) / 2);
        }
        if (count >= 3 && is_ours) {
            note_pair(sums, window, run, model);
        }
        memmove(run, run + 1, 3 * sizeof *run);
    }
}

/* Noise from one sample to the next, whatever slower the light does: from second differences within
 * a state. */
static double measure_quiet(struct lamp_window *window)
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

/* The light of a sample, noise taken off. */
static double clean(const struct lamp_window *window, size_t i)
{
    switch ((enum lamp_kind)window->kind[i]) {
    case LAMP_KIND_DARK: return window->dark[i];
    case LAMP_KIND_LIT: return window->lit[i];
    default: return fmin(fmax(window->level[i], window->dark[i]), window->lit[i]);
    }
}

static void note_light(struct lamp_shape_sums *sums, const struct lamp_window *window,
                       const struct look *look, struct lamp_part part)
{
    for (size_t i = part.from; i < part.to; i++) {
        const double span_s = window->span_s[i];
        const double light = look->is_smooth ? window->level[i] : clean(window, i);
        lamp_tally_add(&sums->tally, light, span_s);
        sums->time_s += span_s;
        sums->level_sum += span_s * light;
        sums->noise_sum += span_s * look->noise * look->noise;
        if (window->kind[i] == LAMP_KIND_LIT) {
            sums->lit_sum += span_s * light;
            sums->lit_time_s += span_s;
        } else if (window->kind[i] == LAMP_KIND_DARK) {
            sums->dark_sum += span_s * light;
            sums->dark_time_s += span_s;
        }
    }
}

static double time_of(const struct lamp_window *window, struct lamp_part part)
{
    return window->t_s[part.to - 1] + window->span_s[part.to - 1] - window->t_s[part.from];
}

/* Whether the light goes its way in steps, not smoothly. */
static bool jumps(struct lamp_window *window, double way)
{
    size_t count = 0;
    for (size_t i = 0; i + 2 < window->count; i++) {
        window->room[0][count++] = fabs(window->level[i + 2] - window->level[i]);
    }
    return lamp_quantile(window->room[0], count, 0.99) > HARD_SHARE * way;
}

/* Without edges: whether the light swells and sinks. */
static bool swells(struct lamp_window *window, double noise, double least_level, double strength,
                   double period_s)
{
    double *sorted = window->room[2];
    memcpy(sorted, window->level, window->count * sizeof *sorted);
    const double low = fmax(lamp_quantile(sorted, window->count, 0.02) + 2 * noise, 0);
    const double high = lamp_quantile(sorted, window->count, 0.98) - 2 * noise;
    const double share = high > low ? (high - low) / high : 0;
    if (high < least_level || high - low < SWELL_SDS * noise || jumps(window, high - low)) {
        return false;
    }
    const bool repeats = strength > SWELL_REPEAT_STRENGTH && period_s < SWELL_REPEAT_S;
    return share >= SWELL_SHARE || (repeats && share >= SWELL_REPEAT_SHARE);
}

/* With edges: add them up, and say whether they are soft. */
static bool note_edges(struct lamp_shape_sums *sums, const struct lamp_window *window,
                       const struct lamp_levels *levels, double noise, struct lamp_part part)
{
    const uint64_t edges = sums->edge_count;
    const uint64_t softs = sums->soft_count;
    struct lamp_light_model model = levels->model;
    model.dark_sd = fmin(model.dark_sd, noise);
    model.lit_sd = fmin(model.lit_sd, noise);
    note_runs(sums, window, &model, part);
    return (double)(sums->soft_count - softs) >
           SMOOTH_EDGE_SHARE * (double)(sums->edge_count - edges);
}

void lamp_shape_note(struct lamp_shape_sums *sums, struct lamp_window *window,
                     const struct lamp_levels *levels, const struct lamp_edger_rules *rules,
                     struct lamp_part part)
{
    if (part.from >= part.to) {
        return;
    }
    double strength;
    const double period_s = lamp_period_find(window, &strength);
    struct look look = {.noise = measure_quiet(window)};
    if (levels->has_two) {
        look.is_smooth = note_edges(sums, window, levels, look.noise, part);
    } else {
        look.is_smooth = swells(window, look.noise, rules->least_level, strength, period_s);
        sums->swell_time_s += look.is_smooth ? time_of(window, part) : 0;
    }
    if (look.is_smooth && strength > sums->period_strength) {
        sums->period_strength = strength;
        sums->period_s = period_s;
    }
    look.noise = fmin(look.noise, levels->noise);
    note_light(sums, window, &look, part);
}

static double share_of(uint64_t part, uint64_t all)
{
    return all > 0 ? (double)part / (double)all : 0;
}

static enum lamp_shape name_shape(const struct lamp_shape_sums *sums)
{
    const double still_s = fmin(sums->top_time_s, sums->bottom_time_s);
    const double mid = sums->mid_time_s;
    if (sums->swell_time_s > SMOOTH_TIME_SHARE * sums->time_s) {
        return LAMP_SHAPE_SMOOTH;
    }
    if (sums->edge_count == 0) {
        return LAMP_SHAPE_CONSTANT;
    }
    if (share_of(sums->soft_count, sums->edge_count) > SMOOTH_EDGE_SHARE &&
        mid > SMOOTH_MID_SHARE * (mid + still_s)) {
        return LAMP_SHAPE_SMOOTH;
    }
    for (int lit = 0; lit < 2; lit++) {
        if (sums->pair_count[lit] >= UNEVEN_LEAST &&
            share_of(sums->uneven_count[lit], sums->pair_count[lit]) > UNEVEN_RUN_SHARE) {
            return LAMP_SHAPE_UNEVEN;
        }
    }
    return LAMP_SHAPE_TWO_LEVEL;
}

/* Percent flicker: (max - min) / (max + min) * 100 (CIE International Lighting Vocabulary). */
static double tell_percent(double low, double high)
{
    low = fmax(low, 0);
    return high > low ? 100 * (high - low) / (high + low) : 0;
}

static void tell_constant(const struct lamp_shape_sums *sums, const struct lamp_edger_rules *rules,
                          struct lamp_light_shape *out)
{
    const double mean = sums->time_s > 0 ? sums->level_sum / sums->time_s : 0;
    const double samples = fmin((double)out->sample_count, LIT_SAMPLES);
    out->lit_level = mean;
    out->dark_level = mean;
    out->is_lit =
        samples > 0 && mean > rules->least_level && mean > LIT_SDS * out->noise / sqrt(samples);
}

void lamp_shape_tell(const struct lamp_shape_sums *sums, const struct lamp_edger_rules *rules,
                     struct lamp_light_shape *out)
{
    const double low = lamp_tally_quantile(&sums->tally, EXTREME_SHARE);
    const double high = lamp_tally_quantile(&sums->tally, 1 - EXTREME_SHARE);
    out->shape = name_shape(sums);
    out->noise = sums->time_s > 0 ? sqrt(sums->noise_sum / sums->time_s) : 0;
    out->flicker_index = lamp_tally_index(&sums->tally);
    out->soft_share = share_of(sums->soft_count, sums->edge_count);
    out->period_s = out->shape == LAMP_SHAPE_SMOOTH ? sums->period_s : 0;
    out->lit_level = sums->lit_time_s > 0 ? sums->lit_sum / sums->lit_time_s : high;
    out->dark_level = sums->dark_time_s > 0 ? sums->dark_sum / sums->dark_time_s : low;
    out->is_lit = false;
    if (out->shape == LAMP_SHAPE_CONSTANT) {
        tell_constant(sums, rules, out);
    }
    const bool is_two = out->shape == LAMP_SHAPE_TWO_LEVEL;
    out->percent_flicker =
        is_two ? tell_percent(out->dark_level, out->lit_level) : tell_percent(low, high);
}
