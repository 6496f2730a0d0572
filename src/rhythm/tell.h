/* tell.h - What is told of groups that were found: pattern, timing, rate. */
#ifndef LAMP_RHYTHM_TELL_H
#define LAMP_RHYTHM_TELL_H

#include "lampread/group.h"
#include "rhythm/cycle.h"
#include "rhythm/split.h"

/** Set pattern, word gaps, repeats and timing from a cycle that repeats, or from all that was seen
 * once. */
void lamp_tell_groups(const struct lamp_row *row, const struct lamp_groups *groups,
                      const struct lamp_cycle *cycle, struct lamp_rhythm *out);

/** Set pattern, rate, duty and timing of a blink. */
void lamp_tell_blink(const struct lamp_row *row, struct lamp_rhythm *out);

#endif
