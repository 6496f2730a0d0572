/* differ.h - Where two cycles of light differ most, in plain words. */
#ifndef LAMP_MATCH_DIFFER_H
#define LAMP_MATCH_DIFFER_H

#include "match/score.h"

/** Say where the cycle `seen` departs most from `model`; "" if it stays within the tolerance. */
void lamp_differ_write(const struct lamp_model *model, const struct lamp_wave *seen,
                       char out[LAMP_REASON_MAX]);

/** How far apart the two are: about 1 for each flash too many, and for each length of another
 * class. */
double lamp_differ_distance(const struct lamp_model *model, const struct lamp_wave *seen);

#endif
