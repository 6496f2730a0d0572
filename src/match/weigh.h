/* weigh.h - The entries against each other, against an unlisted code and against irregular light.
 */
#ifndef LAMP_MATCH_WEIGH_H
#define LAMP_MATCH_WEIGH_H

#include "match/score.h"

/** Entries that are fitted in full; the others only roughly. */
#define LAMP_CONTENDERS_MAX 32

/** An entry that may be it. */
struct lamp_contender {
    const struct lamp_book *book;
    const struct lamp_code *code;
    double suits;         /**< See lamp_suit. */
    double log_prior;     /**< Before the light is weighed. */
    double weight;        /**< Log-likelihood and prior, nats. */
    double share;         /**< Posterior, 0..1. */
    bool is_contradicted; /**< The rhythm has another number of flashes, clearly. */
    bool is_supported;    /**< The rhythm has its pattern, in repeats that agree. */
    struct lamp_fit fit;
};

/** The whole comparison. */
struct lamp_scales {
    size_t count;
    struct lamp_contender at[LAMP_CONTENDERS_MAX]; /**< Likeliest first. */
    double log_others;                             /**< Entries that were let go, together, nats. */
    double entries;                                /**< Posterior of all entries, 0..1. */
    double unlisted;                               /**< Posterior of a code that no book lists. */
    double irregular;                              /**< Posterior of irregular light. */
};

/** What is weighed, and with what. Borrowed. */
struct lamp_weighing {
    const struct lamp_evidence *evidence;
    const struct lamp_sight *sight;
    const struct lamp_book *const *book;
    size_t book_count;
    double edge_price;
};

/** Weigh every entry with a wave. */
void lamp_weigh(const struct lamp_weighing *weighing, struct lamp_scales *out);

#endif
