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
    uint64_t lost;                  /**< Older lengths that were let go. */
    bool has_shape;                 /**< False for edges from a pin or VCD. */
    struct lamp_light_shape shape;  /**< All zero without. */
    const struct lamp_edger *edger; /**< NULL without; borrowed as the lengths are. */
};

/** How the light of a strand ends. */
struct lamp_strand_tail {
    struct lamp_edger_tail light;
    uint64_t break_count; /**< Breaks in sight before it. */
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

/** Make `to` what `from` is; both have an edger or neither has. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_strand_copy(struct lamp_strand *to, const struct lamp_strand *from);

/** How the light of a finished strand ends; not known where edges come ready. */
void lamp_strand_see_tail(const struct lamp_strand *strand, struct lamp_strand_tail *out);

/** Whether all light taken since `tail` was seen goes on as it was; false where that is not known.
 */
bool lamp_strand_goes_on(const struct lamp_strand *strand, const struct lamp_strand_tail *tail);

/** The last light taken, ns; 0 where there was none, or edges come ready. */
int64_t lamp_strand_newest_ns(const struct lamp_strand *strand);

/** Whether edges come ready. */
bool lamp_strand_takes_edges(const struct lamp_strand *strand);

/** What was seen; exact after finish. */
void lamp_strand_see(const struct lamp_strand *strand, struct lamp_strand_view *out);

/** Free; NULL is fine. */
void lamp_strand_free(struct lamp_strand *strand);

#endif
