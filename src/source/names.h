/* names.h - The lamps that a trace or VCD names, in the order they came up. */
#ifndef LAMP_SOURCE_NAMES_H
#define LAMP_SOURCE_NAMES_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/source.h"

/** Longest name of a lamp, bytes with the closing zero. */
#define LAMP_SOURCE_NAME_MAX 64

/** Names; begin with all zero. */
struct lamp_names {
    size_t count;
    size_t last; /**< Where the last search ended: traces name their lamps in turn. */
    char at[LAMP_SOURCE_LAMPS_MAX][LAMP_SOURCE_NAME_MAX];
};

/** The index of `name`, or the count if it is not there. */
size_t lamp_names_find(struct lamp_names *names, const char *name);

/** Add a name; false if there is no room. `name` is shorter than LAMP_SOURCE_NAME_MAX. */
bool lamp_names_add(struct lamp_names *names, const char *name);

/** Whether a lamp can be called so: 1 to LAMP_SOURCE_NAME_MAX - 1 bytes of UTF-8 without control
 * characters. */
bool lamp_names_is_fit(const char *name);

#endif
