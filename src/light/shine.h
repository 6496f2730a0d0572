/* shine.h - Whether a spot sheds light of its own on what is around it. */
#ifndef LAMP_LIGHT_SHINE_H
#define LAMP_LIGHT_SHINE_H

#include "light/spot.h"

/** How steadily the light about a spot falls off on all sides, natural logarithms from one ring to
 * the next: about 0.2 for a lamp, about 0 for what only reflects. Negative where it rises. */
struct lamp_glow {
    float coloured; /**< Of light of a colour, against the other colours. */
    float white;    /**< Of light of any colour. */
};

/**
 * Look at what is around a spot, the mean of some frames.
 * @param held  `count` frames, at least 1.
 * @param shift  px to add to where the frames' motion puts the spot.
 * @return false if too little of it is in the picture; nothing is set then.
 */
bool lamp_glow_measure(const struct lamp_linear *linear, const struct lamp_held *const held[],
                       int count, const struct lamp_spot *spot, struct lamp_offset shift,
                       struct lamp_glow *out);

#endif
