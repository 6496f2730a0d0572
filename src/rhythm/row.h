/* row.h - The newest lengths of a lamp, and the classes that either side may have. */
#ifndef LAMP_RHYTHM_ROW_H
#define LAMP_RHYTHM_ROW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/flash.h"
#include "rhythm/class.h"
#include "rhythm/split.h"

/** Shorter lengths are taken as this long, so that each has a logarithm: 10 us, far below any lamp.
 */
#define LAMP_LENGTH_LEAST_NS 1e4

/** One side of a row: its lit lengths, or its dark ones. */
struct lamp_side {
    struct lamp_measures measures;
    size_t index[LAMP_ROW_MAX];                 /**< Of each measure, in the row. */
    struct lamp_classes bands[LAMP_BAND_COUNT]; /**< See lamp_classes_find. */
    bool is_coarse; /**< Measured too coarsely to show that it scatters. */
};

/** A row and both its sides. Large: about 60 KB. */
struct lamp_reading {
    const struct lamp_length *at; /**< The newest lengths, borrowed. */
    size_t count;
    struct lamp_side lit;
    struct lamp_side dark;
    size_t edges;    /**< In the whole recording. */
    int64_t seen_ns; /**< Time in view, of the whole recording. */
};

/**
 * Take the newest of `count` lengths and find each side's classes.
 * @param least_ns  Shorter ones are left out of their side.
 */
void lamp_reading_take(const struct lamp_length *lengths, size_t count, double jitter,
                       double least_ns, struct lamp_reading *out);

/** The row with its lit lengths classed as in `lit_band`, its dark ones as in `dark_band`. */
void lamp_reading_row(const struct lamp_reading *reading, enum lamp_band lit_band,
                      enum lamp_band dark_band, struct lamp_row *out);

/**
 * Whether the lengths of either side's first class are as alike as one timer makes them: none is
 * off another by more than two sds and a small share of its length.
 */
bool lamp_row_is_even(const struct lamp_row *row);

/**
 * Whether the lengths come back, one after the other, within what their sds and `jitter` explain:
 * light that repeats, however many lengths its cycle has.
 */
bool lamp_row_returns(const struct lamp_row *row, double jitter);

/** Whether the i-th length is joined to the one before it: an edge parts them. */
bool lamp_lengths_join(const struct lamp_length *lengths, size_t i);

#endif
