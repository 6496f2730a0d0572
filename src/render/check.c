/* check.c - Refuse rules that are out of range, naming the field. */
#include "render/check.h"

#include "base/fail.h"

enum lamp_err check_all(const struct check *checks, size_t count, struct lamp_error *error)
{
    for (size_t i = 0; i < count; i++) {
        if (!checks[i].good) {
            return lamp_fail(error, LAMP_BAD_USE, checks[i].field, "out of range, expected %s",
                             checks[i].expected);
        }
    }
    return LAMP_OK;
}
