/* reader.h - What a reader holds, shared by taking light in (reader.c) and saying what was seen
 * (conclude.c, peek.c). */
#ifndef LAMP_PIPELINE_READER_H
#define LAMP_PIPELINE_READER_H

#include "lampread/pipeline.h"
#include "pipeline/bundle.h"
#include "pipeline/portrait.h"
#include "pipeline/sighting.h"
#include "pipeline/spool.h"
#include "pipeline/strand.h"
#include "pipeline/upright.h"

/** Most lamps told apart in one recording: three in each place of the picture, or those of a trace.
 */
#define LAMP_SIGHTINGS_MAX (3 * LAMP_PLACES_MAX)

/** What is made of the light that was seen. */
struct lamp_conclusion {
    struct lamp_strand_view place[LAMP_PLACES_MAX]
                                 [LAMP_CHANNEL_COUNT];    /**< Where there is a bundle. */
    struct lamp_strand_view trace[LAMP_SOURCE_LAMPS_MAX]; /**< Where there is a strand. */
    struct lamp_report report;
    struct lamp_report_lamp lamp[LAMP_REPORT_LAMPS_MAX];
    struct lamp_sighting sighting[LAMP_SIGHTINGS_MAX];
    size_t sighting_count;
};

struct lamp_peeker;

struct lamp_reader {
    struct lamp_reader_rules rules;
    struct lamp_source_info info; /**< As last pushed. */
    struct lamp_pose pose;        /**< Of the pictures, once one was seen. */
    struct lamp_viewer *viewer;   /**< NULL until a picture was seen. */
    bool has_bundle[LAMP_PLACES_MAX];
    struct lamp_bundle bundle[LAMP_PLACES_MAX]; /**< One a place. */
    struct lamp_strand
        *trace[LAMP_SOURCE_LAMPS_MAX]; /**< One a lamp of a trace; NULL until it has light. */
    struct lamp_kept_portrait portrait[LAMP_PLACES_MAX]; /**< Where they are wanted. */
    struct lamp_spool spool;
    struct lamp_spooled spooled; /**< Read last from the spool. */
    size_t next_lamp;            /**< Of the report, that may be of its place. */
    bool has_first;
    int64_t first_ns;               /**< Of the first item. */
    uint32_t life[LAMP_PLACES_MAX]; /**< How often each place began. */
    struct lamp_conclusion told;    /**< By the last report. */
    struct lamp_peeker *peeker;     /**< NULL until there was a peek. */
};

/**
 * Begin a conclusion: what the source says of itself, and its warnings.
 * @param source  NULL where light was pushed.
 * @return when the light ends, for edges that came ready.
 */
int64_t lamp_conclude_begin(const struct lamp_reader *reader, const struct lamp_source *source,
                            struct lamp_conclusion *out);

/** Make the rest of it, from its views. */
void lamp_conclude(const struct lamp_reader *reader, const struct lamp_source *source,
                   struct lamp_conclusion *out);

/** Free; NULL is fine. */
void lamp_peeker_free(struct lamp_peeker *peeker);

#endif
