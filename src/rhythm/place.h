/* place.h - The time of an edge, from how much of an exposure was lit. */
#ifndef LAMP_RHYTHM_PLACE_H
#define LAMP_RHYTHM_PLACE_H

#include "rhythm/crossing.h"
#include "rhythm/level.h"
#include "rhythm/window.h"

/** Places within an exposure that are told apart. */
#define LAMP_EXPOSURE_PLACES 16

/** The exposure as learnt from the edges so far; begin with all zero. */
struct lamp_exposure {
    double exposure_s;                  /**< Its length; 0 as long as nothing is known. */
    double sd_s;                        /**< Its uncertainty; 0 where the samples tell it. */
    double edges;                       /**< Decided edges, */
    double parts;                       /**< those of them that fell into an exposure, */
    double place[LAMP_EXPOSURE_PLACES]; /**< and where in it, from its begin to its end. */
};

/** A placed edge. */
struct lamp_place {
    double t_s;  /**< On the clock of window->t_s. */
    double sd_s; /**< Standard deviation. */
};

/**
 * Learn the exposure: as the samples tell it, or from the edges of a fitted window and the decided
 * ones before it.
 */
void lamp_exposure_learn(struct lamp_exposure *exposure, const struct lamp_window *window,
                         const struct lamp_levels *levels);

/** Add one decided edge to what is known of the exposure. */
void lamp_exposure_note(struct lamp_exposure *exposure, const struct lamp_window *window,
                        const struct lamp_light_model *model, const struct lamp_crossing *crossing);

/** Place an edge. */
void lamp_edge_place(const struct lamp_window *window, const struct lamp_levels *levels,
                     const struct lamp_exposure *exposure, const struct lamp_crossing *crossing,
                     struct lamp_place *out);

#endif
