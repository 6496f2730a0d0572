/* patch.h - Two frames about one point, pixel by pixel: what was there before, and what shines now.
 */
#ifndef LAMP_LIGHT_PATCH_H
#define LAMP_LIGHT_PATCH_H

#include "light/spot.h"

/** Samples of a patch each way. */
#define LAMP_PATCH_SIDE 60

/** Samples in all. */
#define LAMP_PATCH_COUNT (LAMP_PATCH_SIDE * LAMP_PATCH_SIDE)

/** Samples at each end of a row, of those within reach, whose rise is not what it is in a patch of
 * full reach: their neighbours are missing. */
#define LAMP_PATCH_MARGIN 3

/** Samples around a point of the first frame, `step` px apart. Only those within reach are set. */
struct lamp_patch {
    struct lamp_point centre;       /**< px of the first frame; the middle sample. */
    double step;                    /**< px, >= 1. */
    int reach;                      /**< Samples each way from the middle, 1 to LAMP_PATCH_SIDE / 2;
                                         all of them without a dark frame. */
    float lit[LAMP_PATCH_COUNT][3]; /**< Linear light, lit. */
    float dark[LAMP_PATCH_COUNT][3]; /**< The same, dark. */
    float bright[LAMP_PATCH_COUNT]
                [3];              /**< The brightest of the dark patch within a little slack. */
    float rise[LAMP_PATCH_COUNT]; /**< Smoothed gain from dark to lit; negative outside the picture.
                                   */
    float peak[LAMP_PATCH_COUNT]; /**< Largest of R', G', B' when lit, 0..1. */
    bool inside[LAMP_PATCH_COUNT]; /**< In the outline; for the caller. */
};

/**
 * Sample both frames about patch->centre, patch->step apart, as far as patch->reach.
 * @param dark  NULL: what the border of the lit patch has stands for it.
 */
void lamp_patch_take(const struct lamp_linear *linear, const struct lamp_held *lit,
                     const struct lamp_held *dark, struct lamp_patch *patch);

/** Where sample `k` (< LAMP_PATCH_COUNT) is, px of the first frame. */
struct lamp_point lamp_patch_place(const struct lamp_patch *patch, int k);

#endif
