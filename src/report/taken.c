/* taken.c - What a length was taken for: a short or long flash, a gap, a pause, a rest. */
#include "report/taken.h"

#include <math.h>

/* A length this much longer or shorter than its class, ln 1.5, belongs to none. */
#define LOG_ODD 0.405

int64_t lamp_length_end_ns(const struct lamp_length *length)
{
    return length->start_ns + length->ns;
}

bool lamp_taken_is_lit(enum lamp_taken taken)
{
    return taken == LAMP_TAKEN_SHORT || taken == LAMP_TAKEN_LONG;
}

int64_t lamp_taken_ns(enum lamp_taken taken, const struct lamp_timing *timing)
{
    switch (taken) {
    case LAMP_TAKEN_SHORT: return timing->short_ns;
    case LAMP_TAKEN_LONG: return timing->long_ns;
    case LAMP_TAKEN_GAP: return timing->gap_ns;
    case LAMP_TAKEN_PAUSE: return timing->pause_ns;
    case LAMP_TAKEN_REST: return timing->rest_ns;
    case LAMP_TAKEN_ODD:
    case LAMP_TAKEN_CUT:
    case LAMP_TAKEN_COUNT: break;
    }
    return 0;
}

/* How far a length is from a nominal one, on a log scale; far where there is no such class. */
static double distance(int64_t ns, int64_t nominal_ns)
{
    return ns > 0 && nominal_ns > 0 ? fabs(log((double)ns / (double)nominal_ns)) : INFINITY;
}

static enum lamp_taken nearest_lit(int64_t ns, const struct lamp_timing *timing)
{
    return distance(ns, timing->long_ns) < distance(ns, timing->short_ns) ? LAMP_TAKEN_LONG
                                                                          : LAMP_TAKEN_SHORT;
}

static enum lamp_taken nearest_dark(int64_t ns, const struct lamp_timing *timing)
{
    double gap = distance(ns, timing->gap_ns);
    double pause = distance(ns, timing->pause_ns);
    double rest = distance(ns, timing->rest_ns);
    if (rest < gap && rest < pause) {
        return LAMP_TAKEN_REST;
    }
    return pause < gap ? LAMP_TAKEN_PAUSE : LAMP_TAKEN_GAP;
}

enum lamp_taken lamp_taken_nearest(const struct lamp_length *length,
                                   const struct lamp_timing *timing)
{
    return length->lit ? nearest_lit(length->ns, timing) : nearest_dark(length->ns, timing);
}

enum lamp_taken lamp_taken_for(const struct lamp_length *length, const struct lamp_timing *timing)
{
    enum lamp_taken nearest = lamp_taken_nearest(length, timing);
    if (length->cut_before || length->cut_after) {
        return LAMP_TAKEN_CUT;
    }
    return distance(length->ns, lamp_taken_ns(nearest, timing)) > LOG_ODD ? LAMP_TAKEN_ODD
                                                                          : nearest;
}

static int64_t period_of_groups(const struct lamp_pattern *pattern,
                                const struct lamp_timing *timing)
{
    int64_t period_ns = timing->rest_ns > 0 ? timing->rest_ns : timing->gap_ns;
    for (size_t i = 0; i < pattern->count; i++) {
        enum lamp_symbol symbol = pattern->symbol[i];
        bool joined =
            i > 0 && symbol != LAMP_SYMBOL_PAUSE && pattern->symbol[i - 1] != LAMP_SYMBOL_PAUSE;
        period_ns += symbol == LAMP_SYMBOL_SHORT  ? timing->short_ns
                     : symbol == LAMP_SYMBOL_LONG ? timing->long_ns
                                                  : timing->pause_ns;
        period_ns += joined ? timing->gap_ns : 0;
    }
    return period_ns;
}

int64_t lamp_period_ns(const struct lamp_rhythm *rhythm)
{
    if (rhythm->pattern.kind == LAMP_PATTERN_BLINK && rhythm->rate_hz > 0) {
        return (int64_t)(1e9 / rhythm->rate_hz);
    }
    return rhythm->pattern.kind == LAMP_PATTERN_GROUPS
               ? period_of_groups(&rhythm->pattern, &rhythm->timing)
               : 0;
}

static int64_t half_mean_length(const struct lamp_length *length, size_t count)
{
    double sum_ns = 0;
    double whole = 0;
    for (size_t i = 0; i < count; i++) {
        bool is_whole = !length[i].cut_before && !length[i].cut_after;
        sum_ns += is_whole ? (double)length[i].ns : 0;
        whole += is_whole;
    }
    return whole > 0 ? (int64_t)(sum_ns / whole / 2) : INT64_MAX;
}

int64_t lamp_finest_ns(const struct lamp_length *length, size_t count,
                       const struct lamp_rhythm *rhythm)
{
    const struct lamp_timing *timing = &rhythm->timing;
    if (rhythm->pattern.kind != LAMP_PATTERN_GROUPS || timing->gap_ns <= 0) {
        return half_mean_length(length, count);
    }
    int64_t flash_ns = timing->short_ns > 0 ? timing->short_ns : timing->long_ns;
    return flash_ns > 0 && flash_ns < timing->gap_ns ? flash_ns : timing->gap_ns;
}
