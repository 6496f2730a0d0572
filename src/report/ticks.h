/* ticks.h - Where an axis has its marks, and how they are written. */
#ifndef LAMP_REPORT_TICKS_H
#define LAMP_REPORT_TICKS_H

#include <stddef.h>

/** Marks at first, first + step, ... `count` of them, all inside the axis. */
struct lamp_ticks {
    double first;
    double step; /**< 1, 2 or 5 times a power of ten. */
    size_t count;
    int decimals; /**< That tell neighbours apart. */
};

/** Choose at most `most` marks (>= 2) for an axis from `from` on, `span` > 0 long. */
struct lamp_ticks lamp_ticks_choose(double from, double span, size_t most);

/** Write the value of mark `index`. */
void lamp_ticks_write(const struct lamp_ticks *ticks, size_t index, char *out, size_t size);

#endif
