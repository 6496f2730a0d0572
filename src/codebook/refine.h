/* refine.h - The lengths of an entry combined with those of one recording more. */
#ifndef LAMP_CODEBOOK_REFINE_H
#define LAMP_CODEBOOK_REFINE_H

#include "lampread/teach.h"

/** New lengths for an entry. */
struct lamp_refined {
    struct lamp_pattern pattern; /**< Of exact lengths and blinks; the entry's own for others. */
    struct lamp_timing timing;   /**< Those that the pattern uses; 0 for the others. */
    struct lamp_taught taught;
};

/**
 * Combine, each length weighed by what is known of it.
 * @return LAMP_OK; LAMP_BAD_USE where the draft is of other light than `code`, with the reason.
 */
enum lamp_err lamp_refine(const struct lamp_code *code, const struct lamp_draft *draft,
                          struct lamp_refined *out, struct lamp_error *error);

#endif
