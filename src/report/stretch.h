/* stretch.h - Which stretch of a recording is drawn large. */
#ifndef LAMP_REPORT_STRETCH_H
#define LAMP_REPORT_STRETCH_H

#include "lampread/report.h"
#include "report/repeats.h"

/** A stretch of time; span_ns > 0. */
struct lamp_stretch_of_time {
    int64_t start_ns;
    int64_t span_ns;
};

/** All that was seen of a lamp; false where nothing was. */
bool lamp_stretch_whole(const struct lamp_report_lamp *lamp, struct lamp_stretch_of_time *out);

/**
 * The stretch to draw: all of it where that stays legible, else some whole repeats, those that are
 * most alike, the newest of them; of light without repeats the part with most edges.
 */
void lamp_stretch_choose(const struct lamp_report_lamp *lamp, const struct lamp_repeats *repeats,
                         struct lamp_stretch_of_time *out);

#endif
