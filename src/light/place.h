/* place.h - One place that may be a lamp: what to measure, and how much it behaves like a lamp. */
#ifndef LAMP_LIGHT_PLACE_H
#define LAMP_LIGHT_PLACE_H

#include <stdbool.h>
#include <stdint.h>

#include "light/anchor.h"
#include "light/around.h"
#include "light/reflect.h"
#include "light/shade.h"
#include "light/shine.h"
#include "light/spot.h"
#include "light/white.h"

/** A place under observation. Holds nothing to free. */
struct lamp_watched {
    struct lamp_spot spot;
    struct lamp_anchor anchor;
    struct lamp_reflection reflection;
    struct lamp_shade shade;
    struct lamp_around around;
    bool is_pointed;           /**< By the user; its region is kept as given. */
    bool is_by_change;         /**< Found as it went on or off, not for shining. */
    bool is_dropped;           /**< Taken for something else: it was no place of its own. */
    bool is_out_of_sight;      /**< No readings: before a cut, dropped, or gone from the picture. */
    bool has_begun;            /**< A reading was given. */
    bool needs_break;          /**< The next reading does not join the last one. */
    double strength;           /**< Of its strongest change, 8-bit codes; 0 if it only shines. */
    struct lamp_region region; /**< On the first frame. */
    float darker[3];           /**< Share of its ring's light that the dark lamp does not have. */
    float lit_rgb[3];          /**< Light when lit, above its dark state. */
    float rim_rgb[3];          /**< Its colour, where not driven white. */
    float peak;                /**< Largest coded value, lit. */
    float fill;                /**< How full its rectangle is. */
    float clip;                /**< Linear light of its strongest colour: 1 is driven to the top. */
    float core_rgb[3];         /**< Of all of its outline, driven white or not. */
    float far_rgb[3];          /**< Light of the picture farther out. */
    float over_white; /**< Its strongest colour over the white parts of the picture; 0 if not known.
                       */
    float washed;     /**< How surely its core is a colour washed out to near white, 0 to 1, */
    float beyond;     /**< ... and how surely that is brighter than white is in this colour. */
    float rim_tint;   /**< How much more of the core's colour its rim has than a white part's rim,
                         natural logarithm of the ratio. */
    float gold;       /**< How much its core has the tint of gold, 0 to 1. */
    float above_room; /**< The same over the picture farther out. */
    float glare;      /**< Light of any colour it sheds on its ring, share of its own. */
    float halo;       /**< Light of that colour it sheds on its ring, share of its own. */
    struct lamp_glow glow;     /**< What it sheds around, the mean of some frames. */
    unsigned looks;            /**< On how many frames; 0: not known. */
    unsigned clean_count;      /**< Changes of the lamp alone. */
    unsigned dirty_count;      /**< Changes shared with the surroundings. */
    int64_t since_ns;          /**< When it was found. */
    uint64_t since_frame;      /**< On which frame. */
    float low, high;           /**< Light of the two states, of the largest of R, G, B. */
    struct lamp_light settled; /**< As it was when last in the middle of a state, */
    float settled_clear;       /**< ... and how much its surroundings looked like themselves, */
    float clear;               /**< ... and do on the newest frame, a correlation. */
    bool is_high;              /**< Which state it is in. */
    bool is_due;               /**< The state changed; judged on the next frame, the edge over. */
};

/** A place that was found going on or off, or shining (`changed` false). */
void lamp_watched_init(struct lamp_watched *w, const struct lamp_spot *spot,
                       const struct lamp_look *look, bool changed);

/** What a look says of the light of a place. */
void lamp_watched_appraise(struct lamp_watched *w, const struct lamp_look *look, bool changed);

/** Compare its light with the white parts of the picture. */
void lamp_watched_compare(struct lamp_watched *w, const struct lamp_white *white);

/** Linear light of its colour, R, G, B: of the rim that is not driven white, where there is one. */
void lamp_watched_colour(const struct lamp_watched *w, float rgb[3]);

/** Take in what it was seen to shed around on some more frames. */
void lamp_watched_glow(struct lamp_watched *w, const struct lamp_glow *glow, int frames);

/** A place the user points at. */
void lamp_watched_point(struct lamp_watched *w, const struct lamp_region *region);

/** Take a measurement in: how the light of the lamp and of its surroundings change together. */
void lamp_watched_learn(struct lamp_watched *w, const struct lamp_light *light);

/** How much it goes on and off like a lamp, 0 to 1. */
float lamp_watched_likeness(const struct lamp_watched *w);

/** How much it looks like a lamp that is lit throughout, 0 to 1: a compact, coloured light that
 * sheds its colour around. */
float lamp_watched_shine(const struct lamp_watched *w);

/** Light of one colour that is the place's own, not the room's: what its ring has is taken off, but
 * no more than the dark lamp has of it. */
float lamp_watched_own(const struct lamp_watched *w, const struct lamp_light *light, int c);

/** The largest of the three. */
float lamp_watched_level(const struct lamp_watched *w, const struct lamp_light *light);

/** Whether light changed by itself, not with all around it; `strictness` 1 as for a lamp, less for
 * a first glance. */
bool lamp_light_is_clean(const struct lamp_light *a, const struct lamp_light *b, float strictness);

/** Whether a look at two frames shows a lamp's change: the lamp's, not that of all around. */
bool lamp_look_is_clean(const struct lamp_look *look, double least_contrast);

#endif
