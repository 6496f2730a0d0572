/* readings.c - Bench readings: read from the command line, looked up by name, compared, said. */
#include "finding/readings.h"

#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/quantity.h"

/* What may stand in the name of a reading, as in the conditions of a book. */
#define NAME_LETTERS "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-"

static const struct {
    enum lamp_unit unit;
    const char *name;
    const char *example;
} units[] = {
    {LAMP_UNIT_AMPERE, "A", "0.5A"},       {LAMP_UNIT_VOLT, "V", "5.1V"},
    {LAMP_UNIT_OHM, "ohm", "1ohm"},        {LAMP_UNIT_WATT, "W", "2.5W"},
    {LAMP_UNIT_CELSIUS, "degC", "45degC"},
};

/* Readings whose unit is known by their name. */
static const struct {
    const char *key;
    enum lamp_unit unit;
} known[] = {
    {"current", LAMP_UNIT_AMPERE},      {"supply", LAMP_UNIT_VOLT},
    {"voltage", LAMP_UNIT_VOLT},        {"power", LAMP_UNIT_WATT},
    {"temperature", LAMP_UNIT_CELSIUS}, {"resistance", LAMP_UNIT_OHM},
};

static const char *unit_name(enum lamp_unit unit)
{
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        if (units[i].unit == unit) {
            return units[i].name;
        }
    }
    return "";
}

static const char *unit_example(enum lamp_unit unit)
{
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        if (units[i].unit == unit) {
            return units[i].example;
        }
    }
    return "";
}

static enum lamp_unit unit_called(const char *name)
{
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        if (strcmp(units[i].name, name) == 0) {
            return units[i].unit;
        }
    }
    return LAMP_UNIT_WORD;
}

/* The unit that `key` asks for, WORD where it may be anything. */
static enum lamp_unit unit_expected(const char *key)
{
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strcmp(known[i].key, key) == 0) {
            return known[i].unit;
        }
    }
    return strstr(key, "-to-") != NULL ? LAMP_UNIT_OHM : LAMP_UNIT_WORD;
}

static enum lamp_err refuse_bare_number(const char *key, const char *value,
                                        struct lamp_error *error)
{
    enum lamp_unit expected = unit_expected(key);
    if (expected == LAMP_UNIT_WORD) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "'%s' of '%s' has no unit, expected A, V, ohm, W or degC behind it", value,
                         key);
    }
    return lamp_fail(error, LAMP_BAD_USE, "", "'%s' of '%s' has no unit, expected %s such as %s=%s",
                     value, key, unit_name(expected), key, unit_example(expected));
}

static enum lamp_err read_quantity(const char *value, struct lamp_given *made,
                                   struct lamp_error *error)
{
    double bare;
    if (lamp_number_parse(value, &bare)) {
        return refuse_bare_number(made->key, value, error);
    }
    struct lamp_quantity quantity;
    enum lamp_err err = lamp_quantity_parse(value, &quantity, error);
    if (err != LAMP_OK) {
        return err;
    }
    made->unit = unit_called(quantity.unit);
    made->value = quantity.value;
    enum lamp_unit expected = unit_expected(made->key);
    if (expected != LAMP_UNIT_WORD && made->unit != expected) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "'%s' of '%s' is in %s, expected %s such as %s=%s", value, made->key,
                         quantity.unit, unit_name(expected), made->key, unit_example(expected));
    }
    if (made->value < 0 && made->unit == LAMP_UNIT_OHM) {
        return lamp_fail(error, LAMP_BAD_USE, "", "'%s' of '%s' is below 0, expected a resistance",
                         value, made->key);
    }
    return LAMP_OK;
}

static enum lamp_err read_value(const char *value, struct lamp_given *made,
                                struct lamp_error *error)
{
    if (!lamp_reading_is_word(value)) {
        return read_quantity(value, made, error);
    }
    enum lamp_unit expected = unit_expected(made->key);
    if (expected != LAMP_UNIT_WORD) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "'%s' of '%s' is not a quantity, expected %s such as %s=%s", value,
                         made->key, unit_name(expected), made->key, unit_example(expected));
    }
    made->unit = LAMP_UNIT_WORD;
    return LAMP_OK;
}

enum lamp_err lamp_given_parse(const char *text, struct lamp_given *out, struct lamp_error *error)
{
    const char *equals = strchr(text, '=');
    if (equals == NULL || equals == text || equals[1] == '\0') {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "'%.60s' is not KEY=VALUE, expected such as current=0.5A", text);
    }
    struct lamp_given made = {.unit = LAMP_UNIT_WORD};
    size_t length = (size_t)(equals - text);
    if (length >= sizeof made.key || strspn(text, NAME_LETTERS) != length) {
        return lamp_fail(
            error, LAMP_BAD_USE, "",
            "'%.60s' is not the name of a reading, expected letters, digits and hyphens before '='",
            text);
    }
    if (strlen(equals + 1) >= sizeof made.word) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the value of '%.*s' is too long, expected at most %zu bytes", (int)length,
                         text, sizeof made.word - 1);
    }
    memcpy(made.key, text, length);
    (void)snprintf(made.word, sizeof made.word, "%s", equals + 1);
    enum lamp_err err = read_value(made.word, &made, error);
    if (err == LAMP_OK) {
        *out = made;
    }
    return err;
}

const struct lamp_given *lamp_readings_find(const struct lamp_readings *readings, const char *key)
{
    for (size_t i = readings->count; i-- > 0;) {
        if (strcmp(readings->given[i].key, key) == 0) {
            return &readings->given[i];
        }
    }
    return NULL;
}

bool lamp_given_fits(const struct lamp_given *given, const char *value)
{
    if (given->unit == LAMP_UNIT_WORD) {
        return strcmp(given->word, value) == 0;
    }
    struct lamp_quantity quantity;
    struct lamp_comparison comparison;
    return lamp_quantity_parse(given->word, &quantity, NULL) == LAMP_OK &&
           lamp_comparison_parse(value, &comparison, NULL, NULL) == LAMP_OK &&
           lamp_comparison_holds(&comparison, &quantity);
}

void lamp_given_say(const struct lamp_given *given, char out[LAMP_REASON_MAX])
{
    if (given->unit == LAMP_UNIT_WORD) {
        (void)snprintf(out, LAMP_REASON_MAX, "%s: %s", given->key, given->word);
        return;
    }
    char number[32];
    lamp_number_format(given->value, number, sizeof number);
    (void)snprintf(out, LAMP_REASON_MAX, "%s %s %s", given->key, number, unit_name(given->unit));
}
