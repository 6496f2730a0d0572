/* regularity.h - Repeating rhythm or irregular light: what each makes of the lengths. */
#ifndef LAMP_RHYTHM_REGULARITY_H
#define LAMP_RHYTHM_REGULARITY_H

#include <stdbool.h>

#include "rhythm/class.h"

/** What the lengths and their order say. */
struct lamp_regularity_evidence {
    const struct lamp_classes *lit;  /**< LAMP_BAND_COUNT of them; borrowed. */
    const struct lamp_classes *dark; /**< As lit. */
    bool is_coarse_lit; /**< Lit lengths are measured too coarsely to show that they scatter. */
    bool is_coarse_dark;
    bool has_order;      /**< There is more than one class: order can be told from chance. */
    double order;        /**< As in struct lamp_cycle, nats. */
    double few;          /**< As in struct lamp_cycle, nats. */
    double random_order; /**< Prior of timed lengths in random order, 0..1. */
};

/** How likely each kind of light is; they sum to 1. */
struct lamp_regularity {
    double repeating;    /**< Made by a timer, in a cycle. */
    double random_order; /**< Made by a timer, in no order. */
    double doubtful;     /**< Too much scatter for a timer, too little for chance. */
    double irregular;    /**< At least one side is left to chance. */
    double nats;         /**< Log-likelihood as repeating over that as irregular. */
};

/** Weigh them. */
void lamp_regularity_weigh(const struct lamp_regularity_evidence *evidence,
                           struct lamp_regularity *out);

#endif
