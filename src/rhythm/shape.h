/* shape.h - What kind of light a trace shows, summed up window by window. */
#ifndef LAMP_RHYTHM_SHAPE_H
#define LAMP_RHYTHM_SHAPE_H

#include <stdint.h>

#include "lampread/edge.h"
#include "rhythm/level.h"
#include "rhythm/tally.h"
#include "rhythm/window.h"

/** Sums over all decided samples. Begin with all zero. */
struct lamp_shape_sums {
    struct lamp_tally tally; /**< Light, noise taken off. */
    double time_s;           /**< All of it. */
    double swell_time_s; /**< In windows with no edge in which the light swells and sinks far. */
    double level_sum;    /**< Light times time. */
    double noise_sum;    /**< Variance of a sample times time. */
    double lit_sum;      /**< Light times time, of the lamp when lit. */
    double lit_time_s;
    double dark_sum;
    double dark_time_s;

    uint64_t edge_count;
    uint64_t soft_count;      /**< Edges longer than an exposure can explain. */
    double mid_time_s;        /**< On the way between the extremes. */
    double top_time_s;        /**< Near the extreme of a lit run. */
    double bottom_time_s;     /**< Near that of a dark one. */
    uint64_t pair_count[2];   /**< Runs of one state (dark, lit), one after the other, */
    uint64_t uneven_count[2]; /**< that go to clearly different levels. */

    double period_s; /**< Of the window with the clearest one. */
    double period_strength;
};

/** Some samples of a window. */
struct lamp_part {
    size_t from;
    size_t edges_from; /**< Edges count from here on; later found ones may lie before `from`. */
    size_t to;         /**< One past the last. */
};

/** Add part of a fitted window. */
void lamp_shape_note(struct lamp_shape_sums *sums, struct lamp_window *window,
                     const struct lamp_levels *levels, const struct lamp_edger_rules *rules,
                     struct lamp_part part);

/** Say what the sums show; fills the fields of light, leaves counts and times. */
void lamp_shape_tell(const struct lamp_shape_sums *sums, const struct lamp_edger_rules *rules,
                     struct lamp_light_shape *out);

#endif
