/* reflect.h - What of a place's light is the room's, which ripples, and not its own. */
#ifndef LAMP_LIGHT_REFLECT_H
#define LAMP_LIGHT_REFLECT_H

#include <stdbool.h>

#include "light/spot.h"

/** Begin with all zero. */
struct lamp_reflection {
    float rgb[LAMP_REFLECTING];  /**< What the place's pixels reflect in the room's usual light,
                                    linear, then what the ring does. */
    bool is_known;               /**< Seen when the lamp was dark; otherwise it is learnt. */
    bool has_last;               /**< There is a last light. */
    float last[LAMP_REFLECTING]; /**< The light before, as measured. */
    float last_room[LAMP_REFLECTING]; /**< The room's light then. */
    float weight[LAMP_REFLECTING];    /**< How much the room's light changed so far, squared. */
    float usual[LAMP_REFLECTING];     /**< What a change is usually off by. */
    double sum[5];       /**< Of the powers of the room's light over its usual one, less 1. */
    double level_sum[3]; /**< Of those times the level of the place. */
    double level_square; /**< Of the squared level. */
};

/** The light of the place while its lamp was dark, in the room's usual light, is known. */
void lamp_reflection_know(struct lamp_reflection *reflection, const struct lamp_light *dark);

/** Learn from the next light of the place, as measured. */
void lamp_reflection_learn(struct lamp_reflection *reflection, const struct lamp_light *light);

/** The room's usual light is told anew: its light over that is so many times what it was, for each
 * part. */
void lamp_reflection_level(struct lamp_reflection *reflection, const float change[LAMP_REFLECTING]);

/** Take note of the level that was told of a place whose surroundings had so much of the room's
 * light.
 */
void lamp_reflection_note(struct lamp_reflection *reflection, float room, float level);

/** How much of all that the told level did was done by the room's light, 0 to 1. */
float lamp_reflection_share(const struct lamp_reflection *reflection);

/** Whether the room's light alone drives a dark lamp's pixels to the top in the colour that it
 * gains most: they tell nothing then. */
bool lamp_reflection_is_blinding(const struct lamp_reflection *reflection, const float lit_rgb[3],
                                 const float room[3]);

/** Tell light as it were in the room's usual light. */
void lamp_reflection_take_out(const struct lamp_reflection *reflection, struct lamp_light *light);

#endif
