/* track.h - A level that drifts slowly, followed through the samples that show it. */
#ifndef LAMP_RHYTHM_TRACK_H
#define LAMP_RHYTHM_TRACK_H

#include <stddef.h>

#include "rhythm/window.h"

/** How a level is followed. */
struct lamp_track_rules {
    double near_s; /**< Time over which it is averaged where there is plenty of it. */
    double far_s;  /**< Time over which it is looked for where there is little. */
    double rest;   /**< Level to fall back to where there is none. */
    double reach;  /**< Farthest it may be from `rest`. */
};

/**
 * Follow the level of the samples in `window` that have a weight.
 * @param weight  one a sample, >= 0; not a row of window->room.
 * @param out     one level a sample; not a row of window->room.
 * @return how many free numbers that takes: each makes the samples look likelier than they are by
 * about a nat.
 * @note Uses window->room.
 */
double lamp_track_follow(struct lamp_window *window, const double *weight,
                         const struct lamp_track_rules *rules, double *out);

#endif
