/* role.h - What each length of a lamp was taken for: its class, its group, its repeat.
 *
 *   light    ___ ___ _          _ _          ___ ___ _
 *   class     L   L  s   pause  s s   rest    L   L  s
 *   group     1   1  1          2 2           1   1  1
 *   repeat    1   1  1     1    1 1           2   2  2
 */
#ifndef LAMP_REPORT_ROLE_H
#define LAMP_REPORT_ROLE_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/flash.h"
#include "lampread/group.h"
#include "lampread/pattern.h"

/** The class of a length. */
enum lamp_class {
    LAMP_CLASS_NONE, /**< The rhythm has no classes, or too little of the length was seen. */
    LAMP_CLASS_SHORT,
    LAMP_CLASS_LONG,
    LAMP_CLASS_GAP,
    LAMP_CLASS_PAUSE,
    LAMP_CLASS_REST
};

/** What one length was taken for. */
struct lamp_role {
    enum lamp_class class;
    unsigned
        group; /**< Which group of its repeat, from 1; 0 outside of groups or where not known. */
    unsigned
        repeat; /**< Which repeat, from 1; 0 before the first that was seen from its beginning. */
};

/** The lengths of a lamp, oldest first; begin with lamp_roles_begin. */
struct lamp_roles {
    const struct lamp_length *length;
    size_t count;
    const struct lamp_rhythm *rhythm;
    size_t at;
    unsigned group; /**< Of the flashes that come next. */
    unsigned repeat;
};

/** "short", "rest"; "" for NONE. Static. */
const char *lamp_class_name(enum lamp_class class);

/** The class that is nearest to a length, on a log scale. NONE where `timing` has none. */
enum lamp_class lamp_role_class(const struct lamp_length *length, const struct lamp_timing *timing);

/** Begin with a lamp's lengths, which are borrowed. */
void lamp_roles_begin(struct lamp_roles *roles, const struct lamp_length *length, size_t count,
                      const struct lamp_rhythm *rhythm);

/** The role of the next length; false when there is none left. */
bool lamp_roles_next(struct lamp_roles *roles, struct lamp_role *out);

#endif
