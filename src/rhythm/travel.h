/* travel.h - How the light goes between its levels: at once, in steps, or slowly. */
#ifndef LAMP_RHYTHM_TRAVEL_H
#define LAMP_RHYTHM_TRAVEL_H

#include <stdbool.h>
#include <stdint.h>

#include "rhythm/path.h"
#include "rhythm/window.h"

/** Sums over edges and the runs between them. Begin with all zero. */
struct lamp_travel {
    uint64_t edge_count;
    uint64_t soft_count;      /**< Edges longer than an exposure can explain. */
    uint64_t stepped_count;   /**< Edges that rest at a level on the way; not soft. */
    double mid_time_s;        /**< On the way between the extremes. */
    double top_time_s;        /**< Near the extreme of a lit run. */
    double bottom_time_s;     /**< Near that of a dark one. */
    uint64_t run_count[2];    /**< Runs of one state (dark, lit) with one before and one after to
                                 compare with, */
    uint64_t uneven_count[2]; /**< that go to a clearly different level. */
};

/** Some samples of a window. */
struct lamp_part {
    size_t from;
    size_t edges_from; /**< Edges count from here on; later found ones may lie before `from`. */
    size_t to;         /**< One past the last. */
};

/** Noise from one sample to the next, whatever slower the light does; INFINITY if the window is too
 * short. */
double lamp_travel_noise(struct lamp_window *window);

/** Add the edges of part of a window with two levels. @param noise  from lamp_travel_noise. */
void lamp_travel_note(struct lamp_travel *travel, const struct lamp_window *window,
                      const struct lamp_light_model *model, double noise, struct lamp_part part);

/** Whether the light swells and sinks rather than going on and off. */
bool lamp_travel_is_smooth(const struct lamp_travel *travel);

/** Whether no two levels explain the light. */
bool lamp_travel_is_uneven(const struct lamp_travel *travel);

#endif
