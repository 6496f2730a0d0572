/* trace.c - A CSV of brightness: time_s, lamp, level and perhaps exposure_s, in any order of
 * columns. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/table.h"

enum column { COLUMN_TIME, COLUMN_LAMP, COLUMN_LEVEL, COLUMN_EXPOSURE, COLUMN_COUNT };
static const char *const column_names[COLUMN_COUNT] = {"time_s", "lamp", "level", "exposure_s"};
static const struct lamp_columns columns = {.name = column_names,
                                            .count = COLUMN_COUNT,
                                            .required = COLUMN_EXPOSURE,
                                            .header = "time_s,lamp,level[,exposure_s]"};

/* Beyond these a number is not what its column says. */
static const double level_most = 1e6;
static const int64_t exposure_most_ns = 3600 * (int64_t)LAMP_NS_PER_S;

struct trace {
    struct lamp_table table;
    struct lamp_item item; /* Of the row that was read. */
};

static bool has_header(const char *head)
{
    bool found = false;
    for (int i = 0; i < COLUMN_COUNT; i++) {
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
    *state = trace;
    return LAMP_OK;
}

static enum lamp_err read_exposure(const struct lamp_table *table, int64_t *out_ns,
                                   struct lamp_error *error)
{
    const struct lamp_field *exposure = lamp_table_field(table, COLUMN_EXPOSURE);
    if (exposure == NULL || *exposure->text == '\0') {
        return LAMP_OK;
    }
    if (!lamp_table_seconds(exposure->text, out_ns) || *out_ns < 0 || *out_ns > exposure_most_ns) {
        return lamp_table_fail(table, exposure, error,
                               "is not an exposure: expected seconds from 0 to 3600, or nothing");
    }
    return LAMP_OK;
}

/* The numbers of a row; its lamp is looked at by the caller. */
static enum lamp_err read_numbers(const struct lamp_table *table, struct lamp_sample *out,
                                  struct lamp_error *error)
{
    const struct lamp_field *time = lamp_table_field(table, COLUMN_TIME);
    const struct lamp_field *level = lamp_table_field(table, COLUMN_LEVEL);
    *out = (struct lamp_sample){.exposure_ns = 0};
    if (!lamp_table_seconds(time->text, &out->t_ns)) {
        return lamp_table_fail(table, time, error,
                               "is not a time: expected seconds, such as 0.033");
    }
    if (!lamp_number_parse(level->text, &out->level) || fabs(out->level) > level_most) {
        return lamp_table_fail(table, level, error,
                               "is not a level: expected a number, about 0 to 1");
    }
    return read_exposure(table, &out->exposure_ns, error);
}

static enum lamp_err read_sample(void *state, struct lamp_error *error)
{
    struct trace *trace = state;
    struct lamp_table *table = &trace->table;
    struct lamp_item item = {.kind = LAMP_ITEM_SAMPLE};
    const size_t known = table->input->names.count;
    enum lamp_err err = read_numbers(table, &item.sample, error);
    if (err == LAMP_OK) {
        err = lamp_table_lamp(table, COLUMN_LAMP, &item.lamp, error);
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (item.lamp < known && item.sample.t_ns < table->input->pace.lane_last_ns[item.lamp]) {
        return lamp_table_fail(table, lamp_table_field(table, COLUMN_TIME), error,
                               "goes back in time: expected each lamp's times in order");
    }
    trace->item = item;
    return LAMP_OK;
}

static enum lamp_err next_sample(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct trace *trace = state;
    enum lamp_err err = lamp_table_next(&trace->table, read_sample, trace, error);
    if (err == LAMP_OK) {
        *out = trace->item;
        lamp_pace_push(&trace->table.input->pace, out->lamp, out->sample.t_ns, 0);
    }
    return err;
}

static double trace_progress(const void *state)
{
    return lamp_table_progress(&((const struct trace *)state)->table);
}

const struct lamp_form lamp_form_trace = {
    .kind = LAMP_SOURCE_TRACE,
    .suits = suits_trace,
    .open = open_trace,
    .next = next_sample,
    .describe = NULL,
    .progress = trace_progress,
    .close = close_trace,
};
