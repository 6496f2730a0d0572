/* array.h - Rows that grow, each with a ceiling. */
#ifndef LAMP_BASE_ARRAY_H
#define LAMP_BASE_ARRAY_H

#include <stddef.h>

#include "lampread/error.h"

/**
 * Make room for one more item: `*items` is a malloc'd row of `*room` items of `size` bytes, of which `count` are used.
 * @return LAMP_OK; LAMP_FULL if count has reached `ceiling`; LAMP_NO_MEMORY. Untouched on failure.
 */
enum lamp_err lamp_array_room(void **items, size_t *room, size_t count, size_t size, size_t ceiling);

#endif
