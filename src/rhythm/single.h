/* single.h - The other ways to see a window's samples: one level that drifts, or one that ripples.
 */
#ifndef LAMP_RHYTHM_SINGLE_H
#define LAMP_RHYTHM_SINGLE_H

#include <stdbool.h>

#include "rhythm/path.h"
#include "rhythm/window.h"

/** Follow one level that drifts: window->one. @return how many free numbers it has. */
double lamp_single_follow(struct lamp_window *window);

/** Sd about the one level: of the middle samples (share 0.68), or of all. */
double lamp_single_spread(struct lamp_window *window, bool all);

/**
 * Log-likelihood of the samples under the one level, with the noise that suits it best, less what
 * its free numbers are worth.
 * @param two  what two levels were found to be: the step goes into the least noise believed.
 */
double lamp_single_score(struct lamp_window *window, const struct lamp_light_model *two,
                         double free);

/**
 * The same for one level with a ripple: over each stretch of samples a wave and its double, as room
 * light shows from a camera that sees it slowed down.
 * @param cycle_s  of the wave, roughly.
 */
double lamp_single_score_ripple(struct lamp_window *window, const struct lamp_light_model *two,
                                double free, double cycle_s);

#endif
