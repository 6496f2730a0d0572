/* bundle.h - The light of one place in the picture as four strands: red, green and blue alone, and
 * all of it. */
#ifndef LAMP_PIPELINE_BUNDLE_H
#define LAMP_PIPELINE_BUNDLE_H

#include "lampread/light.h"
#include "pipeline/strand.h"
#include "pipeline/unison.h"

/** The strands of a bundle. */
enum lamp_channel {
    LAMP_CHANNEL_RED,
    LAMP_CHANNEL_GREEN,
    LAMP_CHANNEL_BLUE,
    LAMP_CHANNEL_ALL,
    LAMP_CHANNEL_COUNT
};

/** Four strands; begin with lamp_bundle_init. */
struct lamp_bundle {
    struct lamp_strand *strand[LAMP_CHANNEL_COUNT];
    struct lamp_unison unison; /**< Of red, green and blue. */
};

/** Make the strands. @return LAMP_OK, LAMP_NO_MEMORY (nothing is held then). */
enum lamp_err lamp_bundle_init(struct lamp_bundle *bundle, const struct lamp_edger_rules *rules);

/** The level of each strand for one reading. */
void lamp_bundle_levels(const struct lamp_reading *reading, double out[LAMP_CHANNEL_COUNT]);

/** Take one reading. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_bundle_push(struct lamp_bundle *bundle, const struct lamp_reading *reading);

/** Finish all strands. */
enum lamp_err lamp_bundle_finish(struct lamp_bundle *bundle);

/** Free the strands. */
void lamp_bundle_fini(struct lamp_bundle *bundle);

#endif
