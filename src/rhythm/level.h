/* level.h - Two levels that follow the light, or one: learnt from the samples together with their
 * noise. */
#ifndef LAMP_RHYTHM_LEVEL_H
#define LAMP_RHYTHM_LEVEL_H

#include <stdbool.h>

#include "lampread/edge.h"
#include "rhythm/path.h"
#include "rhythm/window.h"

/** What was learnt of a window's levels. */
struct lamp_levels {
    bool has_two;      /**< Two levels; else one, in window->dark and window->lit alike. */
    double dark;       /**< Typical dark level; the one level where there is one. */
    double lit;        /**< Typical lit level; the one level where there is one. */
    bool dark_is_sure; /**< Seen for a whole exposure; else flashes so short leave it open. */
    bool lit_is_sure;
    double noise; /**< Sd of a sample about its level. */
    double
        evidence; /**< Log-likelihood of two levels over one that drifts, nats; the best try's. */
    struct lamp_light_model model; /**< Of two levels. */
};

/**
 * Learn the levels of a prepared window; sets its kinds, and dark and lit level at each sample.
 * @param before  what the window before had, NULL if there was none; a second level known from it
 * needs less evidence.
 * @note Same cost whatever the samples hold: at most 4 starts of 8 rounds over the window.
 */
void lamp_levels_fit(struct lamp_window *window, const struct lamp_edger_rules *rules,
                     const struct lamp_levels *before, struct lamp_levels *out);

/** Take a fitted window's light for one level after all. */
void lamp_levels_take_one(struct lamp_window *window, const struct lamp_edger_rules *rules,
                          struct lamp_levels *levels);

#endif
