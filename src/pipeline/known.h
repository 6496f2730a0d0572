/* known.h - Lamps across peeks: which lamp of a new view is which of the old ones. */
#ifndef LAMP_PIPELINE_KNOWN_H
#define LAMP_PIPELINE_KNOWN_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/report.h"
#include "pipeline/outlook.h"

/** Most lamps that are known; the one that was out of view for longest gives way. */
#define LAMP_KNOWN_MAX ((size_t)2 * LAMP_REPORT_LAMPS_MAX)

/** What a lamp does, so far as two looks at it differ. */
struct lamp_doing {
    enum lamp_verdict verdict;
    const struct lamp_code *code; /**< NULL: none is told. */
    struct lamp_pattern pattern;  /**< Of UNLISTED. */
};

/** A lamp across peeks. */
struct lamp_known {
    char name[LAMP_NAME_MAX];
    bool has_region;
    struct lamp_region region;
    enum lamp_colour colour;
    struct lamp_doing seen;
    int64_t since_ns; /**< It is seen like that. */
    bool is_told;     /**< Something was told of it, and that still counts. */
    struct lamp_doing told;
    char told_name[LAMP_NAME_MAX]; /**< Names may change as further lamps are found. */
    struct lamp_hurdle fast;
    int64_t seen_ns; /**< Last in a view. */
    bool is_taken;   /**< By a lamp of this view. */
};

/** All lamps that were seen; begin with all zero. */
struct lamp_acquaintance {
    size_t count;
    struct lamp_known at[LAMP_KNOWN_MAX];
};

/** What a lamp does by the report. */
struct lamp_doing lamp_doing_of(const struct lamp_report_lamp *lamp);

/** Whether there is no news between the two. */
bool lamp_doing_is_same(const struct lamp_doing *a, const struct lamp_doing *b);

/** The known lamp that `lamp` is and that no other lamp of the view took; NULL if it is new. */
struct lamp_known *lamp_known_find(struct lamp_acquaintance *all,
                                   const struct lamp_report_lamp *lamp);

/** A new one, all zero but for since_ns. */
struct lamp_known *lamp_known_add(struct lamp_acquaintance *all, int64_t now_ns);

#endif
