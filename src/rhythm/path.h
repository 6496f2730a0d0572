/* path.h - The likeliest row of kinds for a window's samples, weighed as a whole. */
#ifndef LAMP_RHYTHM_PATH_H
#define LAMP_RHYTHM_PATH_H

#include "rhythm/window.h"

/** What the light and the camera are like; with window->dark and ->lit all that a path needs. */
struct lamp_light_model {
    double dark_sd;     /**< Sd of a sample of the dark lamp, linear, > 0. */
    double lit_sd;      /**< Sd of a sample of the lit lamp, linear, > 0. */
    double range;       /**< Highest level less the lowest, at least the step. */
    double reach;       /**< So too of nearly all samples: without those that may be wild. */
    double step;        /**< Typical lit level less dark level, > 0. */
    double edge_share;  /**< Edges a sample, 0..1 exclusive. */
    double exposed;     /**< Exposure over sample interval, 0..1 exclusive. */
    double pulse_share; /**< Share of flashes and breaks that are over within one exposure, 0..1
                           exclusive. */
    double soft_share;  /**< Share of edges that take several samples, 0..1 exclusive. */
    double stray_share; /**< Share of samples that stray from their level, 0..1 exclusive. */
};

/** A flash or break seen in two samples is short if it fills less of an exposure than this. */
#define LAMP_SPLIT_LEAST 0.8

/** Some samples that may have been of another kind. */
struct lamp_stretch {
    size_t first;
    size_t last;
    enum lamp_kind instead; /**< What they would be without the flash or break. */
};

/** How samples of one level scatter: most normally, some astray, a wild one now and then. */
struct lamp_scatter {
    double per_sd;     /**< One over the sd. */
    double normal_log; /**< Log of the density at the level. */
    double per_stray;  /**< One over the scale of straying. */
    double stray_log;  /**< Log of the density of straying, at the level. */
    double wild_log;   /**< Log of the least density. */
};

/** The scatter for a sd, > 0; step, range and strays are the model's. */
struct lamp_scatter lamp_scatter_make(double sd, const struct lamp_light_model *model);

/** Log of the density of a sample that is `off` from its level. */
double lamp_scatter_log(const struct lamp_scatter *scatter, double off);

/**
 * Find the likeliest kinds, by the Viterbi algorithm (A. J. Viterbi, IEEE Trans. Inf. Theory 13,
 * 1967). Kinds of decided samples stand.
 * @return log-likelihood of the samples along that path, the chances of its edges included.
 */
double lamp_path_find(struct lamp_window *window, const struct lamp_light_model *model);

/**
 * What the flash or break that is a stretch is worth against none, nats: what it explains of the
 * samples, less the price of its two edges.
 */
double lamp_path_gain(const struct lamp_window *window, const struct lamp_light_model *model,
                      struct lamp_stretch stretch);

#endif
