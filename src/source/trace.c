/* trace.c - A CSV of brightness or of edges: time_s, lamp, level and perhaps exposure_s or sd_s, in
 * any order of columns. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/form.h"
#include "source/rows.h"
#include "source/trace_edges.h"

/* Columns that are known; the first three have to be there, the last makes it a trace of edges. */
enum column { COLUMN_TIME, COLUMN_LAMP, COLUMN_LEVEL, COLUMN_EXPOSURE, COLUMN_SD, COLUMN_COUNT };
static const char *const column_names[COLUMN_COUNT] = {"time_s", "lamp", "level", "exposure_s",
                                                       "sd_s"};

/* Beyond these a number is not what its column says. */
static const double level_most = 1e6;
static const int64_t span_most_ns = 3600 * (int64_t)LAMP_NS_PER_S;

/* So many bad rows, more than the good ones, and reading on is no use. */
enum { BAD_ROWS_ENOUGH = 100 };

enum trace_note { NOTE_ROWS = 1, NOTE_HOLES, NOTE_COLUMNS };

struct trace {
    struct lamp_input *input;
    FILE *file;
    uint64_t size_bytes;
    int at[COLUMN_COUNT]; /* Which field a column is; -1 if it is not there. */
    size_t field_count;   /* Of the header. */
    struct lamp_trace_edges edges;
    int64_t now_ns;                         /* The latest time of a row. */
    int64_t last_ns[LAMP_SOURCE_LAMPS_MAX]; /* Of each lamp. */
    uint64_t good_count;
    uint64_t bad_count;
    struct lamp_error first_bad;
    struct lamp_rows rows;
    struct lamp_row row;
};

static bool names_a_column(const char *line)
{
    size_t length = strcspn(line, "\r\n");
    bool found = false;
    for (int i = 0; i < COLUMN_SD; i++) {
        size_t size = strlen(column_names[i]);
        for (const char *at = line; at + size <= line + length; at++) {
            found = found || strncasecmp(at, column_names[i], size) == 0;
        }
    }
    return found;
}

/* A text whose first line names a column, or that says in its own name that it is one. */
static bool suits_trace(const struct lamp_sniff *sniff)
{
    const char *ending = strrchr(sniff->name, '.');
    bool is_named = ending != NULL && strcasecmp(ending, ".csv") == 0;
    bool has_comma = strchr(sniff->head, ',') != NULL;
    return sniff->is_text && (is_named || (has_comma && names_a_column(sniff->head)));
}

static void close_trace(void *state)
{
    struct trace *trace = state;
    if (trace->file != NULL) {
        (void)fclose(trace->file);
    }
    free(trace);
}

static enum lamp_err fail_at(const struct trace *trace, const struct lamp_field *field,
                             struct lamp_error *error, const char *expected)
{
    char place[LAMP_PLACE_MAX];
    char shown[LAMP_WORD_SHOWN_MAX];
    (void)snprintf(place, sizeof place, "%s:%" PRIu64 ":%d", trace->input->name, field->line,
                   field->column);
    return lamp_fail(error, LAMP_BAD_SOURCE, place, "\"%s\" %s",
                     lamp_word_shown(field->text, shown), expected);
}

/* Which column is called so; COLUMN_COUNT if none is. */
static int find_column(const char *name)
{
    int at = 0;
    while (at < COLUMN_COUNT && strcasecmp(name, column_names[at]) != 0) {
        at++;
    }
    return at;
}

static enum lamp_err take_column(struct trace *trace, const struct lamp_field *field, int index,
                                 struct lamp_error *error)
{
    int column = find_column(field->text);
    if (column == COLUMN_COUNT) {
        char shown[LAMP_WORD_SHOWN_MAX];
        lamp_notes_say(&trace->input->notes, NOTE_COLUMNS + index,
                       "the column \"%s\" is not known and was not read",
                       lamp_word_shown(field->text, shown));
        return LAMP_OK;
    }
    if (trace->at[column] >= 0) {
        return fail_at(trace, field, error, "is there twice: expected each column once");
    }
    trace->at[column] = index;
    return LAMP_OK;
}

static enum lamp_err check_header(const struct trace *trace, struct lamp_error *error)
{
    for (int i = 0; i < COLUMN_EXPOSURE; i++) {
        if (trace->at[i] < 0) {
            char expected[96];
            (void)snprintf(
                expected, sizeof expected,
                "begins a header without the column %s: expected time_s,lamp,level[,exposure_s]",
                column_names[i]);
            return fail_at(trace, &trace->row.field[0], error, expected);
        }
    }
    return LAMP_OK;
}

static enum lamp_err read_header(struct trace *trace, struct lamp_error *error)
{
    enum lamp_err err = lamp_rows_next(&trace->rows, &trace->row, error);
    if (err == LAMP_END) {
        return lamp_fail(
            error, LAMP_BAD_SOURCE, trace->input->name,
            "there is no row in it: expected the header time_s,lamp,level[,exposure_s]");
    }
    for (size_t i = 0; err == LAMP_OK && i < trace->row.field_count; i++) {
        err = take_column(trace, &trace->row.field[i], (int)i, error);
    }
    trace->field_count = trace->row.field_count;
    return err == LAMP_OK ? check_header(trace, error) : err;
}

static enum lamp_err open_trace(struct lamp_input *input, const struct lamp_sniff *sniff,
                                void **state, struct lamp_error *error)
{
    struct trace *trace = calloc(1, sizeof *trace);
    if (trace == NULL) {
        return lamp_fail_memory(error);
    }
    trace->input = input;
    for (int i = 0; i < COLUMN_COUNT; i++) {
        trace->at[i] = -1;
    }
    trace->file = fopen(sniff->name, "rb");
    struct stat what;
    if (trace->file == NULL || fstat(fileno(trace->file), &what) != 0) {
        close_trace(trace);
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "it cannot be read");
    }
    trace->size_bytes = (uint64_t)what.st_size;
    lamp_rows_init(&trace->rows, trace->file, input->name);
    enum lamp_err err = read_header(trace, error);
    if (err != LAMP_OK) {
        close_trace(trace);
        return err;
    }
    *state = trace;
    return LAMP_OK;
}

/* A span of time that a row may leave empty, and a file leave out: `none` then. */
static enum lamp_err read_span(const struct trace *trace, enum column column, int64_t none,
                               int64_t *out_ns, struct lamp_error *error)
{
    const struct lamp_field *field =
        trace->at[column] >= 0 ? &trace->row.field[trace->at[column]] : NULL;
    if (field == NULL || *field->text == '\0') {
        *out_ns = none;
        return LAMP_OK;
    }
    if (lamp_seconds_parse(field->text, out_ns) && *out_ns >= 0 && *out_ns <= span_most_ns) {
        return LAMP_OK;
    }
    return fail_at(trace, field, error,
                   column == COLUMN_SD
                       ? "is not a standard deviation: expected seconds from 0 to 3600, or nothing"
                       : "is not an exposure: expected seconds from 0 to 3600, or nothing");
}

static bool holds_edges(const struct trace *trace)
{
    return trace->at[COLUMN_SD] >= 0;
}

static bool is_state(double level)
{
    return (level >= 0 && level <= 0) || (level >= 1 && level <= 1);
}

/* The numbers of a row; its lamp is looked at by the caller. */
static enum lamp_err read_numbers(const struct trace *trace, struct lamp_sample *out,
                                  int64_t *sd_ns, struct lamp_error *error)
{
    const struct lamp_field *time = &trace->row.field[trace->at[COLUMN_TIME]];
    const struct lamp_field *level = &trace->row.field[trace->at[COLUMN_LEVEL]];
    if (!lamp_seconds_parse(time->text, &out->t_ns)) {
        return fail_at(trace, time, error, "is not a time: expected seconds, such as 0.033");
    }
    if (!lamp_number_parse(level->text, &out->level) || fabs(out->level) > level_most) {
        return fail_at(trace, level, error, "is not a level: expected a number, about 0 to 1");
    }
    if (holds_edges(trace) && !is_state(out->level)) {
        return fail_at(trace, level, error,
                       "is not a state: expected 0 or 1, as the column sd_s makes rows edges");
    }
    enum lamp_err err = read_span(trace, COLUMN_EXPOSURE, 0, &out->exposure_ns, error);
    return err == LAMP_OK ? read_span(trace, COLUMN_SD, LAMP_TRACE_NO_SD, sd_ns, error) : err;
}

/* What is read of a row. */
struct reading {
    size_t lamp;
    struct lamp_sample sample;
    int64_t sd_ns;
};

/* Read the row that is held; LAMP_FULL if it names one lamp too many. */
static enum lamp_err read_row(struct trace *trace, struct reading *out, struct lamp_error *error)
{
    struct lamp_names *names = &trace->input->names;
    const struct lamp_row *row = &trace->row;
    if (row->field_count != trace->field_count) {
        return fail_at(trace, &row->field[row->field_count - 1], error,
                       row->field_count < trace->field_count
                           ? "ends a row that has fewer fields than the header"
                           : "ends a row that has more fields than the header");
    }
    struct reading reading = {.lamp = 0};
    enum lamp_err err = read_numbers(trace, &reading.sample, &reading.sd_ns, error);
    if (err != LAMP_OK) {
        return err;
    }
    const struct lamp_field *lamp = &row->field[trace->at[COLUMN_LAMP]];
    if (!lamp_names_is_fit(lamp->text)) {
        return fail_at(trace, lamp, error, "is not a lamp: expected a name of 1 to 63 bytes");
    }
    reading.lamp = lamp_names_find(names, lamp->text);
    if (reading.lamp < names->count && reading.sample.t_ns < trace->last_ns[reading.lamp]) {
        return fail_at(trace, &row->field[trace->at[COLUMN_TIME]], error,
                       "goes back in time: expected each lamp's times in order");
    }
    if (reading.lamp == names->count && !lamp_names_add(names, lamp->text)) {
        (void)fail_at(trace, lamp, error, "is one lamp too many: expected at most 64");
        return LAMP_FULL;
    }
    *out = reading;
    return LAMP_OK;
}

/* The edge that a row makes, if it makes one. */
static bool take_edge(struct trace *trace, const struct reading *reading, struct lamp_edge *out)
{
    const struct lamp_edge row = {
        .t_ns = reading->sample.t_ns, .sd_ns = reading->sd_ns, .lit = reading->sample.level > 0};
    bool is_edge = lamp_trace_edges_take(&trace->edges, reading->lamp, &row, out);
    if (trace->edges.hole_count > 0) {
        lamp_notes_say(&trace->input->notes, NOTE_HOLES,
                       "rows before which edges are missing: %" PRIu64
                       ": the light is not known there",
                       trace->edges.hole_count);
    }
    return is_edge;
}

/* Count a good row. @return whether it makes an item. */
static bool take_row(struct trace *trace, const struct reading *reading, struct lamp_item *out)
{
    int64_t t_ns = reading->sample.t_ns;
    trace->now_ns = trace->good_count == 0 || t_ns > trace->now_ns ? t_ns : trace->now_ns;
    trace->good_count++;
    trace->last_ns[reading->lamp] = t_ns;
    struct lamp_item item = {.lamp = reading->lamp};
    if (holds_edges(trace)) {
        item.kind = LAMP_ITEM_EDGE;
        if (!take_edge(trace, reading, &item.edge)) {
            return false;
        }
    } else {
        item.kind = LAMP_ITEM_SAMPLE;
        item.sample = reading->sample;
    }
    lamp_pace_push(&trace->input->pace, item.lamp, t_ns, 0);
    *out = item;
    return true;
}

static void note_bad_row(struct trace *trace, const struct lamp_error *error)
{
    if (trace->bad_count++ == 0) {
        trace->first_bad = *error;
    }
    lamp_trace_edges_lose(&trace->edges);
    lamp_notes_say(&trace->input->notes, NOTE_ROWS, "rows left out: %" PRIu64 ", first %s: %s",
                   trace->bad_count, trace->first_bad.place, trace->first_bad.sentence);
}

/* A broken row must not lose a recording, but a file that is mostly broken is none. */
static bool is_hopeless(const struct trace *trace)
{
    return trace->good_count == 0 || trace->bad_count > trace->good_count;
}

static enum lamp_err refuse_trace(const struct trace *trace, struct lamp_error *error)
{
    if (trace->bad_count == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, trace->input->name,
                         "there is no row after the header");
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, trace->first_bad.place,
                     "%s (%" PRIu64 " of %" PRIu64 " rows cannot be read)",
                     trace->first_bad.sentence, trace->bad_count,
                     (trace->bad_count + trace->good_count));
}

static enum lamp_err next_item(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct trace *trace = state;
    struct reading reading = {.lamp = 0};
    struct lamp_error why;
    for (;;) {
        enum lamp_err err = lamp_rows_next(&trace->rows, &trace->row, &why);
        if (err == LAMP_OK) {
            err = read_row(trace, &reading, &why);
        }
        if (err == LAMP_OK && take_row(trace, &reading, out)) {
            return LAMP_OK;
        }
        if (err == LAMP_OK) {
            continue;
        }
        if (err == LAMP_FULL) {
            return lamp_fail(error, LAMP_BAD_SOURCE, why.place, "%s", why.sentence);
        }
        if (err == LAMP_END) {
            return is_hopeless(trace) ? refuse_trace(trace, error) : LAMP_END;
        }
        note_bad_row(trace, &why);
        if (trace->bad_count >= BAD_ROWS_ENOUGH && is_hopeless(trace)) {
            return refuse_trace(trace, error);
        }
    }
}

/* Edges have no rate, and are known until the last row. */
static void describe_trace(const void *state, struct lamp_source_info *out)
{
    const struct trace *trace = state;
    if (holds_edges(trace)) {
        out->kind = LAMP_SOURCE_EDGES;
        out->duration_s = out->frame_count == 0
                              ? 0
                              : (double)(trace->now_ns - trace->input->pace.first_ns) * 1e-9;
        out->rate_hz = 0;
        out->dropped_count = 0;
    }
}

static double trace_progress(const void *state)
{
    const struct trace *trace = state;
    return trace->size_bytes == 0 ? -1 : (double)trace->rows.read_bytes / (double)trace->size_bytes;
}

const struct lamp_form lamp_form_trace = {
    .kind = LAMP_SOURCE_TRACE,
    .suits = suits_trace,
    .open = open_trace,
    .next = next_item,
    .describe = describe_trace,
    .progress = trace_progress,
    .close = close_trace,
};
