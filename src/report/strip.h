/* strip.h - A lamp's light as one line of text, to scale.
 *
 *   ███ ███ █ █ █         ███ ███ █ █ █   5.2 s     light
 *    L   L  s s s  rest    L   L  s s s             what each flash and long dark was taken for
 */
#ifndef LAMP_REPORT_STRIP_H
#define LAMP_REPORT_STRIP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/flash.h"
#include "lampread/group.h"

/** Most columns of a strip. */
#define LAMP_STRIP_COLUMNS_MAX 240

/** How a strip is drawn. */
struct lamp_strip_rules {
    int columns;   /**< 8..LAMP_STRIP_COLUMNS_MAX; others are brought into it. */
    bool is_ascii; /**< Use '#' and '_' in place of blocks. */
};

/** A strip. Holds nothing to free. */
struct lamp_strip {
    char light[3 * LAMP_STRIP_COLUMNS_MAX + 1]; /**< UTF-8, at most `columns` characters. */
    char marks[LAMP_STRIP_COLUMNS_MAX +
               1];    /**< L long, s short, "pause", "rest"; "" if there are none. */
    int64_t start_ns; /**< Time at its left end. */
    int64_t span_ns;  /**< Time from end to end. */
};

/**
 * Draw the newest whole repeats of `rhythm`, or as much of the light as can be told apart.
 * @return false where there is nothing to draw; `out` is untouched then.
 */
bool lamp_strip_draw(const struct lamp_strip_rules *rules, const struct lamp_length *length,
                     size_t count, const struct lamp_rhythm *rhythm, struct lamp_strip *out);

#endif
