/* check.h - Refuse rules that are out of range, naming the field. */
#ifndef LAMP_RENDER_CHECK_H
#define LAMP_RENDER_CHECK_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/error.h"

/** One field, whether its value can be used, and what would be. */
struct check {
    const char *field;
    bool good;
    const char *expected;
};

/** One field and the values it may have, both ends included. */
struct range {
    const char *field;
    double value;
    double least;
    double most;
};

/** @return LAMP_OK, or LAMP_BAD_USE for the first check that is not good. */
enum lamp_err check_all(const struct check *checks, size_t count, struct lamp_error *error);

/** @return LAMP_OK, or LAMP_BAD_USE for the first value out of its range; NAN is in none. */
enum lamp_err check_ranges(const struct range *ranges, size_t count, struct lamp_error *error);

#endif
