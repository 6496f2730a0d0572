/* strand.h - One brightness over time, taken through edges to lengths; breaks in sight are kept as
 * breaks. */
#ifndef LAMP_PIPELINE_STRAND_H
#define LAMP_PIPELINE_STRAND_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/edge.h"
#include "lampread/flash.h"

/** A strand as it was seen; lengths are borrowed until the strand takes more light. */
struct lamp_strand_view {
    const struct lamp_length *length;
    size_t count;
    uint64_t lost;                 /**< Older lengths that were let go. */
    bool has_shape;                /**< False for edges from a pin or VCD. */
    struct lamp_light_shape shape; /**< All zero without. */
};

struct lamp_strand;

/** Make a strand. @param rules  NULL where edges come ready. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_strand_new(const struct lamp_edger_rules *rules, struct lamp_strand **out);

/** No edge is placed better than with this standard deviation, ns >= 0; 0 at first. */
void lamp_strand_set_floor(struct lamp_strand *strand, int64_t sd_ns);

/** Take one sample. @param after_break  the light just before it is not known. @return LAMP_OK,
 * LAMP_NO_MEMORY. */
enum lamp_err lamp_strand_push(struct lamp_strand *strand, const struct lamp_sample *sample,
                               bool after_break);

/** Take one edge that came ready; the first one is where the light came into view, and so is one
 * with sd 0: what lies before it is not known since the last edge. */
void lamp_strand_take_edge(struct lamp_strand *strand, const struct lamp_edge *edge);

/**
 * Decide all that is pending and end the last length. What comes later begins after a break.
 * @param end_ns  end of the recording; used for edges that came ready, samples know it better.
 */
enum lamp_err lamp_strand_finish(struct lamp_strand *strand, int64_t end_ns);

/** What was seen; exact after finish. */
void lamp_strand_see(const struct lamp_strand *strand, struct lamp_strand_view *out);

/** Free; NULL is fine. */
void lamp_strand_free(struct lamp_strand *strand);

#endif
