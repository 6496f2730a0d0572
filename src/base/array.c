/* array.c - Rows that grow, each with a ceiling. */
#include "base/array.h"

#include <stdint.h>
#include <stdlib.h>

enum lamp_err lamp_array_room(void **items, size_t *room, size_t count, size_t size, size_t ceiling)
{
    if (count >= ceiling) {
        return LAMP_FULL;
    }
    if (count < *room) {
        return LAMP_OK;
    }
    size_t wanted = *room < 8 ? 8 : *room * 2;
    if (wanted > ceiling) {
        wanted = ceiling;
    }
    if (wanted > SIZE_MAX / size) {
        return LAMP_NO_MEMORY;
    }
    void *grown = realloc(*items, wanted * size);
    if (grown == NULL) {
        return LAMP_NO_MEMORY;
    }
    *items = grown;
    *room = wanted;
    return LAMP_OK;
}
