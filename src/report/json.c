/* json.c - The report for programs: one JSON object, format 1. Keys are only ever added. */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "lampread/lampread.h" /* its version */
#include "report/words.h"

enum { FORMAT = 1, FIGURES = 12 };

/* Text that is no UTF-8 (a file name) is made so: JSON knows no other. */
static json_t *string_of(const char *text)
{
    json_t *made = json_string(text);
    if (made != NULL) {
        return made;
    }
    struct lamp_text plain = {0};
    lamp_words_plain(text, &plain);
    made = plain.failed || plain.length == 0 ? NULL : json_string(plain.at);
    lamp_text_fini(&plain);
    return made;
}

/* Add `item` to `row`; memory that could not be had for either makes the whole row NULL, which
 * every packing above it passes on. */
static json_t *with(json_t *row, json_t *item)
{
    if (row == NULL || item == NULL || json_array_append_new(row, item) != 0) {
        json_decref(row);
        if (row == NULL) {
            json_decref(item);
        }
        return NULL;
    }
    return row;
}

static json_t *string_or_null(const char *text)
{
    return text == NULL || text[0] == '\0' ? json_null() : string_of(text);
}

/* A number cut to `step`, so that 0.1 + 0.2 is told as 0.3. */
static json_t *real_of(double value, double steps)
{
    return isfinite(value) ? json_real(round(value * steps) / steps) : json_null();
}

static json_t *real_or_null(bool has_value, double value, double steps)
{
    return has_value ? real_of(value, steps) : json_null();
}

static json_t *seconds_of(int64_t ns)
{
    return real_of((double)ns / LAMP_NS_PER_S, 1e6);
}

static json_t *seconds_or_null(int64_t ns)
{
    return ns > 0 ? seconds_of(ns) : json_null();
}

static json_t *strings_of(const struct lamp_strings *strings)
{
    json_t *row = json_array();
    for (size_t i = 0; i < strings->count; i++) {
        row = with(row, string_of(strings->at[i]));
    }
    return row;
}

static json_t *source_of(const struct lamp_source_info *source)
{
    static const char *const kinds[] = {
        [LAMP_SOURCE_CLIP] = "clip",     [LAMP_SOURCE_STILLS] = "stills",
        [LAMP_SOURCE_TRACE] = "trace",   [LAMP_SOURCE_EDGES] = "edges",
        [LAMP_SOURCE_CAMERA] = "camera", [LAMP_SOURCE_PIN] = "pin"};
    return json_pack("{s:s, s:o, s:o, s:I, s:o, s:I}", "kind", kinds[source->kind], "name",
                     string_of(source->name), "duration_s", real_of(source->duration_s, 1e6),
                     "frames", (json_int_t)source->frame_count, "rate_hz",
                     real_or_null(source->rate_hz > 0, source->rate_hz, 1e4), "dropped",
                     (json_int_t)source->dropped_count);
}

static json_t *region_of(const struct lamp_report_lamp *lamp)
{
    const struct lamp_region *region = &lamp->region;
    return !lamp->has_region ? json_null()
                             : json_pack("{s:i, s:i, s:i, s:i}", "x", region->x_px, "y",
                                         region->y_px, "w", region->w_px, "h", region->h_px);
}

static json_t *pattern_of(const struct lamp_pattern *pattern)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_words_pattern(pattern, notation);
    return string_or_null(notation);
}

static json_t *match_of(const struct lamp_match *match)
{
    if (!match->has_entry) {
        return json_null();
    }
    const struct lamp_candidate *told = &match->candidate[0];
    return json_pack("{s:o, s:o, s:o, s:o, s:o}", "book", string_of(told->book->id), "id",
                     string_of(told->code->id), "means", string_of(told->code->means), "suspect",
                     strings_of(&told->code->suspect), "check", strings_of(&told->code->check));
}

static json_t *candidates_of(const struct lamp_match *match)
{
    json_t *row = json_array();
    for (size_t i = match->has_entry ? 1 : 0; i < match->candidate_count; i++) {
        const struct lamp_candidate *candidate = &match->candidate[i];
        json_t *made = json_pack("{s:o, s:o, s:o, s:o}", "book", string_of(candidate->book->id),
                                 "id", string_of(candidate->code->id), "confidence",
                                 real_of(candidate->confidence, 1e6), "against",
                                 string_or_null(candidate->against));
        row = with(row, made);
    }
    return row;
}

static json_t *timing_of(const struct lamp_timing *timing)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o}", "short_s", seconds_or_null(timing->short_ns),
                     "long_s", seconds_or_null(timing->long_ns), "gap_s",
                     seconds_or_null(timing->gap_ns), "pause_s", seconds_or_null(timing->pause_ns),
                     "rest_s", seconds_or_null(timing->rest_ns));
}

/* Whole flashes only: a flash that was cut has no length to tell. */
static json_t *flashes_of(const struct lamp_length *length, size_t count)
{
    json_t *row = json_array();
    for (size_t i = 0; i < count; i++) {
        if (length[i].lit && !length[i].cut_before && !length[i].cut_after) {
            json_t *made =
                json_pack("{s:o, s:o, s:o}", "start_s", seconds_of(length[i].start_ns), "on_s",
                          seconds_of(length[i].ns), "sd_s", seconds_of(length[i].sd_ns));
            row = with(row, made);
        }
    }
    return row;
}

static json_t *flicker_of(const struct lamp_report_lamp *lamp)
{
    bool flickers = lamp->match.verdict == LAMP_VERDICT_FLICKER;
    bool measured = flickers && lamp->shape.sample_count > 0;
    return json_pack("{s:o, s:o, s:o}", "edges_per_s",
                     real_or_null(flickers, lamp->rhythm.edges_per_s, 1e4), "percent",
                     real_or_null(measured, lamp->shape.percent_flicker, 1e2), "index",
                     real_or_null(measured, lamp->shape.flicker_index, 1e4));
}

/* What an undecided lamp lacks stands first among its warnings. */
static json_t *lamp_warnings_of(const struct lamp_report_lamp *lamp)
{
    json_t *row = json_array();
    const char *lack = lamp_words_lack(lamp->match.lack);
    if (lamp->match.verdict == LAMP_VERDICT_UNDECIDED && lack[0] != '\0') {
        row = with(row, string_of(lack));
    }
    for (size_t i = 0; i < lamp->warning_count; i++) {
        row = with(row, string_of(lamp->warning[i]));
    }
    return row;
}

static json_t *lamp_of(const struct lamp_report_lamp *lamp)
{
    const struct lamp_rhythm *rhythm = &lamp->rhythm;
    bool blinks = lamp->match.verdict == LAMP_VERDICT_BLINK;
    json_t *made = json_pack(
        "{s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o}", "name", string_of(lamp->name), "colour",
        string_or_null(lamp_colour_name(lamp->colour)), "region", region_of(lamp), "verdict",
        lamp_verdict_name(lamp->match.verdict), "confidence", real_of(lamp->match.confidence, 1e6),
        "pattern", pattern_of(&rhythm->pattern), "morse", string_or_null(rhythm->morse), "rate_hz",
        real_or_null(blinks, rhythm->rate_hz, 1e4), "duty",
        real_or_null(blinks, rhythm->duty, 1e4));
    json_t *more = json_pack("{s:o, s:o, s:{s:i, s:i}, s:o, s:o, s:o, s:o}", "match",
                             match_of(&lamp->match), "candidates", candidates_of(&lamp->match),
                             "repeats", "seen", (int)rhythm->repeats_seen, "agreeing",
                             (int)rhythm->repeats_agreeing, "timing", timing_of(&rhythm->timing),
                             "flashes", flashes_of(lamp->length, lamp->length_count), "flicker",
                             flicker_of(lamp), "warnings", lamp_warnings_of(lamp));
    if (json_object_update_new(made, more) != 0) {
        json_decref(made);
        return NULL;
    }
    return made;
}

static json_t *finding_of(const struct lamp_finding *finding)
{
    json_t *because = json_array();
    for (size_t i = 0; i < finding->because_count; i++) {
        because = with(because, string_of(finding->because[i]));
    }
    return json_pack("{s:o, s:o, s:o, s:o}", "suspect", strings_of(&finding->suspect), "because",
                     because, "check", strings_of(&finding->check), "caution",
                     strings_of(&finding->caution));
}

static json_t *report_of(const struct lamp_report *report)
{
    json_t *lamps = json_array();
    for (size_t i = 0; i < report->lamp_count; i++) {
        lamps = with(lamps, lamp_of(&report->lamp[i]));
    }
    json_t *findings = json_array();
    for (size_t i = 0; i < report->finding_count; i++) {
        findings = with(findings, finding_of(&report->finding[i]));
    }
    json_t *warnings = json_array();
    for (size_t i = 0; i < report->warning_count; i++) {
        warnings = with(warnings, string_of(report->warning[i]));
    }
    return json_pack("{s:i, s:s, s:o, s:o, s:o, s:o}", "format", FORMAT, "tool",
                     "lampread " LAMPREAD_VERSION, "source", source_of(&report->source), "lamps",
                     lamps, "findings", findings, "warnings", warnings);
}

enum lamp_err lamp_report_write_json(const struct lamp_report *report, FILE *out)
{
    json_t *object = report_of(report);
    if (object == NULL) {
        return LAMP_NO_MEMORY;
    }
    int failed = json_dumpf(object, out, JSON_INDENT(1) | JSON_REAL_PRECISION(FIGURES));
    json_decref(object);
    if (failed != 0 && ferror(out) == 0) {
        return LAMP_NO_MEMORY;
    }
    bool written = failed == 0 && fputc('\n', out) != EOF && fflush(out) == 0;
    return written ? LAMP_OK : LAMP_CANNOT_WRITE;
}

/* What an event tells of: one lamp, all, or nothing. */
static json_t *subject_of(const struct lamp_report *report, size_t lamp)
{
    if (report == NULL) {
        return json_object();
    }
    return lamp < report->lamp_count ? json_pack("{s:o}", "lamp", lamp_of(&report->lamp[lamp]))
                                     : json_pack("{s:o}", "report", report_of(report));
}

static void add_word(json_t *object, const char *key, const char *word, bool *failed)
{
    if (word != NULL) {
        json_t *made = string_of(word);
        *failed |= made == NULL || json_object_set_new(object, key, made) != 0;
    }
}

enum lamp_err lamp_report_write_json_event(const struct lamp_report_event *event,
                                           const struct lamp_report *report, size_t lamp, FILE *out)
{
    json_t *object =
        json_pack("{s:o, s:s}", "t_s", real_of(event->t_s, 1e3), "event", event->event);
    bool failed = object == NULL;
    if (!failed) {
        add_word(object, "name", event->name, &failed);
        add_word(object, "trouble", event->trouble, &failed);
        add_word(object, "says", event->says, &failed);
        failed |= json_object_update_new(object, subject_of(report, lamp)) != 0;
    }
    if (failed) {
        json_decref(object);
        return LAMP_NO_MEMORY;
    }
    int dumped = json_dumpf(object, out, JSON_COMPACT | JSON_REAL_PRECISION(FIGURES));
    json_decref(object);
    bool written = dumped == 0 && fputc('\n', out) != EOF && fflush(out) == 0;
    return written ? LAMP_OK : LAMP_CANNOT_WRITE;
}
