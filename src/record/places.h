/* places.h - The brightness of each place that may be a lamp, as a trace beside the film. */
#ifndef LAMP_RECORD_PLACES_H
#define LAMP_RECORD_PLACES_H

#include "lampread/error.h"
#include "lampread/light.h"
#include "record/sink.h"

/** The places of a film; begin with all zero and the sink. */
struct lamp_places {
    struct lamp_sink *sink; /**< Borrowed. */
    struct lamp_viewer *viewer;
    size_t name_count; /**< Names given: a trace may hold so many and no more. */
    char name[LAMP_PLACES_MAX][32];
    bool is_told[LAMP_PLACES_MAX]; /**< Its rows are written. */
};

/** Measure one frame. @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_SOURCE. Failures to write show in
 * the sink. */
enum lamp_err lamp_places_push(struct lamp_places *places, const struct lamp_frame *frame);

/** Free what it holds. */
void lamp_places_fini(struct lamp_places *places);

#endif
