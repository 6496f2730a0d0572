/* shape.c - What kind of light a trace shows, summed up window by window. */
#include "rhythm/shape.h"

#include <math.h>
#include <string.h>

#include "rhythm/period.h"

/* Light swells if it sinks by this share of its upper level, for such a part of the time: drift
 * does not, nor does what passes before a lamp. */
#define SWELL_SHARE 0.55
#define SWELL_PART  0.1

/* Its upper level is at least so many of the least lit level. */
#define SWELL_LEVELS 2.0

/* It must do so by so many sds. */
#define SWELL_SDS 6.0

/* It does with less if it repeats: so strongly, within so long. */
#define SWELL_REPEAT_SHARE    0.25
#define SWELL_REPEAT_STRENGTH 0.7
#define SWELL_REPEAT_S        8.0

/* A recording is smooth if such a share of its time is. */
#define SMOOTH_TIME_SHARE 0.3

/* Light jumps if it goes this share of its range within two intervals, for such a share of the
 * time; */
#define JUMP_SHARE      0.75
#define JUMP_TIME_SHARE 0.01

/* it leaps if it goes hardly farther within six than within two, and this share of its range. */
#define LEAP_SHARE     0.35
#define LEAP_OF_SLOW   0.8
#define LEAP_INTERVALS 6

/* One level that follows the light is off by no more than this, sds of noise. */
#define MISSED_SDS 2.0

/* One level holds no longer where the light is off it as far as an edge goes, by so many sds of
 * noise, for such a share of the time: no noise, drift or ripple explains that. */
#define ASTRAY_SDS        4.0
#define ASTRAY_TIME_SHARE 0.05

/* Extremes of light that is not of two levels. */
#define EXTREME_SHARE 0.01

/* A lamp that is lit all along stands out from the dark by so many sds of the mean of so many
 * samples. */
#define LIT_SDS     3.0
#define LIT_SAMPLES 64.0

/* A camera's exposure settles within this time of its beginning, and leaves so much of the light.
 */
#define SETTLING_S    2.0
#define SETTLED_SHARE 0.6

/* A step is sudden if it is so much of all the light's way. */
#define STEP_SHARE 0.5

bool lamp_shape_is_smooth(struct lamp_window *window, const struct lamp_levels *levels)
{
    struct lamp_travel travel = {.edge_count = 0};
    const struct lamp_part all = {0, 0, window->count};
    lamp_travel_note(&travel, window, &levels->model, lamp_travel_noise(window), all);
    return lamp_travel_is_smooth(&travel);
}

static bool is_hard_change(const struct lamp_window *window, size_t i)
{
    const enum lamp_kind before = (enum lamp_kind)window->kind[i - 1];
    const enum lamp_kind now = (enum lamp_kind)window->kind[i];
    return before != now && !lamp_kind_is_soft(before) && !lamp_kind_is_soft(now);
}

/* Share of all the light's way that it goes about sample `i`. */
static double share_at(const struct lamp_window *window, size_t i)
{
    const size_t last = window->count - 1;
    const double end = window->kind[last] == LAMP_KIND_LIT ? window->lit[last] : window->dark[last];
    const double way = fabs(window->level[0] - end);
    const size_t next = i < last ? i + 1 : last;
    return way > 0 ? fabs(window->level[next] - window->level[i - 1]) / way : 1;
}

bool lamp_shape_is_settling(const struct lamp_window *window, const struct lamp_levels *levels)
{
    const size_t last = window->count - 1;
    if (window->decided > 0 || levels->dark < SETTLED_SHARE * levels->lit ||
        window->kind[0] == window->kind[last]) {
        return false;
    }
    for (size_t i = 1; i < window->count; i++) {
        const bool is_late = window->t_s[i] > SETTLING_S && window->kind[i] != window->kind[last];
        if (is_late || (is_hard_change(window, i) && share_at(window, i) > STEP_SHARE)) {
            return false;
        }
    }
    return true;
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

/* Add a sample to the sums of its state. */
static void add_state(struct lamp_shape_sums *sums, enum lamp_kind kind, double light,
                      double span_s)
{
    if (kind == LAMP_KIND_LIT) {
        sums->lit_sum += span_s * light;
        sums->lit_time_s += span_s;
    } else if (kind == LAMP_KIND_DARK) {
        sums->dark_sum += span_s * light;
        sums->dark_time_s += span_s;
    }
}

/* How a window looks as a whole. */
struct look {
    double noise; /* From one sample to the next. */
    bool swells;
    bool is_bare;  /* Its levels do not follow the light: samples are taken as they are. */
    double astray; /* Farther than this off its one level a sample is astray, share of the level, */
    double most_noise; /* or linear: whichever is more. */
};

static bool is_astray(const struct lamp_window *window, size_t i, const struct look *look)
{
    const double off = fabs(window->level[i] - window->dark[i]);
    return off > look->astray * window->dark[i] && off > look->most_noise;
}

static void add_light(struct lamp_shape_sums *sums, const struct lamp_window *window,
                      const struct look *look, struct lamp_part part)
{
    for (size_t i = part.from; i < part.to; i++) {
        const double span_s = window->span_s[i];
        const double light = look->is_bare ? window->level[i] : clean(window, i);
        lamp_tally_add(&sums->tally, light, span_s);
        add_state(sums, (enum lamp_kind)window->kind[i], light, span_s);
        sums->time_s += span_s;
        sums->swell_time_s += look->swells ? span_s : 0;
        sums->astray_time_s += is_astray(window, i, look) ? span_s : 0;
        sums->level_sum += span_s * light;
        sums->noise_sum += span_s * look->noise * look->noise;
    }
}

/* How far the light rises within `intervals` where it rises far; sinks, where `way` is -1. */
static double stride(struct lamp_window *window, size_t intervals, double way)
{
    size_t count = 0;
    for (size_t i = 0; i + intervals < window->count; i++) {
        window->room[0][count++] = way * (window->level[i + intervals] - window->level[i]);
    }
    return count > 0 ? lamp_quantile(window->room[0], count, 1 - JUMP_TIME_SHARE) : 0;
}

/* Whether the light goes its range in jumps, each of them nearly all of it. */
static bool jumps(struct lamp_window *window, double range)
{
    return fmax(stride(window, 2, 1), stride(window, 2, -1)) > JUMP_SHARE * range;
}

static bool leaps_one_way(struct lamp_window *window, double range, double way)
{
    const double quick = stride(window, 2, way);
    return quick > LEAP_SHARE * range && quick > LEAP_OF_SLOW * stride(window, LEAP_INTERVALS, way);
}

/* Whether it jumps up and down, however far it goes on the whole: a lamp under a passing hand does.
 */
static bool leaps(struct lamp_window *window, double range)
{
    return leaps_one_way(window, range, 1) && leaps_one_way(window, range, -1);
}

/* Whether light without two levels swells and sinks; notes its period. */
static bool swells(struct lamp_shape_sums *sums, struct lamp_window *window,
                   const struct lamp_shape_note *note, double noise)
{
    double *sorted = window->room[2];
    memcpy(sorted, window->level, window->count * sizeof *sorted);
    const double least = lamp_quantile(sorted, window->count, 0.02) + 2 * noise;
    const double high = lamp_quantile(sorted, window->count, 0.98) - 2 * noise;
    const double low = fmax(lamp_quantile(sorted, window->count, SWELL_PART), 0);
    const double share = high > low ? (high - low) / high : 0;
    if (high < SWELL_LEVELS * note->rules->least_level || high < -1.5 * least ||
        high - low < SWELL_SDS * noise || (!note->is_smooth && jumps(window, high - low)) ||
        leaps(window, high - low)) {
        return false;
    }
    double strength;
    const double period_s = lamp_period_find(window, &strength);
    const bool repeats = strength > SWELL_REPEAT_STRENGTH && period_s < SWELL_REPEAT_S;
    if (share < SWELL_SHARE && !(repeats && share >= SWELL_REPEAT_SHARE)) {
        return false;
    }
    if (strength > sums->period_strength) {
        sums->period_strength = strength;
        sums->period_s = period_s;
    }
    return true;
}

/* Whether one level follows the light only from afar. */
static bool is_missed(const struct lamp_window *window, double noise)
{
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        const double off = window->level[i] - window->dark[i];
        sum += off * off;
    }
    return sqrt(sum / (double)window->count) > MISSED_SDS * noise;
}

void lamp_shape_add(struct lamp_shape_sums *sums, struct lamp_window *window,
                    const struct lamp_shape_note *note)
{
    if (note->part.from >= note->part.to) {
        return;
    }
    struct look look = {.noise = lamp_travel_noise(window), .most_noise = INFINITY};
    if (note->levels->has_two) {
        lamp_travel_note(&sums->travel, window, &note->levels->model, look.noise, note->part);
    } else {
        look.swells = swells(sums, window, note, fmin(look.noise, note->levels->noise));
        look.is_bare = look.swells || is_missed(window, look.noise);
        look.astray = note->rules->least_step;
        look.most_noise = ASTRAY_SDS * look.noise;
    }
    look.noise = fmin(look.noise, note->levels->noise);
    add_light(sums, window, &look, note->part);
}

static double mean_level(const struct lamp_shape_sums *sums)
{
    return sums->time_s > 0 ? sums->level_sum / sums->time_s : 0;
}

/* Whether light without edges is one level for nearly all of the time; a dark lamp's has none. */
static bool holds_level(const struct lamp_shape_sums *sums, const struct lamp_edger_rules *rules)
{
    return mean_level(sums) < rules->least_level ||
           sums->astray_time_s <= ASTRAY_TIME_SHARE * sums->time_s;
}

static enum lamp_shape name_shape(const struct lamp_shape_sums *sums,
                                  const struct lamp_edger_rules *rules)
{
    if (sums->swell_time_s > SMOOTH_TIME_SHARE * sums->time_s) {
        return LAMP_SHAPE_SMOOTH;
    }
    if (sums->travel.edge_count == 0) {
        return holds_level(sums, rules) ? LAMP_SHAPE_CONSTANT : LAMP_SHAPE_UNEVEN;
    }
    return lamp_travel_is_uneven(&sums->travel) ? LAMP_SHAPE_UNEVEN : LAMP_SHAPE_TWO_LEVEL;
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
    const double mean = mean_level(sums);
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
    const uint64_t edges = sums->travel.edge_count;
    out->shape = name_shape(sums, rules);
    out->noise = sums->time_s > 0 ? sqrt(sums->noise_sum / sums->time_s) : 0;
    out->flicker_index = lamp_tally_index(&sums->tally);
    out->soft_share = edges > 0 ? (double)sums->travel.soft_count / (double)edges : 0;
    out->period_s = out->shape == LAMP_SHAPE_SMOOTH ? sums->period_s : 0;
    const bool is_smooth = out->shape == LAMP_SHAPE_SMOOTH;
    out->lit_level = sums->lit_time_s > 0 && !is_smooth ? sums->lit_sum / sums->lit_time_s : high;
    out->dark_level =
        sums->dark_time_s > 0 && !is_smooth ? sums->dark_sum / sums->dark_time_s : low;
    out->is_lit = false;
    if (out->shape == LAMP_SHAPE_CONSTANT) {
        tell_constant(sums, rules, out);
    }
    const bool is_two = out->shape == LAMP_SHAPE_TWO_LEVEL;
    out->percent_flicker =
        is_two ? tell_percent(out->dark_level, out->lit_level) : tell_percent(low, high);
}
