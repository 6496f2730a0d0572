/* trace.c - A CSV of brightness or of edges: time_s, lamp, level and perhaps exposure_s or sd_s, in
 * any order of columns. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/table.h"
#include "source/trace_edges.h"

/* The first three have to be there, the last makes it a trace of edges. */
enum column { COLUMN_TIME, COLUMN_LAMP, COLUMN_LEVEL, COLUMN_EXPOSURE, COLUMN_SD, COLUMN_COUNT };
static const char *const column_names[COLUMN_COUNT] = {"time_s", "lamp", "level", "exposure_s",
                                                       "sd_s"};
static const struct lamp_columns columns = {.name = column_names,
                                            .count = COLUMN_COUNT,
                                            .required = COLUMN_EXPOSURE,
                                            .header = "time_s,lamp,level[,exposure_s]"};

/* Beyond these a number is not what its column says. */
static const double level_most = 1e6;
static const int64_t span_most_ns = 3600 * (int64_t)LAMP_NS_PER_S;

/* What is read of a row. */
struct reading {
    size_t lamp;
    struct lamp_sample sample;
    int64_t sd_ns;
};

struct trace {
    struct lamp_table table;
    struct lamp_trace_edges edges;
    struct reading reading;                 /* The row that was read. */
    int64_t now_ns;                         /* The latest time of a row. */
    int64_t last_ns[LAMP_SOURCE_LAMPS_MAX]; /* Of each lamp. */
    uint64_t lost_count;                    /* Rows left out that the edges know of. */
};

static bool has_header(const char *head)
{
    bool found = false;
    for (int i = 0; i < COLUMN_SD; i++) {
        found = found || lamp_table_has_column(head, column_names[i]);
    }
    return found && strchr(head, ',') != NULL;
}

/* A text whose first line names a column, or that says in its own name that it is one. */
static bool suits_trace(const struct lamp_sniff *sniff)
{
    const char *ending = strrchr(sniff->name, '.');
    bool is_named = ending != NULL && strcasecmp(ending, ".csv") == 0;
    return sniff->is_text && (is_named || has_header(sniff->head));
}

static void close_trace(void *state)
{
    struct trace *trace = state;
    lamp_table_close(&trace->table);
    free(trace);
}

static enum lamp_err open_trace(struct lamp_input *input, const struct lamp_sniff *sniff,
                                void **state, struct lamp_error *error)
{
    (void)sniff;
    struct trace *trace = calloc(1, sizeof *trace);
    if (trace == NULL) {
        return lamp_fail_memory(error);
    }
    enum lamp_err err = lamp_table_open(input, &columns, &trace->table, error);
    if (err != LAMP_OK) {
        close_trace(trace);
        return err;
    }
    trace->now_ns = INT64_MIN;
    *state = trace;
    return LAMP_OK;
}

static bool holds_edges(const struct trace *trace)
{
    return trace->table.at[COLUMN_SD] >= 0;
}

/* -- a row -- */

/* A span of time that a row may leave empty, and a file leave out: `none` then. */
static enum lamp_err read_span(const struct lamp_table *table, enum column column, int64_t none,
                               int64_t *out_ns, struct lamp_error *error)
{
    const struct lamp_field *field = lamp_table_field(table, (int)column);
    if (field == NULL || *field->text == '\0') {
        *out_ns = none;
        return LAMP_OK;
    }
    if (lamp_seconds_parse(field->text, out_ns) && *out_ns >= 0 && *out_ns <= span_most_ns) {
        return LAMP_OK;
    }
    return lamp_table_fail(
        table, field, error,
        column == COLUMN_SD
            ? "is not a standard deviation: expected seconds from 0 to 3600, or nothing"
            : "is not an exposure: expected seconds from 0 to 3600, or nothing");
}

static bool is_state(double level)
{
    return (level >= 0 && level <= 0) || (level >= 1 && level <= 1);
}

/* The numbers of a row; its lamp is looked at by the caller. */
static enum lamp_err read_numbers(const struct trace *trace, struct reading *out,
                                  struct lamp_error *error)
{
    const struct lamp_table *table = &trace->table;
    const struct lamp_field *time = lamp_table_field(table, COLUMN_TIME);
    const struct lamp_field *level = lamp_table_field(table, COLUMN_LEVEL);
    struct lamp_sample *sample = &out->sample;
    if (!lamp_seconds_parse(time->text, &sample->t_ns)) {
        return lamp_table_fail(table, time, error,
                               "is not a time: expected seconds, such as 0.033");
    }
    if (!lamp_number_parse(level->text, &sample->level) || fabs(sample->level) > level_most) {
        return lamp_table_fail(table, level, error,
                               "is not a level: expected a number, about 0 to 1");
    }
    if (holds_edges(trace) && !is_state(sample->level)) {
        return lamp_table_fail(table, level, error,
                               "is not a state: expected 0 or 1, as the column sd_s makes rows "
                               "edges");
    }
    enum lamp_err err = read_span(table, COLUMN_EXPOSURE, 0, &sample->exposure_ns, error);
    return err == LAMP_OK ? read_span(table, COLUMN_SD, LAMP_TRACE_NO_SD, &out->sd_ns, error) : err;
}

static enum lamp_err read_row(void *state, struct lamp_error *error)
{
    struct trace *trace = state;
    struct lamp_table *table = &trace->table;
    struct reading reading = {.lamp = 0};
    const size_t known = table->input->names.count;
    enum lamp_err err = read_numbers(trace, &reading, error);
    if (err == LAMP_OK) {
        err = lamp_table_lamp(table, COLUMN_LAMP, &reading.lamp, error);
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (reading.lamp < known && reading.sample.t_ns < trace->last_ns[reading.lamp]) {
        return lamp_table_fail(table, lamp_table_field(table, COLUMN_TIME), error,
                               "goes back in time: expected each lamp's times in order");
    }
    trace->reading = reading;
    return LAMP_OK;
}

/* -- rows to items -- */

/* The edge that a row makes, if it makes one. */
static bool take_edge(struct trace *trace, struct lamp_edge *out)
{
    const struct reading *reading = &trace->reading;
    const struct lamp_edge row = {
        .t_ns = reading->sample.t_ns, .sd_ns = reading->sd_ns, .lit = reading->sample.level > 0};
    if (trace->table.bad_count > trace->lost_count) {
        trace->lost_count = trace->table.bad_count;
        lamp_trace_edges_lose(&trace->edges);
    }
    bool is_edge = lamp_trace_edges_take(&trace->edges, reading->lamp, &row, out);
    if (trace->edges.hole_count > 0) {
        lamp_notes_say(&trace->table.input->notes, LAMP_TABLE_NOTE_OWN,
                       "rows before which edges are missing: %" PRIu64
                       ": the light is not known there",
                       trace->edges.hole_count);
    }
    return is_edge;
}

/* @return whether the row that was read makes an item. */
static bool take_row(struct trace *trace, struct lamp_item *out)
{
    const struct reading *reading = &trace->reading;
    int64_t t_ns = reading->sample.t_ns;
    trace->now_ns = t_ns > trace->now_ns ? t_ns : trace->now_ns;
    trace->last_ns[reading->lamp] = t_ns;
    struct lamp_item item = {.kind = LAMP_ITEM_SAMPLE, .lamp = reading->lamp};
    item.sample = reading->sample;
    if (holds_edges(trace)) {
        item.kind = LAMP_ITEM_EDGE;
        if (!take_edge(trace, &item.edge)) {
            return false;
        }
    }
    lamp_pace_push(&trace->table.input->pace, item.lamp, t_ns, 0);
    *out = item;
    return true;
}

static enum lamp_err next_item(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct trace *trace = state;
    enum lamp_err err;
    do {
        err = lamp_table_next(&trace->table, read_row, trace, error);
    } while (err == LAMP_OK && !take_row(trace, out));
    return err;
}

/* Edges have no rate, and are known until the last row. */
static void describe_trace(const void *state, struct lamp_source_info *out)
{
    const struct trace *trace = state;
    if (holds_edges(trace)) {
        out->kind = LAMP_SOURCE_EDGES;
        out->duration_s = out->frame_count == 0
                              ? 0
                              : (double)(trace->now_ns - trace->table.input->pace.first_ns) * 1e-9;
        out->rate_hz = 0;
        out->dropped_count = 0;
    }
}

static double trace_progress(const void *state)
{
    return lamp_table_progress(&((const struct trace *)state)->table);
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
