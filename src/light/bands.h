/* bands.h - The bands that rippling room light draws across pictures taken row by row. */
#ifndef LAMP_LIGHT_BANDS_H
#define LAMP_LIGHT_BANDS_H

#include <stdbool.h>

#include "lampread/error.h"
#include "lampread/source.h"
#include "light/coarse.h"
#include "light/motion.h"

/** Parts of a row, side by side, that must agree: a lamp, a hand or a shadow is in few of them. */
#define LAMP_BAND_STRIPS 8

/** Wave numbers that are tried, and the rows they are tried on. */
#define LAMP_BAND_WAVES 96
#define LAMP_BAND_BINS  48

/** Most rows of blocks; no bands are looked for in a picture that has more. */
#define LAMP_BAND_ROWS_MAX 4096

/** What is known of the bands. */
struct lamp_bands {
    int width, height; /**< Of the coarse picture, blocks. */
    int block_px;
    float *row; /**< Of each strip and row of blocks of the newest picture: the log of its light. */
    float *usual; /**< The same on the first picture's rows, as it was at first: bands and all. */
    float *mean;  /**< The same in the mean of many pictures, which has no bands. */
    float *shift; /**< By row: the light of what is usual, over that of the mean. */
    float *light[LAMP_FRAMES_KEPT]; /**< The room's light by row, over its mean. */
    float *store;
    unsigned frames;
    unsigned seen_count;                            /**< Pictures with bands. */
    float log_light[256];                           /**< Of a code of 8 bits. */
    float black;                                    /**< What the logs were made for. */
    float wave[LAMP_BAND_WAVES][2][LAMP_BAND_BINS]; /**< Bands of each wave number, orthonormal. */
    double power[LAMP_BAND_WAVES]; /**< How much of the departures each one explains, fading. */
    double total;                  /**< All of the departures, fading. */
    int likely_count;              /**< Pictures in a row that look as if they had bands. */
    bool are_seen;
};

/** Make room for pictures like `coarse`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_bands_init(struct lamp_bands *bands, const struct lamp_coarse *coarse);

/** A new scene: what was usual says nothing any more. */
void lamp_bands_forget(struct lamp_bands *bands);

/**
 * Take the next picture, and the bands out of it; the light of a lamp, which has none, then has.
 * @param frame   it belongs to.
 * @param motion  from the first picture to the one before this.
 * @return the room's light in each row of blocks, over its usual light; NULL where there are no
 * bands. Valid until LAMP_FRAMES_KEPT more were pushed.
 */
const float *lamp_bands_push(struct lamp_bands *bands, struct lamp_coarse *coarse,
                             const struct lamp_frame *frame, const struct lamp_motion *motion);

/**
 * Look whether the mean of the pictures by now has no bands, and use it for the usual light: until
 * then it is the light of the first picture.
 * @param change  for each row of blocks, by how much the room's light changes over its usual one.
 * @return false if nothing changes.
 */
bool lamp_bands_level(struct lamp_bands *bands, float *change);

/** Free the room. */
void lamp_bands_fini(struct lamp_bands *bands);

#endif
