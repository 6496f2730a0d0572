/* white.h - The white parts of a picture: what the room lights, and no part outshines. */
#ifndef LAMP_LIGHT_WHITE_H
#define LAMP_LIGHT_WHITE_H

#include <stdbool.h>

#include "light/coarse.h"

/** Begin with all zero: not known. */
struct lamp_white {
    float code;  /**< Luma that one block in 150 exceeds, as coded. */
    float light; /**< The same as a measure of light, alike for full and video range; 0.84 is driven
                    to the top. What depends on it was fitted in this scale. */
    float rgb[3]; /**< Mean linear R, G, B of those blocks, 1 = driven to the top: white as this
                     camera balances it. */
};

/** Find the white parts of a picture. @param is_full_range  of its codes, see lamp_frame. */
void lamp_white_find(const struct lamp_coarse *coarse, bool is_full_range, struct lamp_white *out);

#endif
