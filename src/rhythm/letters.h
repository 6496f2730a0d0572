/* letters.h - Groups that may be Morse: whether the lengths are in its ratios, and where its words
 * part. */
#ifndef LAMP_RHYTHM_LETTERS_H
#define LAMP_RHYTHM_LETTERS_H

#include "lampread/group.h"
#include "rhythm/split.h"

/** Set `rhythm->morse` from its pattern and word gaps if the classes of `row` are in Morse's
 * ratios. */
void lamp_letters_read(const struct lamp_row *row, struct lamp_rhythm *rhythm);

#endif
