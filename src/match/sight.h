/* sight.h - What was seen of one lamp, made ready for weighing: lengths as logarithms, with their
 * doubts. */
#ifndef LAMP_MATCH_SIGHT_H
#define LAMP_MATCH_SIGHT_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/match.h"

/** Most lengths that are weighed: the newest. */
#define LAMP_SIGHT_MAX 128

/** One length as it was seen. */
struct lamp_seen {
    double s;        /**< Its length, s, > 0; a lower bound if is_bound. */
    double log;      /**< Natural logarithm of s. */
    double sd_s;     /**< Standard deviation of s, measurement only. */
    double variance; /**< Of log: measurement and natural jitter. */
    double measured; /**< Of log: measurement only. */
    double broad;    /**< Its log-likelihood as irregular light, nats. */
    bool is_lit;
    bool is_bound; /**< An end of it was not seen. */
    bool starts;   /**< Nothing joins it to the one before. */
};

/** All that is weighed of one lamp. Holds nothing to free. */
struct lamp_sight {
    size_t count;
    struct lamp_seen seen[LAMP_SIGHT_MAX];
    double bias_s;    /**< Edges may all be late by this much on one side, s: lit and dark lengths
                         trade it. */
    double irregular; /**< Log-likelihood of all lengths as irregular light, nats. */
};

/** Take the newest lengths of `evidence`. */
void lamp_sight_take(const struct lamp_evidence *evidence, struct lamp_sight *out);

/** Log of the normal density of x about mean, nats. */
double lamp_log_normal(double x, double mean, double variance);

/** Log of the chance that a normal value about mean exceeds x, nats. */
double lamp_log_above(double x, double mean, double variance);

/**
 * Log-likelihood of the lengths as a code that no book lists, nats: they fall into classes, and the
 * row of classes repeats. The classes, their lengths and the row are unknown and paid for.
 */
double lamp_sight_unlisted(const struct lamp_sight *sight);

#endif
