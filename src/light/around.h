/* around.h - Whether a place is in sight, or something is before it: a hand, a tool, a cable. */
#ifndef LAMP_LIGHT_SIGHT_H
#define LAMP_LIGHT_SIGHT_H

#include "light/spot.h"

/** Most pixels of the surroundings that are remembered. */
#define LAMP_AROUND_MAX 144

/** Correlations of the surroundings with what they were from which nothing is before a place, and
 * below which something is. */
#define LAMP_AROUND_CLEAR   0.75F
#define LAMP_AROUND_COVERED 0.5F

/** The surroundings of a place as they look with its lamp lit and dark. Begin with all zero: not
 * known. */
struct lamp_around {
    bool is_known;
    bool is_rough; /**< They show so poorly that they must also be brighter or darker to be hidden.
                    */
    int count;
    struct lamp_offset at[LAMP_AROUND_MAX];
    float lit[LAMP_AROUND_MAX], dark[LAMP_AROUND_MAX]; /**< Luma over its plane, 8-bit codes. */
    float lit_mean, dark_mean;                         /**< Luma, 8-bit codes. */
    struct lamp_point fraction; /**< Of the place's centre, px, when they were taken. */
};

/**
 * Remember the surroundings of `spot` on a frame where it was lit and one where it was dark.
 * @param shift  px to add to where the frames' motion puts the spot.
 * @return false if something was before the place on the dark frame, so that it may have been lit
 * all the same; then only what the lit frame shows is remembered.
 */
bool lamp_around_take(struct lamp_around *around, const struct lamp_held *lit,
                      const struct lamp_held *dark, const struct lamp_spot *spot,
                      struct lamp_point shift);

/** How much the surroundings of `spot` look like themselves on a frame, as a correlation; 1 where
 * that cannot be told. Follows what changes slowly. */
float lamp_around_look(struct lamp_around *around, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_point shift);

#endif
