/* shade.h - Whether the light of a place only goes with that of its surroundings, as under a
 * shadow. */
#ifndef LAMP_LIGHT_SHADE_H
#define LAMP_LIGHT_SHADE_H

#include "light/spot.h"

/** Sums of the logarithms of the light of a place and about it. Begin with all zero. */
struct lamp_shade {
    unsigned count;
    double place, place_square;   /**< Of the place. */
    double around, around_square; /**< Of the ring farther out. */
    double ratio_square;          /**< Of the place over the ring. */
};

/** Take note of the light of one frame. */
void lamp_shade_note(struct lamp_shade *shade, const struct lamp_light *light);

/**
 * How much of all that the place did its surroundings did alike, 0 to 1. A lamp that lights up what
 * is around it in a dark room changes by far more than that, which is 0.
 */
float lamp_shade_share(const struct lamp_shade *shade);

#endif
