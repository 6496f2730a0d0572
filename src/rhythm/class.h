/* class.h - Lengths into classes: the partition of the log lengths that pays for itself. */
#ifndef LAMP_RHYTHM_CLASS_H
#define LAMP_RHYTHM_CLASS_H

#include <stddef.h>

/** Most lengths looked at together, lit and dark. */
#define LAMP_ROW_MAX 512

/** Most classes on one side. */
#define LAMP_CLASSES_MAX 4

/** What a length may be instead of a member of a class. */
#define LAMP_CLASS_ODD (-1) /**< It fits no class. */
#define LAMP_CLASS_CUT (-2) /**< It was not seen whole. */

/** How much the lengths of one class scatter beyond their measurement. */
enum lamp_band {
    LAMP_BAND_TIGHT,    /**< As something made by a timer does. */
    LAMP_BAND_DOUBTFUL, /**< Too much for a timer, too little to call it chance. */
    LAMP_BAND_LOOSE,    /**< As chance does. */
    LAMP_BAND_COUNT
};

/** The whole lengths of one side, lit or dark, in order of time. */
struct lamp_measures {
    size_t count;
    double ns[LAMP_ROW_MAX];    /**< Length, > 0. */
    double sd_ns[LAMP_ROW_MAX]; /**< Its standard deviation, by measurement. */
};

/** What is looked for. */
struct lamp_class_rules {
    double jitter; /**< Natural variation of a length, share of it, sd > 0. */
    size_t most;   /**< Most classes, 1..LAMP_CLASSES_MAX. */
};

/** One partition, classes by increasing length. Holds nothing to free. */
struct lamp_classes {
    double evidence; /**< Log of the lengths' density under it, nats; -INFINITY: there is none. */
    size_t count;    /**< Classes. */
    double mean[LAMP_CLASSES_MAX]; /**< Natural logarithm of the mean length in ns. */
    double sd[LAMP_CLASSES_MAX];   /**< Scatter of the lengths, share of the mean, measurement and
                                      all. */
    size_t members[LAMP_CLASSES_MAX];
    size_t odd;             /**< Lengths in no class. */
    short of[LAMP_ROW_MAX]; /**< Class of each length, or LAMP_CLASS_ODD. */
};

/**
 * Find the best partition of each band: out[TIGHT] has tight classes only, in out[DOUBTFUL] and
 * out[LOOSE] the worst class is of that band. Evidences can be compared across bands and across
 * numbers of classes: a class, like every other parameter, is integrated over, so it costs what it
 * does not earn.
 * @note Cost n log n for the sort, and a bound that does not depend on n.
 */
void lamp_classes_find(const struct lamp_measures *measures, const struct lamp_class_rules *rules,
                       struct lamp_classes out[LAMP_BAND_COUNT]);

#endif
