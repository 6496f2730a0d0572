/* report_json.c - The report for programs holds every key of format 1, in any locale. */
/* layers: base report rhythm codebook light finding */
#include <jansson.h>
#include <locale.h>
#include <math.h>

#include "support/suite.h"
#include "unit/report_support.h"

static json_t *object_of(const struct made_report *made)
{
    char *text = json_of(made);
    json_error_t error;
    json_t *object = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    ck_assert_msg(object != NULL, "line %d: %s in:\n%s", error.line, error.text, text);
    free(text);
    return object;
}

static json_t *lamp_of(json_t *object)
{
    json_t *lamp = json_array_get(json_object_get(object, "lamps"), 0);
    ck_assert_ptr_nonnull(lamp);
    return lamp;
}

static void assert_keys(const json_t *object, const char *const *keys, size_t count)
{
    ck_assert_uint_eq(json_object_size(object), count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_msg(json_object_get(object, keys[i]) != NULL, "key '%s' is missing", keys[i]);
    }
}

#define ASSERT_KEYS(object, ...)                                 \
    do {                                                         \
        const char *const keys[] = {__VA_ARGS__};                \
        assert_keys(object, keys, sizeof keys / sizeof keys[0]); \
    } while (0)

START_TEST(every_key_of_the_format_is_there_and_no_other)
{
    struct made_report made;
    make_report(&made);
    json_t *object = object_of(&made);
    json_t *lamp = lamp_of(object);
    ASSERT_KEYS(object, "format", "tool", "source", "lamps", "findings", "warnings");
    ASSERT_KEYS(json_object_get(object, "source"), "kind", "name", "duration_s", "frames",
                "rate_hz", "dropped");
    ASSERT_KEYS(lamp, "name", "colour", "region", "verdict", "confidence", "pattern", "morse",
                "rate_hz", "duty", "match", "candidates", "repeats", "timing", "flashes", "flicker",
                "warnings");
    ASSERT_KEYS(json_object_get(lamp, "region"), "x", "y", "w", "h");
    ASSERT_KEYS(json_object_get(lamp, "match"), "book", "id", "means", "suspect", "check");
    ASSERT_KEYS(json_array_get(json_object_get(lamp, "candidates"), 0), "book", "id", "confidence",
                "against");
    ASSERT_KEYS(json_object_get(lamp, "repeats"), "seen", "agreeing");
    ASSERT_KEYS(json_object_get(lamp, "timing"), "short_s", "long_s", "gap_s", "pause_s", "rest_s");
    ASSERT_KEYS(json_array_get(json_object_get(lamp, "flashes"), 0), "start_s", "on_s", "sd_s");
    ASSERT_KEYS(json_object_get(lamp, "flicker"), "edges_per_s", "percent", "index");
    json_decref(object);
}
END_TEST

START_TEST(values_are_those_of_the_report)
{
    struct made_report made;
    make_report(&made);
    json_t *object = object_of(&made);
    json_t *lamp = lamp_of(object);
    ck_assert_str_eq(json_string_value(json_object_get(lamp, "verdict")), "code");
    ck_assert_str_eq(json_string_value(json_object_get(lamp, "pattern")), "2 long 1 short");
    ck_assert_double_eq_tol(json_real_value(json_object_get(lamp, "confidence")), 0.998, 1e-9);
    ck_assert_double_eq_tol(
        json_real_value(json_object_get(json_object_get(lamp, "timing"), "short_s")), 0.201, 1e-9);
    ck_assert(json_is_null(json_object_get(json_object_get(lamp, "timing"), "pause_s")));
    ck_assert(json_is_null(json_object_get(lamp, "morse")));
    ck_assert(json_is_null(json_object_get(lamp, "rate_hz")));
    ck_assert_uint_eq(json_array_size(json_object_get(lamp, "candidates")), 1);
    json_t *flash = json_array_get(json_object_get(lamp, "flashes"), 1);
    ck_assert_double_eq_tol(json_real_value(json_object_get(flash, "start_s")), 1.302, 1e-9);
    ck_assert_double_eq_tol(json_real_value(json_object_get(flash, "sd_s")), 0.004, 1e-9);
    json_decref(object);
}
END_TEST

START_TEST(what_is_not_known_is_null)
{
    struct made_report made;
    make_report(&made);
    made.lamp.has_region = false;
    made.lamp.colour = LAMP_COLOUR_UNKNOWN;
    made.lamp.match = (struct lamp_match){.verdict = LAMP_VERDICT_STEADY_ON, .confidence = NAN};
    made.lamp.rhythm = (struct lamp_rhythm){.verdict = LAMP_VERDICT_STEADY_ON};
    json_t *object = object_of(&made);
    static const char *const keys[] = {"region",  "colour",     "match",
                                       "pattern", "confidence", "duty"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        ck_assert_msg(json_is_null(json_object_get(lamp_of(object), keys[i])), "'%s' is not null",
                      keys[i]);
    }
    json_decref(object);
}
END_TEST

START_TEST(an_undecided_lamp_says_what_it_lacks)
{
    struct made_report made;
    make_report(&made);
    made.lamp.match =
        (struct lamp_match){.verdict = LAMP_VERDICT_UNDECIDED, .lack = LAMP_LACK_LIGHT};
    json_t *object = object_of(&made);
    ck_assert_uint_eq(json_array_size(json_object_get(lamp_of(object), "warnings")), 1);
    json_decref(object);
}
END_TEST

START_TEST(a_name_that_is_no_utf8_is_told_in_utf8)
{
    struct made_report made;
    make_report(&made);
    made.report.source.name = "caf\xe9.mp4";
    json_t *object = object_of(&made);
    ck_assert_str_eq(json_string_value(json_object_get(json_object_get(object, "source"), "name")),
                     "caf?.mp4");
    json_decref(object);
}
END_TEST

START_TEST(a_locale_with_decimal_commas_changes_nothing)
{
    struct made_report made;
    make_report(&made);
    char *before = json_of(&made);
    static const char *const locales[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE.utf8", "fr_FR.utf8"};
    bool found = false;
    for (size_t i = 0; i < sizeof locales / sizeof locales[0] && !found; i++) {
        found = setlocale(LC_ALL, locales[i]) != NULL;
    }
    if (!found) {
        (void)printf("skipped: no locale with a decimal comma is installed\n");
    } else {
        char *after = json_of(&made);
        ck_assert_str_eq(before, after);
        free(after);
    }
    free(before);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {every_key_of_the_format_is_there_and_no_other,
                                  values_are_those_of_the_report,
                                  what_is_not_known_is_null,
                                  an_undecided_lamp_says_what_it_lacks,
                                  a_name_that_is_no_utf8_is_told_in_utf8,
                                  a_locale_with_decimal_commas_changes_nothing};
    return suite_run("json", tests, sizeof tests / sizeof tests[0]);
}
