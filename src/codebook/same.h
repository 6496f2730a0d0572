/* same.h - Whether two books say the same. */
#ifndef LAMP_CODEBOOK_SAME_H
#define LAMP_CODEBOOK_SAME_H

#include <stdbool.h>

#include "lampread/codebook.h"

/** Whether `now` says all that `was` does, in the same order, but for the lengths of the code `id`;
 * more lamps and codes may follow. */
bool lamp_same_but(const struct lamp_book *was, const struct lamp_book *now, const char *id);

/** Whether two codes say the same; with `is_remeasured`, but for their lengths and what those rest
 * on. */
bool lamp_same_code(const struct lamp_code *a, const struct lamp_code *b, bool is_remeasured);

/** Whether two texts are the same; NULL is the same as NULL. */
bool lamp_same_text(const char *a, const char *b);

/** Whether two rows of texts are the same. */
bool lamp_same_strings(const struct lamp_strings *a, const struct lamp_strings *b);

#endif
