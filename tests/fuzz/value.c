/* value.c - Bytes as what people type: numbers, lengths of time, quantities, comparisons, bench
 * readings, characters. */
#include <math.h>
#include <stdbool.h>

#include "base/number.h"
#include "base/quantity.h"
#include "base/utf8.h"
#include "fuzz/fuzz.h"
#include "lampread/finding.h"

static void check_number(const char *text)
{
    double value = 0;
    double again = 0;
    char written[64];
    size_t used = lamp_number_read(text, &value);
    MUST(used <= strlen(text));
    MUST(lamp_number_parse(text, &value) == (used > 0 && text[used] == '\0'));
    if (used > 0) {
        MUST(isfinite(value));
        lamp_number_format(value, written, sizeof written);
        MUST(lamp_number_parse(written, &again));
        MUST(fabs(again - value) <= 1e-8 * fabs(value));
    }
}

static void check_duration(const char *text)
{
    int64_t ns = 0;
    int64_t again_ns = 0;
    char written[64];
    if (lamp_duration_read(text, &ns) > 0) {
        MUST(ns > 0 && ns < INT64_C(86400) * LAMP_NS_PER_S);
        lamp_duration_format(ns, written, sizeof written);
        MUST(lamp_duration_parse(written, &again_ns) && again_ns == ns);
    }
}

static void check_quantity(const char *text)
{
    struct lamp_quantity quantity = {.unit = NULL};
    struct lamp_comparison comparison;
    struct lamp_error error = {.place = ""};
    size_t at = 0;
    if (lamp_quantity_parse(text, &quantity, &error) == LAMP_OK) {
        MUST(isfinite(quantity.value) && quantity.unit != NULL);
    } else {
        MUST(quantity.unit == NULL);
        must_be_told(&error);
    }
    if (lamp_comparison_parse(text, &comparison, &at, &error) == LAMP_OK) {
        const struct lamp_quantity inside = {fmin(fmax(0, comparison.low), comparison.high),
                                             comparison.unit};
        MUST(comparison.low <= comparison.high);
        MUST(lamp_comparison_holds(&comparison, &inside) || !comparison.takes_low ||
             !comparison.takes_high);
    } else {
        MUST(at <= strlen(text));
        must_be_told(&error);
    }
}

static void check_given(const char *text)
{
    struct lamp_given given = {.key = "untouched"};
    struct lamp_error error = {.place = ""};
    if (lamp_given_parse(text, &given, &error) == LAMP_OK) {
        MUST(strlen(given.key) < sizeof given.key && strlen(given.word) < sizeof given.word);
        MUST(isfinite(given.value));
    } else {
        MUST(strcmp(given.key, "untouched") == 0);
        must_be_told(&error);
    }
}

static void check_characters(const char *text, size_t size)
{
    size_t at = 0;
    uint32_t character = 0;
    for (size_t used = 1; used > 0; at += used) {
        used = lamp_utf8_read(text + at, size - at, &character);
        MUST(used <= size - at);
        MUST(used == 0 || character <= 0x10ffff);
        (void)lamp_utf8_is_control(character);
    }
    for (size_t room = 0; room <= size; room++) {
        MUST(lamp_utf8_fit(text, size, room) <= room);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    char *text = text_of(bytes, size);
    check_number(text);
    check_duration(text);
    check_quantity(text);
    check_given(text);
    (void)lamp_reading_is_word(text);
    check_characters(text, size < 200 ? size : 200);
    free(text);
    return 0;
}
