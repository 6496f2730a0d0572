/* warn.c - What makes a reading less sure, in words. */
#include "pipeline/warn.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/utf8.h"
#include "pipeline/agree.h"

/* A lamp that changes faster than this share of the frame rate may be a fold of something faster
 * still. */
static const double most_of_rate = 0.4;

static const double much_motion = 0.1;   /* of the picture's width */
static const double much_gain = 1.5;     /* largest over least */
static const double slow_rate_hz = 12;   /* below, ordinary flashes are only a few frames long */
static const double faint_ratio = 5;     /* of a step over its noise */
static const double soft_share = 0.3;    /* of the edges */
static const double ripple_margin = 0.1; /* of its rate */
static const double much_dropped = 0.02; /* of the frames */

static void add(char (*rows)[LAMP_REASON_MAX], size_t *count, const char *format, va_list rest)
{
    char text[4 * LAMP_REASON_MAX];
    if (*count == LAMP_REPORT_WARNINGS_MAX) {
        return;
    }
    (void)vsnprintf(text, sizeof text, format, rest);
    size_t size = lamp_utf8_fit(text, strlen(text), LAMP_REASON_MAX - 1);
    memcpy(rows[*count], text, size);
    rows[*count][size] = '\0';
    (*count)++;
}

void lamp_warn_report(struct lamp_report *report, const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    add(report->warning, &report->warning_count, format, rest);
    va_end(rest);
}

void lamp_warn_lamp(struct lamp_report_lamp *lamp, const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    add(lamp->warning, &lamp->warning_count, format, rest);
    va_end(rest);
}

/* Frames that were not what a camera on its stand takes. */
static void warn_of_frames(struct lamp_report *report)
{
    const struct lamp_viewer_counts *counts = &report->counts;
    if (counts->cuts > 0) {
        lamp_warn_report(
            report,
            "%llu cut%s to another scene: lamps are followed up to a cut and found anew after it",
            (unsigned long long)counts->cuts, counts->cuts == 1 ? "" : "s");
    }
    if (counts->damaged > 0) {
        lamp_warn_report(report, "%llu damaged frame%s left out: like nothing before or after",
                         (unsigned long long)counts->damaged,
                         counts->damaged == 1 ? " was" : "s were");
    }
    if (counts->repeats > 0) {
        lamp_warn_report(report, "%llu frame%s like the one before: edges there are less sure",
                         (unsigned long long)counts->repeats,
                         counts->repeats == 1 ? " is" : "s are");
    }
}

void lamp_warn_of_pictures(struct lamp_report *report)
{
    const struct lamp_viewer_counts *counts = &report->counts;
    const struct lamp_source_info *source = &report->source;
    warn_of_frames(report);
    if (counts->motion_px > much_motion * source->width_px && source->width_px > 0) {
        lamp_warn_report(report, "the camera moved by up to %.0f pixels: rest it on something",
                         counts->motion_px);
    }
    if (counts->gain_ratio > much_gain) {
        lamp_warn_report(
            report,
            "the camera changed its brightness up to %.1f-fold: lock its exposure if it can be",
            counts->gain_ratio);
    }
    if (source->rate_hz > 0 && source->rate_hz < slow_rate_hz) {
        lamp_warn_report(
            report,
            "at %.3g frames a second, lengths below %.0f ms cannot be told: film at 30 or more",
            source->rate_hz, 1000 / source->rate_hz);
    }
    bool has_frames = source->kind != LAMP_SOURCE_PIN; /* which tells itself what was lost */
    if (has_frames && (double)source->dropped_count > much_dropped * (double)source->frame_count) {
        lamp_warn_report(report,
                         "%llu frames are missing from the recording: edges there are less sure",
                         (unsigned long long)source->dropped_count);
    }
}

static void warn_of_rate(struct lamp_report_lamp *lamp, double rate_hz)
{
    double fastest_hz = lamp->shape.fastest_hz;
    if (rate_hz > 0 && fastest_hz > most_of_rate * rate_hz) {
        lamp_warn_lamp(
            lamp,
            "it changes about %.3g times a second, more than 0.4 of the %.3g frames a second can "
            "show truly: film at a higher rate",
            fastest_hz, rate_hz);
    }
}

/* A lamp that goes with the room light may be steady, or lit by it. */
static void warn_of_ripple(struct lamp_report_lamp *lamp, double ripple_hz)
{
    double lamp_hz = lamp->rhythm.rate_hz > 0 ? lamp->rhythm.rate_hz : lamp->shape.fastest_hz;
    if (ripple_hz > 0 && lamp_hz > 0 && fabs(lamp_hz / ripple_hz - 1) < ripple_margin) {
        lamp_warn_lamp(lamp,
                       "the room light ripples at the same %.3g Hz: switch it off and film again",
                       ripple_hz);
    }
}

static void warn_of_quality(struct lamp_report_lamp *lamp)
{
    const struct lamp_light_shape *shape = &lamp->shape;
    double step = shape->lit_level - shape->dark_level;
    bool has_levels = shape->shape == LAMP_SHAPE_TWO_LEVEL || shape->shape == LAMP_SHAPE_UNEVEN;
    if (has_levels && shape->noise > 0 && step < faint_ratio * shape->noise) {
        lamp_warn_lamp(lamp, "it is faint: on is only %.1f times the noise above off",
                       step / shape->noise);
    }
    if (shape->shape == LAMP_SHAPE_TWO_LEVEL && shape->soft_share > soft_share) {
        lamp_warn_lamp(lamp, "%.0f %% of its edges are soft: they are placed less surely",
                       100 * shape->soft_share);
    }
}

void lamp_warn_of_light(struct lamp_report_lamp *lamp, const struct lamp_report *report)
{
    if (lamp->shape.sample_count > 0) {
        warn_of_rate(lamp, lamp->shape.rate_hz);
        warn_of_ripple(lamp, report->counts.ripple_hz);
        warn_of_quality(lamp);
    }
    if (lamp->length_lost > 0) {
        lamp_warn_lamp(
            lamp, "the recording is long: the first %llu lengths were let go, the newest are told",
            (unsigned long long)lamp->length_lost);
    }
    if (lamp->shape.glitch_count > 0) {
        lamp_warn_lamp(lamp, "%llu glitches were dropped",
                       (unsigned long long)lamp->shape.glitch_count);
    }
}

static bool are_twins(const struct lamp_report_lamp *a, const struct lamp_report_lamp *b)
{
    enum { EDGES_LEAST = 6 };
    double rate_hz = a->shape.rate_hz;
    int64_t frame_ns = rate_hz > 0 ? (int64_t)(1e9 / rate_hz) : 0;
    return lamp_edges_count(a->length, a->length_count) >= EDGES_LEAST &&
           lamp_edges_agree(a->length, a->length_count, b->length, b->length_count, frame_ns) > 0.9;
}

/* The lamp told before `index` that has the same edges, NULL if there is none. */
static const struct lamp_report_lamp *twin_of(const struct lamp_report *report, size_t index)
{
    for (size_t i = 0; i < index; i++) {
        if (are_twins(&report->lamp[i], &report->lamp[index])) {
            return &report->lamp[i];
        }
    }
    return NULL;
}

void lamp_warn_of_twins(struct lamp_report *report)
{
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *twin = twin_of(report, i);
        if (twin != NULL) {
            lamp_warn_lamp(&report->lamp[i],
                           "it changes together with %s: one may be the light of the other",
                           twin->name);
        }
    }
}
