/* columns.h - Samples over a stretch of time, in memory that does not grow: exact while they are
 * few, then the range in each column. */
#ifndef LAMP_REPORT_COLUMNS_H
#define LAMP_REPORT_COLUMNS_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/trace.h"

/** Columns of a stretch. */
#define LAMP_COLUMNS 1200

/** What fell into one column. */
struct lamp_column {
    uint32_t count;
    float low, high;
    int64_t first_ns; /**< Time of its first sample. */
};

/** A stretch; set its times, all else zero. */
struct lamp_columns {
    int64_t start_ns;
    int64_t span_ns; /**< > 0. */
    struct lamp_column at[LAMP_COLUMNS];
};

/** Add a sample; one outside of the stretch is let go. */
void lamp_columns_push(struct lamp_columns *columns, const struct lamp_sample *sample);

/** The least and the highest level. @return false where there is no sample. */
bool lamp_columns_range(const struct lamp_columns *columns, double *low, double *high);

#endif
