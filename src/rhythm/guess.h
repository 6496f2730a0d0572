/* guess.h - One set of two levels and what goes with them, learnt from a window's samples. */
#ifndef LAMP_RHYTHM_GUESS_H
#define LAMP_RHYTHM_GUESS_H

#include <stdbool.h>

#include "lampread/edge.h"
#include "rhythm/path.h"
#include "rhythm/window.h"

/** Most samples that stray, share of all. */
#define LAMP_STRAY_SHARE_MOST 0.02

/** Least noise, linear. */
#define LAMP_LEAST_NOISE 1e-6

/** A guess; window->dark and ->lit go with it. */
struct lamp_guess {
    struct lamp_light_model model;
    double dark; /**< Typical levels. */
    double lit;
    double free;  /**< Free numbers in the two levels. */
    double score; /**< Log-likelihood of the samples, less what these are worth. */
    bool is_lamp; /**< The levels could be a lamp's: see lamp_guess_best. */
};

/**
 * Noise is never less than a share of the step, or of the reach of the samples: rounding, codec.
 * Without the reach a guess that parts the noise, the flashes being wild, would have the least.
 */
double lamp_noise_floor(double sd, const struct lamp_light_model *model);

/** Typical level of the samples of one kind; where there are none, the farthest level of all. */
double lamp_level_typical(struct lamp_window *window, enum lamp_kind kind);

/** Learn all but the kinds from the window's kinds and the last guess. */
void lamp_guess_learn(struct lamp_window *window, struct lamp_guess *guess);

/**
 * Learn from several starts and keep the guess that explains the samples best; sets kinds and
 * levels of the window. One whose levels are as far apart as the rules ask of a lamp is better than
 * any that parts the noise.
 * @param known  NULL, or a level between the two known from before.
 * @note window->one holds one level that drifts.
 */
void lamp_guess_best(struct lamp_window *window, const struct lamp_edger_rules *rules,
                     const double *known, struct lamp_guess *best);

#endif
