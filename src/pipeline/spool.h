/* spool.h - Every sample of a reading in a file, so that memory does not grow, until it is known
 * which are a lamp's. */
#ifndef LAMP_PIPELINE_SPOOL_H
#define LAMP_PIPELINE_SPOOL_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "pipeline/bundle.h"

/** Samples kept; begin with all zero and the file. */
struct lamp_spool {
    FILE *file;                     /**< Borrowed; NULL keeps nothing. */
    uint32_t life[LAMP_PLACES_MAX]; /**< How often each place began: what came before is void. */
    bool failed;                    /**< A write or read failed. */
    bool is_read;                   /**< Reading has begun. */
};

/** What is kept of one sample. */
struct lamp_spooled {
    int64_t t_ns;
    int64_t exposure_ns;
    double level[LAMP_CHANNEL_COUNT];
    uint32_t place; /**< Place or trace. */
    uint32_t life;  /**< Of the place, when it was measured. */
};

/** Keep one reading of a place. */
void lamp_spool_reading(struct lamp_spool *spool, const struct lamp_reading *reading);

/** Keep one sample of trace `index`. */
void lamp_spool_sample(struct lamp_spool *spool, size_t index, const struct lamp_sample *sample);

/** Read from the beginning. */
void lamp_spool_rewind(struct lamp_spool *spool);

/** Read the next sample that is not void. @return LAMP_OK, LAMP_END, LAMP_CANNOT_WRITE. */
enum lamp_err lamp_spool_next(struct lamp_spool *spool, struct lamp_spooled *out);

#endif
