/* scout.h - Which spots of the coarse picture may shine: those whose surroundings take on their
 * light. */
#ifndef LAMP_LIGHT_SCOUT_H
#define LAMP_LIGHT_SCOUT_H

#include "light/find.h"

/** Most spots told for one frame. */
#define LAMP_SCOUTED_MAX 16

/** Spots worth a closer look for a lamp that only shines, surest first; none if memory is short.
 * @return how many. */
size_t lamp_scout(const struct lamp_still *still, struct lamp_spotted out[LAMP_SCOUTED_MAX]);

#endif
