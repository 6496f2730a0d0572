/* cycle.h - The smallest cycle of groups that explains them, and how little chance does. */
#ifndef LAMP_RHYTHM_CYCLE_H
#define LAMP_RHYTHM_CYCLE_H

#include <stddef.h>

#include "rhythm/split.h"

/** Most groups in one cycle. */
#define LAMP_CYCLE_MAX 32

/** What repeats. Holds nothing to free. */
struct lamp_cycle {
    size_t first;      /**< Segment that its first whole occurrence begins with. */
    size_t count;      /**< Segments in one cycle; 0: not one whole group was seen. */
    unsigned seen;     /**< Whole cycles, equal or not. */
    unsigned agreeing; /**< Equal ones. */
    bool has_grown;    /**< A whole group out of order is longer than any of the cycle's. */
    double order;      /**< Log-likelihood of the order as this cycle over that of random order. */
    double few;        /**< As order, for groups drawn by chance from a few kinds of them. */
};

/** Find the cycle that explains the order of the whole segments best. */
void lamp_cycle_find(const struct lamp_groups *groups, struct lamp_cycle *out);

#endif
