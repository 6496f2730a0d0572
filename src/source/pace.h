/* pace.h - The pace of a recording from its time stamps: rate, duration, and what is missing.
 *
 *   count |        #
 *         |       ###                #
 *         |      #####              ###            .
 *         '--------|------------------|------------|-->  interval, log scale
 *               median: one frame   two: one is   three
 *                                   missing
 */
#ifndef LAMP_SOURCE_PACE_H
#define LAMP_SOURCE_PACE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/source.h"

/** Interval classes: 64 an octave from 1 us up, so that a class is about 1 % wide. */
#define LAMP_PACE_CLASSES 2304

/** Time stamps counted; begin with lamp_pace_init. */
struct lamp_pace {
    uint64_t item_count;
    int64_t first_ns;       /**< Earliest time stamp. */
    int64_t last_ns;        /**< Latest time stamp. */
    int64_t last_length_ns; /**< How long the latest item lasts, 0 where not known. */
    uint64_t interval_count;
    bool has_last[LAMP_SOURCE_LAMPS_MAX]; /**< Whether a lane has begun. */
    int64_t lane_last_ns[LAMP_SOURCE_LAMPS_MAX];
    uint64_t count[LAMP_PACE_CLASSES];
    double sum_ns[LAMP_PACE_CLASSES];
};

void lamp_pace_init(struct lamp_pace *pace);

/**
 * Count one item of a lane (a lamp of a trace; 0 for pictures).
 * @param length_ns  how long it lasts, ns; 0 where the source does not know.
 */
void lamp_pace_push(struct lamp_pace *pace, size_t lane, int64_t t_ns, int64_t length_ns);

/** The usual interval of one lane: the mean about the median, ns; 0 before the second item. */
double lamp_pace_interval_ns(const struct lamp_pace *pace);

/** From first to last time stamp plus the last item's length, or one usual interval where that is
 * not known, s. */
double lamp_pace_duration_s(const struct lamp_pace *pace);

/**
 * How many items of one lane the intervals say are missing. Counted only where nearly all intervals
 * are one, two or more usual ones and most are one: a camera that varies its rate drops nothing.
 */
uint64_t lamp_pace_dropped(const struct lamp_pace *pace);

#endif
