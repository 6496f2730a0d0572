/* light.h - Pixels to brightness: find the lamps in a picture, follow them, measure each.
 *
 *   frame --push--> viewer --next--> reading, reading, ...   one a lamp a frame
 *                      |
 *                      '--place--> where the lamp is, its colour, what it looks like
 */
#ifndef LAMPREAD_LIGHT_H
#define LAMPREAD_LIGHT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** Most places that are measured at once; the faintest of the found ones give way. */
#define LAMP_PLACES_MAX 48

/** A rectangle of the picture. */
struct lamp_region {
    int x_px; /**< Left edge. */
    int y_px; /**< Top edge. */
    int w_px; /**< Width, > 0. */
    int h_px; /**< Height, > 0. */
};

/** Colour names, those that IEC 60073 gives to indicators and the two that lamps also have. */
enum lamp_colour {
    LAMP_COLOUR_UNKNOWN,
    LAMP_COLOUR_RED,
    LAMP_COLOUR_ORANGE,
    LAMP_COLOUR_YELLOW,
    LAMP_COLOUR_GREEN,
    LAMP_COLOUR_BLUE,
    LAMP_COLOUR_PURPLE,
    LAMP_COLOUR_WHITE
};

/** The light of one place on one frame. */
struct lamp_reading {
    size_t place;        /**< Index of the place. */
    int64_t t_ns;        /**< Start of exposure of that frame. */
    int64_t exposure_ns; /**< Exposure, 0 if not known. */
    float rgb[3]; /**< Linear light above the ring around it, camera gain taken out, 1 = full scale.
                   */
    bool is_driven[3]; /**< R, G, B: the lit lamp drives all that can be measured of this colour to the top, so that it
                            says on or off, not how much; never all three. */
    bool begins;  /**< True for the first reading of a place: what came before under this index is
                     void. */
    bool after_break; /**< True if the light just before is not known: a hard cut, or the place was
                         out of sight. */
};

/** What is known of a place. */
struct lamp_place {
    struct lamp_region region; /**< Where it is on the first frame, as decoded. */
    bool is_pointed;           /**< True if the user pointed at it. */
    bool has_changed;          /**< True if it was seen to go on or off. */
    bool is_by_change;         /**< True if it was found by that, false if it shone before. */
    float likeness; /**< How much it goes on and off like a lamp, 0 to 1; pointed places have 1. */
    float shine;    /**< How much it looks like a lamp that is lit throughout, 0 to 1. */
    float lit_rgb[3]; /**< Linear light when lit, above its surroundings. */
    float core; /**< Linear light of its outline when lit, in its strongest colour, 1 = driven to the top. */
    float over_white; /**< That over the same of the white parts of the picture; 0 if not known. */
};

/** How lamps are looked for. */
struct lamp_viewer_rules {
    bool finds;            /**< Look for lamps; false: only those pointed at. Default true. */
    double least_contrast; /**< Least step of light to start a lamp, share of full scale, 0..1;
                              default 0.02. */
};

/** What the camera did, seen in the pictures. */
struct lamp_viewer_counts {
    uint64_t frames;   /**< Whole frames pushed. */
    uint64_t cuts;     /**< Hard cuts. */
    uint64_t damaged;  /**< Frames like none beside them, left out. */
    uint64_t repeats;  /**< Frames equal to the one before. */
    double motion_px;  /**< Largest distance the picture moved from where it began, px. */
    double gain_ratio; /**< Largest over least camera gain. */
    double ripple_hz;  /**< Rate of ripple of the room light as the camera sees it, 0 if none. */
    double offset_px;  /**< How far the picture is from where it began now, px. */
};

struct lamp_viewer;

struct lamp_viewer_rules lamp_viewer_rules_default(void);

/** Make a viewer. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_viewer_new(const struct lamp_viewer_rules *rules, struct lamp_viewer **out);

/** Point at a lamp before the first frame. @return LAMP_OK, LAMP_FULL, LAMP_NO_MEMORY. Its place
 * gets the next index. */
enum lamp_err lamp_viewer_point(struct lamp_viewer *viewer, const struct lamp_region *region);

/**
 * Look at one frame, all of it or a part. The frame's planes must stay readable as LAMP_FRAMES_KEPT says.
 * @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_SOURCE (picture size changed, or too small).
 */
enum lamp_err lamp_viewer_push(struct lamp_viewer *viewer, const struct lamp_frame *frame);

/**
 * Which part of the next pictures matters: while nothing is new and nothing moves, the one that holds the known lamps and their
 * surroundings. Between partial frames (lamp_frame.is_partial) of it a whole one is needed about twice a second.
 */
void lamp_viewer_focus(const struct lamp_viewer *viewer, struct lamp_picture_part *out);

/** Take the next reading; false when there is none. Times of one place never decrease. Readings of partial frames come with the next
 * whole one, which shows whether the picture stood still. */
bool lamp_viewer_next(struct lamp_viewer *viewer, struct lamp_reading *out);

/** Places known so far, pointed ones first. */
size_t lamp_viewer_place_count(const struct lamp_viewer *viewer);

/** Describe place `index` (< count). */
void lamp_viewer_place(const struct lamp_viewer *viewer, size_t index, struct lamp_place *out);

/** Where place `index` (< count) is on the newest whole frame, as decoded. @return false where it is out of sight. */
bool lamp_viewer_where(const struct lamp_viewer *viewer, size_t index, struct lamp_region *out);

/** What the camera did. */
void lamp_viewer_describe(const struct lamp_viewer *viewer, struct lamp_viewer_counts *out);

/** Free; NULL is fine. */
void lamp_viewer_free(struct lamp_viewer *viewer);

/** The colour name of linear light `rgb`, three values. */
enum lamp_colour lamp_colour_of(const float rgb[3]);

/** "red", "green", ...; NULL for LAMP_COLOUR_UNKNOWN. Static. */
const char *lamp_colour_name(enum lamp_colour colour);

/** The colour called `name`, LAMP_COLOUR_UNKNOWN if there is none; "amber" is orange. */
enum lamp_colour lamp_colour_named(const char *name);

#endif
