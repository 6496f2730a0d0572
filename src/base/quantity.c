/* quantity.c - Bench quantities with their unit, and the comparisons that findings make with them.
 */
#include "base/quantity.h"

#include <math.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "base/utf8.h"

enum { QUOTED_MAX = 40 };

static const char *const ampere = "A";
static const char *const volt = "V";
static const char *const ohm = "ohm";
static const char *const watt = "W";
static const char *const celsius = "degC";

static bool is_alphanumeric(char byte)
{
    char lower = lamp_text_lower(byte);
    return (lower >= 'a' && lower <= 'z') || (lower >= '0' && lower <= '9');
}

/* Read one unit name; the longer names stand before those they begin with. */
static size_t read_unit(const char *text, const char **out)
{
    const struct {
        const char *name;
        const char *unit;
    } units[] = {{"ohm", ohm},
                 {"Ohm", ohm},
                 {"\xce\xa9", ohm},
                 {"\xe2\x84\xa6", ohm},
                 {"degC", celsius},
                 {"\xc2\xb0"
                  "C",
                  celsius},
                 {"A", ampere},
                 {"V", volt},
                 {"W", watt}};
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t length = strlen(units[i].name);
        if (strncmp(text, units[i].name, length) == 0 && !is_alphanumeric(text[length])) {
            *out = units[i].unit;
            return length;
        }
    }
    return 0;
}

static size_t read_prefix(const char *text, double *factor)
{
    static const struct {
        const char *name;
        double factor;
    } prefixes[] = {{"u", 1e-6}, {"\xc2\xb5", 1e-6}, {"\xce\xbc", 1e-6},
                    {"m", 1e-3}, {"k", 1e3},         {"M", 1e6}};
    for (size_t i = 0; i < sizeof prefixes / sizeof prefixes[0]; i++) {
        size_t length = strlen(prefixes[i].name);
        if (strncmp(text, prefixes[i].name, length) == 0) {
            *factor = prefixes[i].factor;
            return length;
        }
    }
    return 0;
}

static size_t read_scaled_unit(const char *text, double *factor, const char **unit)
{
    *factor = 1;
    size_t used = read_unit(text, unit);
    if (used > 0) {
        return used;
    }
    size_t prefix = read_prefix(text, factor);
    used = prefix == 0 ? 0 : read_unit(text + prefix, unit);
    return used == 0 || *unit == celsius ? 0 : prefix + used;
}

static int quoted_length(const char *text)
{
    size_t length = strcspn(text, " \t\r\n,");
    return (int)lamp_utf8_fit(text, length, QUOTED_MAX);
}

/* Where reading has come to in a text; after a failure, the part at fault. */
struct scan {
    const char *text;
    size_t at;
    struct lamp_error *error;
};

static void skip_spaces(struct scan *scan)
{
    scan->at += strspn(scan->text + scan->at, " ");
}

/* Refuse the word where reading has come to. */
static bool refuse(struct scan *scan, const char *what, const char *expected)
{
    const char *word = scan->text + scan->at;
    (void)lamp_fail(scan->error, LAMP_BAD_USE, "", "'%.*s' %s, expected %s", quoted_length(word),
                    word, what, expected);
    return false;
}

/* Read a quantity and the spaces around it. */
static bool scan_quantity(struct scan *scan, struct lamp_quantity *out)
{
    static const char units[] = "A, V, ohm, W or degC";
    skip_spaces(scan);
    struct lamp_quantity made;
    size_t number_at = scan->at;
    size_t number = lamp_number_read(scan->text + scan->at, &made.value);
    if (number == 0) {
        return refuse(scan, "is not a number", "a quantity such as 0.5 A");
    }
    scan->at += number;
    skip_spaces(scan);
    const char *word = scan->text + scan->at;
    double factor;
    size_t unit = read_scaled_unit(word, &factor, &made.unit);
    if (unit == 0 && strchr(",.<>", *word) != NULL) {
        scan->at = number_at;
        return refuse(scan, "has no unit", units);
    }
    if (unit == 0) {
        return refuse(scan, "is not a unit known here", units);
    }
    scan->at += unit;
    skip_spaces(scan);
    made.value *= factor;
    *out = made;
    return true;
}

enum lamp_err lamp_quantity_parse(const char *text, struct lamp_quantity *out,
                                  struct lamp_error *error)
{
    struct scan scan = {text, 0, error};
    struct lamp_quantity made;
    if (!scan_quantity(&scan, &made)) {
        return LAMP_BAD_USE;
    }
    if (text[scan.at] != '\0') {
        (void)refuse(&scan, "comes after the quantity", "nothing more");
        return LAMP_BAD_USE;
    }
    *out = made;
    return LAMP_OK;
}

/* "> 0.4 A": all values on one side of one. */
static bool scan_side(struct scan *scan, struct lamp_comparison *out)
{
    bool is_below = scan->text[scan->at] == '<';
    scan->at++;
    bool takes_end = scan->text[scan->at] == '=';
    scan->at += takes_end;
    struct lamp_quantity end;
    if (!scan_quantity(scan, &end)) {
        return false;
    }
    *out = is_below ? (struct lamp_comparison){-INFINITY, end.value, true, takes_end, end.unit}
                    : (struct lamp_comparison){end.value, INFINITY, takes_end, true, end.unit};
    return true;
}

/* "0.4 A .. 0.6 A": the values between two. */
static bool scan_range(struct scan *scan, struct lamp_comparison *out)
{
    size_t begin = scan->at;
    struct lamp_quantity low;
    struct lamp_quantity high;
    if (!scan_quantity(scan, &low)) {
        return false;
    }
    if (strncmp(scan->text + scan->at, "..", 2) != 0) {
        scan->at = begin;
        return refuse(scan, "is a single value",
                      "a comparison such as > 0.4 A or a range such as 0.4 A .. 0.6 A");
    }
    scan->at += 2;
    skip_spaces(scan);
    begin = scan->at;
    if (!scan_quantity(scan, &high)) {
        return false;
    }
    if (high.unit != low.unit || high.value <= low.value) {
        scan->at = begin;
        return refuse(scan, "ends the range", "a larger value in the unit of the first");
    }
    *out = (struct lamp_comparison){low.value, high.value, true, true, low.unit};
    return true;
}

enum lamp_err lamp_comparison_parse(const char *text, struct lamp_comparison *out, size_t *at,
                                    struct lamp_error *error)
{
    struct scan scan = {text, 0, error};
    skip_spaces(&scan);
    struct lamp_comparison made;
    bool is_side = text[scan.at] == '<' || text[scan.at] == '>';
    bool read = is_side ? scan_side(&scan, &made) : scan_range(&scan, &made);
    if (read && text[scan.at] != '\0') {
        read = refuse(&scan, "comes after the comparison", "nothing more");
    }
    if (!read) {
        if (at != NULL) {
            *at = scan.at;
        }
        return LAMP_BAD_USE;
    }
    *out = made;
    return LAMP_OK;
}

bool lamp_comparison_holds(const struct lamp_comparison *comparison,
                           const struct lamp_quantity *quantity)
{
    double value = quantity->value;
    return quantity->unit == comparison->unit &&
           (value > comparison->low || (comparison->takes_low && value >= comparison->low)) &&
           (value < comparison->high || (comparison->takes_high && value <= comparison->high));
}

bool lamp_reading_is_word(const char *text)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
    size_t first = strspn(text, letters);
    return first > 0 &&
           text[strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-")] ==
               '\0';
}
