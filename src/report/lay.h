/* lay.h - An entry's cycle laid along the edges that were seen, on one common time scale. */
#ifndef LAMP_REPORT_LAY_H
#define LAMP_REPORT_LAY_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/flash.h"
#include "lampread/pattern.h"

/** Where the cycle begins, and how it is stretched. */
struct lamp_laid {
    double start_ns;  /**< Of one cycle; it repeats before and after. */
    double scale;     /**< Seen over nominal. */
    double period_ns; /**< Of the cycle as it is laid. */
};

/**
 * Lay `wave` along `count` lengths: the place and scale that bring most edges together.
 * @param scale  to begin with, within some per cent. @return false where the wave or the light has
 * no edges, or the wave more than can be drawn.
 */
bool lamp_lay(const struct lamp_wave *wave, double scale, const struct lamp_length *length,
              size_t count, struct lamp_laid *out);

#endif
