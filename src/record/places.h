/* places.h - The brightness of each place that may be a lamp, as a trace beside the film. */
#ifndef LAMP_RECORD_PLACES_H
#define LAMP_RECORD_PLACES_H

#include "lampread/error.h"
#include "lampread/light.h"
#include "record/sink.h"

/** Rows of a place that are held back until there are more: what is given up before is no lamp
 * that could be read. */
#define LAMP_PLACE_ROWS_HELD 12

/** A place, as the trace has it. */
struct lamp_place_rows {
    char name[32];
    size_t count; /**< Rows so far, counted to one more than are held. */
    struct lamp_sample held[LAMP_PLACE_ROWS_HELD]; /**< Not written yet. */
    bool is_told;                                  /**< Its rows are written. */
};

/** The places of a film; begin with all zero and the sink. */
struct lamp_places {
    struct lamp_sink *sink; /**< Borrowed. */
    struct lamp_viewer *viewer;
    size_t name_count; /**< Names given: a trace may hold so many and no more. */
    struct lamp_place_rows rows[LAMP_PLACES_MAX];
};

/** Measure one frame. @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_SOURCE. Failures to write show in
 * the sink. */
enum lamp_err lamp_places_push(struct lamp_places *places, const struct lamp_frame *frame);

/** Free what it holds. */
void lamp_places_fini(struct lamp_places *places);

#endif
