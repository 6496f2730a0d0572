/* anchor.h - Holds a place to what is around it, where it moves a little unlike the rest of the
 * picture. */
#ifndef LAMP_LIGHT_ANCHOR_H
#define LAMP_LIGHT_ANCHOR_H

#include "light/spot.h"

/** Most pixels of the surroundings that are remembered. */
#define LAMP_ANCHOR_MAX 160

/** The surroundings of a place as they were when it was found, and how far they are from where they
 * should be. */
struct lamp_anchor {
    int count;
    struct lamp_offset at[LAMP_ANCHOR_MAX];
    float code[LAMP_ANCHOR_MAX]; /**< Luma, 8-bit scale. */
    double texture;              /**< Mean absolute difference of the codes from their mean. */
    struct lamp_point fraction; /**< Of the place's centre, px, when the surroundings were taken. */
    struct lamp_point shift;    /**< px to add to where the picture's motion puts the place. */
};

/** Remember the surroundings of `spot` on a frame. */
void lamp_anchor_set(struct lamp_anchor *anchor, const struct lamp_held *held,
                     const struct lamp_spot *spot);

/** Find the surroundings again on the next frame: sets the shift, which moves by a few px at most.
 */
void lamp_anchor_follow(struct lamp_anchor *anchor, const struct lamp_held *held,
                        const struct lamp_spot *spot);

#endif
