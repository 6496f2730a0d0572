/* places.c - The brightness of each place that may be a lamp, as a trace beside the film. */
#include "record/places.h"

#include <stdio.h>

#include "lampread/export.h"

static enum lamp_err begin(struct lamp_places *places)
{
    const struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    (void)lamp_export_trace_begin(places->sink->file, true);
    return lamp_viewer_new(&rules, &places->viewer);
}

/* A place is called by where it is: what it is, is known at the end only. A place that begins anew
 * is another one; a trace holds no more than so many. */
static void name_place(struct lamp_places *places, size_t index)
{
    struct lamp_place_rows *rows = &places->rows[index];
    struct lamp_place place;
    lamp_viewer_place(places->viewer, index, &place);
    rows->is_told = places->name_count < LAMP_SOURCE_LAMPS_MAX;
    if (rows->is_told) {
        places->name_count++;
        (void)snprintf(rows->name, sizeof rows->name, "at %d,%d (%zu)",
                       place.region.x_px + place.region.w_px / 2,
                       place.region.y_px + place.region.h_px / 2, places->name_count);
    }
}

static void write_row(const struct lamp_places *places, const struct lamp_place_rows *rows,
                      const struct lamp_sample *row)
{
    if (rows->is_told) {
        (void)lamp_export_trace_push(places->sink->file, true, rows->name, row);
    }
}

static void take_row(struct lamp_places *places, size_t index, const struct lamp_sample *row)
{
    struct lamp_place_rows *rows = &places->rows[index];
    if (rows->count < LAMP_PLACE_ROWS_HELD) {
        rows->held[rows->count++] = *row;
        return;
    }
    if (rows->count == LAMP_PLACE_ROWS_HELD) {
        name_place(places, index);
        for (size_t i = 0; i < LAMP_PLACE_ROWS_HELD; i++) {
            write_row(places, rows, &rows->held[i]);
        }
        rows->count++;
    }
    write_row(places, rows, row);
}

static void take_reading(struct lamp_places *places, const struct lamp_reading *reading)
{
    const struct lamp_sample row = {
        .t_ns = reading->t_ns,
        .exposure_ns = reading->exposure_ns,
        .level = ((double)reading->rgb[0] + (double)reading->rgb[1] + (double)reading->rgb[2]) / 3};
    if (reading->begins) {
        places->rows[reading->place].count = 0;
    }
    take_row(places, reading->place, &row);
}

enum lamp_err lamp_places_push(struct lamp_places *places, const struct lamp_frame *frame)
{
    enum lamp_err err = places->viewer == NULL ? begin(places) : LAMP_OK;
    if (err == LAMP_OK) {
        err = lamp_viewer_push(places->viewer, frame);
    }
    struct lamp_reading reading;
    while (err == LAMP_OK && lamp_viewer_next(places->viewer, &reading)) {
        take_reading(places, &reading);
    }
    return err;
}

void lamp_places_fini(struct lamp_places *places)
{
    lamp_viewer_free(places->viewer);
    places->viewer = NULL;
}
