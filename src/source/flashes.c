/* flashes.c - A CSV of flashes, one a row, as edges: lamp, start_s, on_s and what goes with them.
 *
 *   start_s   on_s   off_s
 *      0             0.5       .---.   dark, as it was first seen
 *      0.5    0.2    0.3   ____|   |_____
 *                          ^0  ^.5 ^.7   ^1   the next row goes on here, or the light is out of
 * view
 */
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/table.h"

enum column {
    COLUMN_LAMP,
    COLUMN_START,
    COLUMN_ON,
    COLUMN_OFF,
    COLUMN_SD,
    COLUMN_CUT,
    COLUMN_TOLD
};
enum { COLUMN_COUNT = COLUMN_TOLD + 4 };
/* The last four tell what the flashes were taken for: they are known, and not needed. */
static const char *const column_names[COLUMN_COUNT] = {
    "lamp", "start_s", "on_s", "off_s", "sd_s", "cut", "class", "dark_class", "group", "repeat"};
static const struct lamp_columns columns = {.name = column_names,
                                            .count = COLUMN_COUNT,
                                            .required = COLUMN_OFF,
                                            .header = "lamp,start_s,on_s[,off_s,sd_s,cut]"};

/* What is known of edges that no sd is told of: ns, as 0 would say that the light was not seen
 * before. */
enum { SD_UNTOLD_NS = 1 };

/* A break and two edges, at most, come of one row; one edge of the row before may wait yet. */
enum { WAITING_MAX = 4 };

/* No light is as long as that. */
static const int64_t length_most_ns = INT64_C(1000000) * LAMP_NS_PER_S;

/* One lamp: how far it was read, and what its rows have not given yet. */
struct lane {
    bool has_begun;
    bool is_in_view;
    bool is_cut;    /* Its last flash was not seen to end. */
    int64_t end_ns; /* Of what is known of it. */
    size_t waiting_count;
    struct lamp_item waiting[WAITING_MAX];
};

/* One row. */
struct flash {
    size_t lamp;
    int64_t start_ns;
    int64_t on_ns;  /* 0: dark from its start on. */
    int64_t off_ns; /* The dark that follows; 0: it goes on to the next flash. */
    int64_t sd_ns;  /* Of on_ns, 0: not told. */
    bool begins;    /* What came before was not seen. */
    bool ends;      /* Its end was not seen. */
};

struct flashes {
    struct lamp_table table;
    bool is_over;     /* No row is left. */
    int64_t first_ns; /* Earliest start. */
    int64_t last_ns;  /* Latest end. */
    int64_t row_ns;   /* Start of the last row: what is waiting from before it can be given. */
    struct lane lane[LAMP_SOURCE_LAMPS_MAX];
};

static bool suits_flashes(const struct lamp_sniff *sniff)
{
    return sniff->is_text && lamp_table_has_column(sniff->head, column_names[COLUMN_START]) &&
           lamp_table_has_column(sniff->head, column_names[COLUMN_ON]);
}

static void close_flashes(void *state)
{
    struct flashes *flashes = state;
    lamp_table_close(&flashes->table);
    free(flashes);
}

static enum lamp_err open_flashes(struct lamp_input *input, const struct lamp_sniff *sniff,
                                  void **state, struct lamp_error *error)
{
    (void)sniff;
    struct flashes *flashes = calloc(1, sizeof *flashes);
    if (flashes == NULL) {
        return lamp_fail_memory(error);
    }
    enum lamp_err err = lamp_table_open(input, &columns, &flashes->table, error);
    if (err != LAMP_OK) {
        close_flashes(flashes);
        return err;
    }
    flashes->first_ns = INT64_MAX;
    flashes->last_ns = INT64_MIN;
    *state = flashes;
    return LAMP_OK;
}

/* -- a row -- */

static enum lamp_err read_start(const struct lamp_table *table, int64_t *out_ns,
                                struct lamp_error *error)
{
    const struct lamp_field *field = lamp_table_field(table, COLUMN_START);
    return lamp_seconds_parse(field->text, out_ns)
               ? LAMP_OK
               : lamp_table_fail(table, field, error,
                                 "is not a time: expected seconds, such as 0.412");
}

/* A length of time; 0 where there is none. */
static enum lamp_err read_length(const struct lamp_table *table, enum column column,
                                 int64_t *out_ns, struct lamp_error *error)
{
    const struct lamp_field *field = lamp_table_field(table, (int)column);
    if (field == NULL || *field->text == '\0') {
        return LAMP_OK;
    }
    bool is_length =
        lamp_seconds_parse(field->text, out_ns) && *out_ns >= 0 && *out_ns <= length_most_ns;
    return is_length ? LAMP_OK
                     : lamp_table_fail(table, field, error,
                                       "is not a length: expected seconds, such as 0.2");
}

static enum lamp_err read_cut(const struct lamp_table *table, struct flash *out,
                              struct lamp_error *error)
{
    const struct lamp_field *field = lamp_table_field(table, COLUMN_CUT);
    const char *text = field != NULL ? field->text : "";
    bool is_both = strcmp(text, "both") == 0;
    out->begins = is_both || strcmp(text, "start") == 0;
    out->ends = is_both || strcmp(text, "end") == 0;
    if (*text != '\0' && !out->begins && !out->ends) {
        return lamp_table_fail(table, field, error,
                               "is not what may be cut: expected start, end, both or nothing");
    }
    return LAMP_OK;
}

static enum lamp_err read_numbers(const struct lamp_table *table, struct flash *out,
                                  struct lamp_error *error)
{
    enum lamp_err answers[] = {read_start(table, &out->start_ns, error),
                               read_length(table, COLUMN_ON, &out->on_ns, error),
                               read_length(table, COLUMN_OFF, &out->off_ns, error),
                               read_length(table, COLUMN_SD, &out->sd_ns, error)};
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        if (answers[i] != LAMP_OK) {
            return answers[i];
        }
    }
    if (out->on_ns == 0 && out->off_ns == 0) {
        return lamp_table_fail(table, lamp_table_field(table, COLUMN_ON), error,
                               "tells no flash: expected how long it was lit, or off_s alone "
                               "where it was dark");
    }
    return LAMP_OK;
}

static enum lamp_err read_flash(struct lamp_table *table, struct flash *out,
                                struct lamp_error *error)
{
    enum lamp_err err = read_numbers(table, out, error);
    if (err == LAMP_OK) {
        err = read_cut(table, out, error);
    }
    return err == LAMP_OK ? lamp_table_lamp(table, COLUMN_LAMP, &out->lamp, error) : err;
}

/* -- rows to edges -- */

static void give(struct lane *lane, struct lamp_item item)
{
    assert(lane->waiting_count < WAITING_MAX);
    lane->waiting[lane->waiting_count++] = item;
}

static void give_break(struct lane *lane, size_t lamp)
{
    if (lane->is_in_view) {
        give(lane,
             (struct lamp_item){.kind = LAMP_ITEM_BREAK, .lamp = lamp, .break_ns = lane->end_ns});
    }
    lane->is_in_view = false;
}

/* The sd of a length is that of its two edges together. */
static int64_t edge_sd_ns(const struct flash *flash)
{
    int64_t sd_ns = flash->sd_ns * 100 / 141;
    return sd_ns > 0 ? sd_ns : SD_UNTOLD_NS;
}

static void give_flash(struct lane *lane, const struct flash *flash)
{
    struct lamp_item item = {.kind = LAMP_ITEM_EDGE, .lamp = flash->lamp};
    item.edge = (struct lamp_edge){
        .t_ns = flash->start_ns, .sd_ns = edge_sd_ns(flash), .lit = flash->on_ns > 0};
    if (flash->begins || lane->is_cut) {
        give_break(lane, flash->lamp);
    }
    if (item.edge.lit || !lane->is_in_view) {
        give(lane, item);
    }
    lane->has_begun = true;
    lane->is_in_view = true;
    lane->is_cut = flash->ends;
    lane->end_ns = flash->start_ns + flash->on_ns + flash->off_ns;
    if (flash->on_ns > 0 && !flash->ends) {
        item.edge.t_ns = flash->start_ns + flash->on_ns;
        item.edge.lit = false;
        give(lane, item);
    }
}

static enum lamp_err read_row(void *state, struct lamp_error *error)
{
    struct flashes *flashes = state;
    struct flash flash = {.lamp = 0};
    enum lamp_err err = read_flash(&flashes->table, &flash, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lane *lane = &flashes->lane[flash.lamp];
    if (lane->has_begun && flash.start_ns < lane->end_ns) {
        return lamp_table_fail(&flashes->table, lamp_table_field(&flashes->table, COLUMN_START),
                               error,
                               "is before the end of the row before it: expected each lamp's "
                               "flashes in order");
    }
    give_flash(lane, &flash);
    flashes->row_ns = flash.start_ns;
    flashes->first_ns = flash.start_ns < flashes->first_ns ? flash.start_ns : flashes->first_ns;
    flashes->last_ns = lane->end_ns > flashes->last_ns ? lane->end_ns : flashes->last_ns;
    return LAMP_OK;
}

/* The lamp whose next item comes first; NULL if none has one. */
static struct lane *earliest(struct flashes *flashes)
{
    struct lane *found = NULL;
    for (size_t i = 0; i < flashes->table.input->names.count; i++) {
        struct lane *lane = &flashes->lane[i];
        if (lane->waiting_count > 0 &&
            (found == NULL ||
             lamp_item_time_ns(&lane->waiting[0]) < lamp_item_time_ns(&found->waiting[0]))) {
            found = lane;
        }
    }
    return found;
}

static void take_first(struct lane *lane, struct lamp_item *out)
{
    *out = lane->waiting[0];
    lane->waiting_count--;
    memmove(&lane->waiting[0], &lane->waiting[1], lane->waiting_count * sizeof lane->waiting[0]);
}

/* Every lamp goes out of view where its last row ends. */
static void end_lanes(struct flashes *flashes)
{
    flashes->is_over = true;
    for (size_t i = 0; i < flashes->table.input->names.count; i++) {
        give_break(&flashes->lane[i], i);
    }
}

/* Lamps take turns by time: what is later than the last row waits for what the next rows give. */
static enum lamp_err next_edge(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct flashes *flashes = state;
    for (;;) {
        struct lane *lane = earliest(flashes);
        if (lane != NULL &&
            (flashes->is_over || lamp_item_time_ns(&lane->waiting[0]) <= flashes->row_ns)) {
            take_first(lane, out);
            lamp_pace_push(&flashes->table.input->pace, out->lamp, lamp_item_time_ns(out), 0);
            return LAMP_OK;
        }
        if (flashes->is_over) {
            return LAMP_END;
        }
        enum lamp_err err = lamp_table_next(&flashes->table, read_row, flashes, error);
        if (err == LAMP_END) {
            end_lanes(flashes);
        } else if (err != LAMP_OK) {
            return err;
        }
    }
}

static void describe_flashes(const void *state, struct lamp_source_info *out)
{
    const struct flashes *flashes = state;
    out->duration_s = out->frame_count == 0
                          ? 0
                          : ((double)flashes->last_ns - (double)flashes->first_ns) / LAMP_NS_PER_S;
    out->rate_hz = 0;
    out->dropped_count = 0;
}

static double flashes_progress(const void *state)
{
    return lamp_table_progress(&((const struct flashes *)state)->table);
}

const struct lamp_form lamp_form_flashes = {
    .kind = LAMP_SOURCE_EDGES,
    .suits = suits_flashes,
    .open = open_flashes,
    .next = next_edge,
    .describe = describe_flashes,
    .progress = flashes_progress,
    .close = close_flashes,
};
