/* names.c - The lamps that a trace or VCD names, in the order they came up. */
#include "source/names.h"

#include <assert.h>
#include <stdint.h>
#include <string.h>

#include "base/utf8.h"

size_t lamp_names_find(struct lamp_names *names, const char *name)
{
    for (size_t step = 1; step <= names->count; step++) {
        size_t at = (names->last + step) % names->count;
        if (strcmp(names->at[at], name) == 0) {
            names->last = at;
            return at;
        }
    }
    return names->count;
}

bool lamp_names_add(struct lamp_names *names, const char *name)
{
    size_t size = strlen(name) + 1;
    assert(size <= LAMP_SOURCE_NAME_MAX);
    if (names->count == LAMP_SOURCE_LAMPS_MAX) {
        return false;
    }
    memcpy(names->at[names->count++], name, size);
    return true;
}

bool lamp_names_is_fit(const char *text)
{
    size_t left = strlen(text);
    if (left == 0 || left >= LAMP_SOURCE_NAME_MAX) {
        return false;
    }
    uint32_t character;
    for (size_t used = 1; left > 0; text += used, left -= used) {
        used = lamp_utf8_read(text, left, &character);
        if (used == 0 || lamp_utf8_is_control(character)) {
            return false;
        }
    }
    return true;
}
