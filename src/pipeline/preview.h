/* preview.h - What a strand would say if its light ended now, kept while the light goes on as it
 * was. */
#ifndef LAMP_PIPELINE_PREVIEW_H
#define LAMP_PIPELINE_PREVIEW_H

#include "pipeline/strand.h"

/** A look at a strand; begin with all zero. */
struct lamp_preview {
    struct lamp_length *length; /**< Owned. */
    size_t room;
    struct lamp_strand_view view; /**< Its lengths are those above. */
    struct lamp_strand_tail tail; /**< How the light ended then. */
    int64_t end_ns;               /**< When that was. */
    bool is_made;
};

/** Whether all light since goes on as it was. */
bool lamp_preview_holds(const struct lamp_preview *preview, const struct lamp_strand *strand);

/**
 * Look: finish a copy.
 * @param scratch  made like `strand`; overwritten. @param end_ns  as lamp_strand_finish.
 * @return LAMP_OK, LAMP_NO_MEMORY (the preview is as it was).
 */
enum lamp_err lamp_preview_take(struct lamp_preview *preview, const struct lamp_strand *strand,
                                struct lamp_strand *scratch, int64_t end_ns);

/** The light went on as it was until now: the last length is longer by that. */
void lamp_preview_lengthen(struct lamp_preview *preview, const struct lamp_strand *strand);

/** Free what it holds. */
void lamp_preview_fini(struct lamp_preview *preview);

#endif
