/* focus.h - When it is enough to look at the known lamps, and which part of the picture holds them.
 *
 *   whole  whole  ...  whole | part part part ... part  whole  part part ...
 *   '-- nothing new for a while --'                     '-- a glance: anything new? moved?
 */
#ifndef LAMP_LIGHT_FOCUS_H
#define LAMP_LIGHT_FOCUS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "light/place.h"

/** Light about one place while all was calm. */
struct lamp_calm {
    float least;
    float most;
};

/** Begin with all zero. */
struct lamp_focus {
    bool has_begun;
    int64_t since_ns;  /**< When the picture moved, something covered a lamp, or one was found. */
    int64_t newest_ns; /**< When the newest lamp was found by then. */
    struct lamp_motion still; /**< How the picture stood then. */
    bool is_on;               /**< Since then it is calm long enough: parts of pictures will do. */
    int wanted;               /**< But so many whole ones are wanted first, to look at something. */
    bool had_part;            /**< In this scene. */
    int row_count;            /**< Whole frames that came since the last part. */
    struct lamp_calm calm[LAMP_PLACES_MAX];
};

/** What a whole frame showed. */
struct lamp_glance {
    int64_t t_ns;
    const struct lamp_motion *motion; /**< From the first frame to this one. */
    bool is_new;                      /**< Something is there that no known place explains. */
    int width_px;
    int height_px;
};

/** Take a whole frame in, after the places were measured on it. */
void lamp_focus_glance(struct lamp_focus *focus, const struct lamp_glance *glance,
                       const struct lamp_watched *place, size_t count);

/** Whether the picture stands as it did when all became calm. */
bool lamp_focus_is_still(const struct lamp_focus *focus, const struct lamp_motion *motion,
                         int width_px, int height_px);

/**
 * Take the light of one place in, before it has begun and after: what moves near a lamp or covers
 * it ends the focus.
 * @return false if it does: what a part of a picture shows then may be damaged.
 */
bool lamp_focus_watch(struct lamp_focus *focus, size_t index, const struct lamp_watched *place,
                      const struct lamp_light *light);

/** The part of the picture that holds a place with all that is measured about it; it may reach
 * beyond the picture. */
void lamp_focus_part_of(const struct lamp_watched *place, const struct lamp_motion *motion,
                        struct lamp_picture_part *out);

/** What lies within the picture of `part`. */
void lamp_focus_clip(struct lamp_picture_part *part, int width_px, int height_px);

/** The part that holds all places that may be told as lamps; all of it where the focus is off. */
void lamp_focus_part(const struct lamp_focus *focus, const struct lamp_watched *place, size_t count,
                     struct lamp_picture_part *out);

#endif
