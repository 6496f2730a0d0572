/* crossing.h - Where a window's lamp changes state: between which samples, or within which. */
#ifndef LAMP_RHYTHM_CROSSING_H
#define LAMP_RHYTHM_CROSSING_H

#include <stdbool.h>
#include <stddef.h>

#include "rhythm/path.h"
#include "rhythm/window.h"

/** How a change of state shows. */
enum lamp_crossing_how {
    LAMP_CROSSING_BETWEEN, /**< Between samples `first` and `last` = `first` + 1. */
    LAMP_CROSSING_WITHIN,  /**< Within sample `first` = `last`, partly lit. */
    LAMP_CROSSING_PULSE,   /**< One of two within the same sample. */
    LAMP_CROSSING_SOFT     /**< Over samples `first` to `last`. */
};

/** A change of state. */
struct lamp_crossing {
    size_t first;
    size_t last;
    enum lamp_crossing_how how;
    bool lit; /**< Came on. */
};

/** Most changes that come to their end at one sample. */
#define LAMP_CROSSINGS_AT_ONCE 3

/**
 * Changes that are complete once sample `i` begins or, where they fall within it, once it ends.
 * @return how many, in the order of time.
 */
size_t lamp_crossings_at(const struct lamp_window *window, size_t i,
                         struct lamp_crossing out[LAMP_CROSSINGS_AT_ONCE]);

/**
 * Undo flashes and breaks among the undecided samples that are in doubt, or nowhere deeper than
 * `least`, linear.
 */
void lamp_crossings_prune(struct lamp_window *window, const struct lamp_light_model *model,
                          double least);

#endif
