/* fold.h - Whether light repeats in a period that its edges do not show. */
#ifndef LAMP_RHYTHM_FOLD_H
#define LAMP_RHYTHM_FOLD_H

#include <stddef.h>

#include "lampread/edge.h"
#include "rhythm/window.h"

/** Most samples that are folded at once. */
#define LAMP_FOLD_MAX 480

/** The light that is folded. */
struct lamp_fold_light {
    size_t count;
    double t_s[LAMP_FOLD_MAX];   /**< Middle of the exposure after that of the first sample. */
    double level[LAMP_FOLD_MAX]; /**< 0 dark to 1 lit where the window has two levels, otherwise
                                    linear. */
    double rate_hz;              /**< Of the samples, median. */
};

/** Take the stretch of a window, of at most 12 s, in which the light changes most. */
void lamp_fold_take(const struct lamp_window *window, struct lamp_fold_light *out);

/**
 * Whether the light repeats, with periods from 8 ms to a sixth of its time.
 * @return LAMP_CYCLE_UNKNOWN for less than 4 s or 64 samples.
 * @note Takes some 10 ms for 480 samples.
 */
enum lamp_cycle_sign lamp_fold_look(const struct lamp_fold_light *light);

#endif
