/* repeats.h - The repeats of a rhythm side by side, and where each differs from the pattern.
 *
 *   pattern    L s s s s rest
 *   at  0.4 s  L s s s s rest     alike
 *   at  4.2 s  L s s . s rest     3rd short missing: one step of the row was not seen
 */
#ifndef LAMP_REPORT_REPEATS_H
#define LAMP_REPORT_REPEATS_H

#include "base/text.h"
#include "lampread/error.h"
#include "lampread/pattern.h"
#include "report/taken.h"

/** Most steps of one cycle: the symbols of a pattern and its rest. */
#define LAMP_CYCLE_STEPS_MAX (LAMP_SYMBOLS_MAX + 1)

/** How a step of a repeat compares with the pattern. */
enum lamp_sameness {
    LAMP_SAME,
    LAMP_OTHER,   /**< Another length than wanted. */
    LAMP_MISSING, /**< Wanted, not seen. */
    LAMP_MORE     /**< Seen, not wanted. */
};

/** One flash or dark between groups; gaps are no steps. */
struct lamp_repeat_step {
    enum lamp_sameness sameness;
    enum lamp_taken wanted; /**< SHORT, LONG, PAUSE or REST; COUNT where there is MORE. */
    enum lamp_taken seen;   /**< COUNT where it is MISSING. */
    size_t at;              /**< Position in the cycle; of MORE, that of the step before. */
    size_t length;          /**< Index of the length seen; the one before where it is MISSING. */
    bool begins;            /**< Nothing joins it to the step before. */
};

/** One pass through the cycle. */
struct lamp_repeat {
    size_t first_step;
    size_t step_count;
    int64_t start_ns; /**< When its first flash began, or would have. */
    int64_t end_ns;   /**< When what was seen of it ends. */
    bool is_whole;    /**< Seen from rest to rest. */
    bool is_alike;    /**< And equal to the pattern. */
};

/** All repeats. */
struct lamp_repeats {
    size_t cycle_count; /**< Steps of the cycle; 0 where the rhythm has none. */
    enum lamp_taken cycle[LAMP_CYCLE_STEPS_MAX];
    int64_t offset_ns[LAMP_CYCLE_STEPS_MAX]; /**< When each begins in the cycle, */
    int64_t step_ns[LAMP_CYCLE_STEPS_MAX];   /**< and how long it is. */
    int64_t period_ns;                       /**< Of the cycle. */
    size_t count;
    struct lamp_repeat *at; /**< Owned. */
    size_t whole_count;
    size_t alike_count;
    size_t step_count;
    struct lamp_repeat_step *step; /**< Owned. */
};

/**
 * Lay the lengths along the cycle of `rhythm` with as few differences as can be.
 * @param out  to be freed with lamp_repeats_fini, also on failure. @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_repeats_find(const struct lamp_length *length, size_t count,
                                const struct lamp_rhythm *rhythm, struct lamp_repeats *out);

/** Add where repeat `index` differs, "7th flash missing, rest 2.6 s"; nothing if it is alike. */
void lamp_repeats_tell(const struct lamp_repeats *repeats, size_t index,
                       const struct lamp_length *length, struct lamp_text *out);

/** Free what it holds. */
void lamp_repeats_fini(struct lamp_repeats *repeats);

#endif
