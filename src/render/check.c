/* check.c - Refuse rules that are out of range, naming the field. */
#include "render/check.h"

#include "base/fail.h"
#include "base/number.h"

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

enum lamp_err check_ranges(const struct range *ranges, size_t count, struct lamp_error *error)
{
    for (size_t i = 0; i < count; i++) {
        const struct range *range = &ranges[i];
        if (!(range->value >= range->least && range->value <= range->most)) {
            char least[32];
            char most[32];
            lamp_number_format(range->least, least, sizeof least);
            lamp_number_format(range->most, most, sizeof most);
            return lamp_fail(error, LAMP_BAD_USE, range->field, "out of range, expected %s to %s",
                             least, most);
        }
    }
    return LAMP_OK;
}
