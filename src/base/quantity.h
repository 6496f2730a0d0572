/* quantity.h - Bench quantities with their unit, and the comparisons that findings make with them.
 */
#ifndef LAMP_BASE_QUANTITY_H
#define LAMP_BASE_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/error.h"

/** A measured value. Holds nothing to free. */
struct lamp_quantity {
    double value; /**< In the unit, prefix taken in. */
    const char
        *unit; /**< "A", "V", "ohm", "W" or "degC". Static: equal units have equal pointers. */
};

/** The values that a comparison lets pass. Holds nothing to free. */
struct lamp_comparison {
    double low;       /**< -INFINITY where there is no lower end. */
    double high;      /**< INFINITY where there is no upper end. */
    bool takes_low;   /**< True if `low` itself passes. */
    bool takes_high;  /**< True if `high` itself passes. */
    const char *unit; /**< As in lamp_quantity. */
};

/**
 * Read a whole string as a quantity: "0.5 A", "500mA", "1ohm", "3.3 V", "45 degC"; prefixes u m k
 * M.
 * @param out    untouched on failure.
 * @param error  its place is left empty; may be NULL.
 * @return LAMP_OK, LAMP_BAD_USE (the sentence names the part at fault).
 */
enum lamp_err lamp_quantity_parse(const char *text, struct lamp_quantity *out,
                                  struct lamp_error *error);

/**
 * Read a whole string as a comparison: "> 0.4 A", "<= 5 ohm", "0.4 A .. 0.6 A" (both ends pass).
 * @param out    untouched on failure.
 * @param at     set to the byte offset of the part at fault on failure; may be NULL.
 * @param error  as lamp_quantity_parse.
 * @return LAMP_OK, LAMP_BAD_USE.
 */
enum lamp_err lamp_comparison_parse(const char *text, struct lamp_comparison *out, size_t *at,
                                    struct lamp_error *error);

/** Whether the value passes; a quantity in another unit never does. */
bool lamp_comparison_holds(const struct lamp_comparison *comparison,
                           const struct lamp_quantity *quantity);

/** Whether `text` is a reading in words: letters, digits and hyphens, a letter first ("none",
 * "not-fitted"). */
bool lamp_reading_is_word(const char *text);

#endif
