/* taken.h - What a length was taken for: a short or long flash, a gap, a pause, a rest. */
#ifndef LAMP_REPORT_TAKEN_H
#define LAMP_REPORT_TAKEN_H

#include <stdint.h>

#include "lampread/flash.h"
#include "lampread/group.h"

/** What a length may be taken for. */
enum lamp_taken {
    LAMP_TAKEN_SHORT,
    LAMP_TAKEN_LONG,
    LAMP_TAKEN_GAP,
    LAMP_TAKEN_PAUSE,
    LAMP_TAKEN_REST,
    LAMP_TAKEN_ODD, /**< None of them: too far from each. */
    LAMP_TAKEN_CUT, /**< An end of it was not seen. */
    LAMP_TAKEN_COUNT
};

/** Whether it is a flash of the pattern: short or long. */
bool lamp_taken_is_lit(enum lamp_taken taken);

/** What `length` is nearest to, on a log scale, whether it is near or not; lit ones are short where
 * nothing is known, dark ones gaps. */
enum lamp_taken lamp_taken_nearest(const struct lamp_length *length,
                                   const struct lamp_timing *timing);

/** As lamp_taken_nearest, but ODD and CUT are told. */
enum lamp_taken lamp_taken_for(const struct lamp_length *length, const struct lamp_timing *timing);

/** How long `taken` is by `timing`, ns; 0 where there is no such length. */
int64_t lamp_taken_ns(enum lamp_taken taken, const struct lamp_timing *timing);

/** One repeat as its classes say, ns; 0 where there are none. */
int64_t lamp_period_ns(const struct lamp_rhythm *rhythm);

/**
 * The length that has to be told apart in a drawing: the shortest class where there are classes,
 * else half the mean of the whole lengths. @return ns; INT64_MAX where nothing was seen whole.
 */
int64_t lamp_finest_ns(const struct lamp_length *length, size_t count,
                       const struct lamp_rhythm *rhythm);

/** When a length ends, ns. */
int64_t lamp_length_end_ns(const struct lamp_length *length);

#endif
