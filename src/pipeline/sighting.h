/* sighting.h - A light that may be a lamp: what was seen of it, before it is chosen and named. */
#ifndef LAMP_PIPELINE_SIGHTING_H
#define LAMP_PIPELINE_SIGHTING_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/group.h"
#include "lampread/light.h"
#include "pipeline/bundle.h"
#include "pipeline/strand.h"

/** Why a sighting is not told. */
enum lamp_left_out {
    LAMP_LEFT_OUT_NOT,        /**< It is a lamp. */
    LAMP_LEFT_OUT_UNLIKE,     /**< It does not look like a lamp: a hand, a screen, glare. */
    LAMP_LEFT_OUT_REFLECTION, /**< Light of another lamp. */
    LAMP_LEFT_OUT_COUNT
};

/** A sighting. Holds nothing to free. */
struct lamp_sighting {
    struct lamp_strand_view view; /**< Lengths borrowed from the strand. */
    struct lamp_rhythm rhythm;
    const char *name; /**< As pointed or as the trace calls it, NULL where it has none; borrowed. */
    bool is_pointed;  /**< The user asked for it, or it came by name in a trace. */
    bool has_region;  /**< Seen in pictures. */
    struct lamp_region region; /**< As decoded. */
    size_t place;              /**< Index of the place or trace; parts of one place share it. */
    size_t parts;              /**< How many lamps the light of the place was split into. */
    enum lamp_channel channel; /**< The strand of the place it was read from. */
    float likeness;            /**< 0..1, as struct lamp_place. */
    float shine;               /**< 0..1, as struct lamp_place. */
    float core;                /**< As struct lamp_place. */
    float over_white;          /**< As struct lamp_place. */
    float rgb[3];              /**< Linear light when lit. */
    enum lamp_colour colour;
    double brightness; /**< Linear light when lit. */
    enum lamp_left_out left_out;
};

/** The sightings of one place: one for each lamp in it. @return how many were written, one to
 * three. */
size_t lamp_sightings_of_place(const struct lamp_place *place, size_t index,
                               const struct lamp_strand_view view[LAMP_CHANNEL_COUNT],
                               const struct lamp_unison *unison,
                               const struct lamp_rhythm_rules *rules, struct lamp_sighting out[3]);

/** The sighting of a lamp in a trace. */
void lamp_sighting_of_trace(const char *name, size_t index, const struct lamp_strand_view *view,
                            const struct lamp_rhythm_rules *rules, struct lamp_sighting *out);

#endif
