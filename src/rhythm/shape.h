/* shape.h - What kind of light a trace shows, summed up window by window. */
#ifndef LAMP_RHYTHM_SHAPE_H
#define LAMP_RHYTHM_SHAPE_H

#include "lampread/edge.h"
#include "rhythm/level.h"
#include "rhythm/tally.h"
#include "rhythm/travel.h"
#include "rhythm/window.h"

/** Sums over all decided samples. Begin with all zero. */
struct lamp_shape_sums {
    struct lamp_tally tally; /**< Light, noise taken off. */
    double time_s;           /**< All of it. */
    double swell_time_s;     /**< In windows in which the light swells and sinks. */
    double astray_time_s;    /**< Far off the one level of windows that have one. */
    double level_sum;        /**< Light times time. */
    double noise_sum;        /**< Variance of a sample times time. */
    double lit_sum;          /**< Light times time, of the lamp when lit. */
    double lit_time_s;
    double dark_sum;
    double dark_time_s;
    struct lamp_travel travel;
    double period_s; /**< Of the window that swells with the clearest one. */
    double period_strength;
};

/**
 * Whether the light of a window with two levels swells and sinks, so that it has none.
 * @note Looks at all of the window.
 */
bool lamp_shape_is_smooth(struct lamp_window *window, const struct lamp_levels *levels);

/**
 * Whether the light of a window with two levels has only settled from one to the other, softly and
 * not far, as its recording began: a camera that finds its exposure does that to a steady lamp.
 */
bool lamp_shape_is_settling(const struct lamp_window *window, const struct lamp_levels *levels);

/** How a fitted window is added. */
struct lamp_shape_note {
    const struct lamp_levels *levels;
    const struct lamp_edger_rules *rules;
    struct lamp_part part;
    bool is_smooth; /**< It seemed to have two levels, but was found smooth. */
};

/** Add part of a window. */
void lamp_shape_add(struct lamp_shape_sums *sums, struct lamp_window *window,
                    const struct lamp_shape_note *note);

/** Say what the sums show; fills the fields of light, leaves counts and times. */
void lamp_shape_tell(const struct lamp_shape_sums *sums, const struct lamp_edger_rules *rules,
                     struct lamp_light_shape *out);

#endif
