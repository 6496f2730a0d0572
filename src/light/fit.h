/* fit.h - The motion that brings points of a key frame onto another frame, by least squares. */
#ifndef LAMP_LIGHT_FIT_H
#define LAMP_LIGHT_FIT_H

#include "light/motion.h"

/** Most points of one key frame, and how few say nothing of motion. */
#define LAMP_KEY_POINTS_MAX   1200
#define LAMP_KEY_POINTS_LEAST 30

/** Luma above which a block may be driven white, and is not compared. */
#define LAMP_FIT_SATURATED 240.0F

/** A block of the key frame with a strong gradient. */
struct lamp_key_point {
    float x, y;   /**< Block coordinates. */
    float value;  /**< Luma, 8-bit codes. */
    float gx, gy; /**< Its gradient, codes a block. */
};

/** The points of a key frame. */
struct lamp_key {
    int width, height; /**< Of the coarse picture, blocks. */
    struct lamp_key_point point[LAMP_KEY_POINTS_MAX];
    int count;
};

/** How a frame fits a key frame. */
struct lamp_fit {
    struct lamp_motion motion; /**< Blocks, key frame to this one. */
    double gain, offset;       /**< This frame's codes = gain * key + offset. */
    double scatter;            /**< Mean absolute difference, codes. */
    double correlation;        /**< Of the points, 0 where too few are in the picture. */
    int inside;                /**< Points inside the picture. */
};

/** Weighted sums of two values. */
struct lamp_sums {
    double n, a, b, aa, bb, ab;
};

/** Their correlation, 0 where one does not vary. */
double lamp_sums_correlation(const struct lamp_sums *sums);

/** Fit the frame with luma `y`, key->width by key->height blocks, beginning from `start`. */
struct lamp_fit lamp_fit_from(const struct lamp_key *key, const float *y, struct lamp_motion start);

#endif
