/* split.h - Whether the light of one place is one lamp, or two colours of light by turns. */
#ifndef LAMP_PIPELINE_SPLIT_H
#define LAMP_PIPELINE_SPLIT_H

#include "pipeline/bundle.h"

/** A lamp in a place. */
struct lamp_part {
    enum lamp_channel strand; /**< The strand that shows it best. */
    bool has_channel[3];      /**< The colours it is made of: red, green, blue. */
};

/** The lamps of one place, one to three. */
struct lamp_split {
    size_t count;
    struct lamp_part part[3];
};

/**
 * Decide. Channels that change at the same times are one lamp; one that changes at other times, or
 * shines steadily where the others go dark, is another.
 * @param view    the four strands of a place, by enum lamp_channel.
 * @param unison  of its colours.
 */
void lamp_split_decide(const struct lamp_strand_view view[LAMP_CHANNEL_COUNT],
                       const struct lamp_unison *unison, struct lamp_split *out);

#endif
