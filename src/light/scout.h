/* scout.h - Which spots of the coarse picture may shine: those whose surroundings take on their
 * light. */
#ifndef LAMP_LIGHT_SCOUT_H
#define LAMP_LIGHT_SCOUT_H

#include "light/find.h"

/** Most spots told for one frame. */
#define LAMP_SCOUTED_MAX 16

struct lamp_scout;

/** Make a scout for pictures like `coarse`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_scout_new(const struct lamp_coarse *coarse, struct lamp_scout **out);

/**
 * Spots worth a closer look for a lamp that only shines, surest first.
 * @param white  luma code of the board's white parts, 0 if not known.
 * @return how many.
 */
size_t lamp_scout_look(struct lamp_scout *scout, const struct lamp_still *still, float white,
                       struct lamp_spotted out[LAMP_SCOUTED_MAX]);

/** Free; NULL is fine. */
void lamp_scout_free(struct lamp_scout *scout);

#endif
