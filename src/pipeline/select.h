/* select.h - Which sightings are lamps, and in what order they are told. */
#ifndef LAMP_PIPELINE_SELECT_H
#define LAMP_PIPELINE_SELECT_H

#include <stddef.h>

#include "pipeline/sighting.h"

/**
 * Mark what is not a lamp of its own in `left_out`, then put lamps first: blinking before steady,
 * each by brightness.
 * @return how many are lamps.
 */
size_t lamp_select(struct lamp_sighting *sighting, size_t count);

#endif
