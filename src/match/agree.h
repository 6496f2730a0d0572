/* agree.h - Whether the rhythm, read without a book, contradicts an entry. */
#ifndef LAMP_MATCH_AGREE_H
#define LAMP_MATCH_AGREE_H

#include "match/score.h"

/** One cycle of the rhythm as light; false where the rhythm has no flashes that repeat. */
bool lamp_rhythm_wave(const struct lamp_rhythm *rhythm, struct lamp_wave *out);

/** Whether repeats that agree among themselves have another number of flashes than `model`. */
bool lamp_rhythm_contradicts(const struct lamp_rhythm *rhythm, const struct lamp_model *model,
                             double scale);

/** Whether repeats that agree among themselves are those of `model`. */
bool lamp_rhythm_supports(const struct lamp_rhythm *rhythm, const struct lamp_model *model,
                          double scale);

#endif
