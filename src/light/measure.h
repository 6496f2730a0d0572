/* measure.h - The light of a spot and of its surroundings on one frame. */
#ifndef LAMP_LIGHT_MEASURE_H
#define LAMP_LIGHT_MEASURE_H

#include "light/spot.h"

/** Learn which rows the room's light on the dark place comes from: pale pixels count most. */
void lamp_spot_set_rows(const struct lamp_linear *linear, const struct lamp_held *dark,
                        struct lamp_spot *spot);

/** Learn what the core of `spot` looks like lit and dark. Stays unset where that cannot be
 * measured. */
void lamp_spot_set_gate(const struct lamp_linear *linear, const struct lamp_held *lit,
                        const struct lamp_held *dark, struct lamp_spot *spot);

/**
 * Mean linear light of a spot and of its rings on one frame.
 * @param shift  px to add to where the frame's motion puts the spot.
 * @return false if the spot is not wholly in the picture; nothing is set then.
 */
bool lamp_spot_measure(const struct lamp_linear *linear, const struct lamp_held *held,
                       const struct lamp_spot *spot, struct lamp_offset shift,
                       struct lamp_light *out);

#endif
