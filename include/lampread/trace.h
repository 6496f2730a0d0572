/* trace.h - The brightness of one lamp over time. */
#ifndef LAMPREAD_TRACE_H
#define LAMPREAD_TRACE_H

#include <stdint.h>

/** One measurement of a lamp's light. */
struct lamp_sample {
    int64_t t_ns;        /**< Start of exposure, ns on the source's clock. */
    int64_t exposure_ns; /**< How long light was gathered, ns; 0 where not known. */
    double level;        /**< Linear light above the surroundings; 1 is about full scale, may be a little below 0. */
};

#endif
