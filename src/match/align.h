/* align.h - The likeliest way to lay lengths along an entry's cycle, with lost and extra edges. */
#ifndef LAMP_MATCH_ALIGN_H
#define LAMP_MATCH_ALIGN_H

#include "match/score.h"

/** How a step of an alignment uses lengths. */
enum lamp_step_kind {
    LAMP_STEP_ONE,  /**< One length seen is one length of the cycle. */
    LAMP_STEP_LOST, /**< One length seen spans three of the cycle: a flash or a gap was not seen. */
    LAMP_STEP_EXTRA /**< Three lengths seen are one of the cycle: a glitch broke it. */
};

/** One step, in the order of time. */
struct lamp_step {
    enum lamp_step_kind kind;
    size_t seen; /**< Last length seen that it uses. */
    size_t at;   /**< Last length of the cycle that it uses. */
    double off;  /**< ONE: how far the length is from what was expected, log. */
    bool is_odd; /**< ONE: the length does not fit, and is taken for a mishap. */
    bool starts; /**< Nothing joins it to the step before. */
};

/** What the lengths of the classes are thought to be. */
struct lamp_guess {
    double mean[LAMP_MODEL_CLASSES_MAX];  /**< Log of the length, s. */
    double doubt[LAMP_MODEL_CLASSES_MAX]; /**< Its variance. */
};

/** An alignment. */
struct lamp_alignment {
    double log_likelihood; /**< Of the lengths, nats. */
    size_t count;
    struct lamp_step step[LAMP_SIGHT_MAX];
};

/**
 * Align. The cycle may be taken up at any moment, again after each break.
 * @param edge_price  of a pair of edges lost or extra, nats.
 * @note Works in about 130 kB of stack. Cost: lengths seen times lengths of the cycle.
 */
void lamp_align(const struct lamp_model *model, const struct lamp_sight *sight,
                const struct lamp_guess *guess, double edge_price, struct lamp_alignment *out);

#endif
