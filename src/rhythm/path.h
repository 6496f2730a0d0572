/* path.h - The likeliest row of kinds for a window's samples, weighed as a whole. */
#ifndef LAMP_RHYTHM_PATH_H
#define LAMP_RHYTHM_PATH_H

#include "rhythm/window.h"

/** What the light and the camera are like; with window->dark and ->lit all that a path needs. */
struct lamp_light_model {
    double dark_sd;    /**< Sd of a sample of the dark lamp, linear, > 0. */
    double lit_sd;     /**< Sd of a sample of the lit lamp, linear, > 0. */
    double step;       /**< Typical lit level less dark level, > 0. */
    double edge_share; /**< Edges a sample, 0..1 exclusive. */
    double exposed;    /**< Exposure over sample interval, 0..1 exclusive. */
};

/** Log of the density of a sample that is `off` from a level known to be the lamp's, a stray frame
 * allowed. */
double lamp_path_pure(double off, double sd, double step);

/**
 * Find the likeliest kinds, by the Viterbi algorithm (A. J. Viterbi, IEEE Trans. Inf. Theory 13,
 * 1967). Kinds of decided samples stand.
 * @return log-likelihood of the samples along that path, the chances of its edges included.
 */
double lamp_path_find(struct lamp_window *window, const struct lamp_light_model *model);

#endif
