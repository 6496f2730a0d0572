/* blind.h - Whether frames are missing wherever a change and back would have to be seen. */
#ifndef LAMP_RHYTHM_BLIND_H
#define LAMP_RHYTHM_BLIND_H

#include <stdbool.h>

#include "rhythm/split.h"

/**
 * Whether all lengths of one class have a hole at the same place, with room for the shortest length
 * of the other side: each may hide one more flash, or one more gap, and none shows that it does
 * not. Holes that come by chance do not: they lie elsewhere in one of them.
 */
bool lamp_row_is_blind(const struct lamp_row *row);

#endif
