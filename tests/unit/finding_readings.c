/* finding_readings.c - Bench readings are read with their unit, and refused without. */
/* layers: base light rhythm codebook finding */
#include <check.h>
#include <locale.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/finding.h"
#include "support/suite.h"

static const struct {
    const char *text;
    const char *key;
    enum lamp_unit unit;
    double value;
} good[] = {
    {"current=0.5A", "current", LAMP_UNIT_AMPERE, 0.5},
    {"current=500mA", "current", LAMP_UNIT_AMPERE, 0.5},
    {"current=0.5 A", "current", LAMP_UNIT_AMPERE, 0.5},
    {"current=-20 uA", "current", LAMP_UNIT_AMPERE, -20e-6},
    {"supply=5.1V", "supply", LAMP_UNIT_VOLT, 5.1},
    {"3V3-to-ground=1ohm", "3V3-to-ground", LAMP_UNIT_OHM, 1},
    {"3V3-to-ground=4.7kohm", "3V3-to-ground", LAMP_UNIT_OHM, 4700},
    {"3V3-to-ground=1\xce\xa9", "3V3-to-ground", LAMP_UNIT_OHM, 1},
    {"rail-to-ground=1Mohm", "rail-to-ground", LAMP_UNIT_OHM, 1e6},
    {"power=2.5W", "power", LAMP_UNIT_WATT, 2.5},
    {"hot-part=85degC", "hot-part", LAMP_UNIT_CELSIUS, 85},
    {"storage=none", "storage", LAMP_UNIT_WORD, 0},
    {"fuse=not-fitted", "fuse", LAMP_UNIT_WORD, 0},
};

START_TEST(a_reading_is_read)
{
    struct lamp_given given;
    struct lamp_error error = {.sentence = ""};
    ck_assert_msg(lamp_given_parse(good[_i].text, &given, &error) == LAMP_OK, "%s: %s",
                  good[_i].text, error.sentence);
    ck_assert_str_eq(given.key, good[_i].key);
    ck_assert_str_eq(given.word, strchr(good[_i].text, '=') + 1);
    ck_assert_int_eq(given.unit, good[_i].unit);
    ck_assert_double_eq_tol(given.value, good[_i].value, 1e-9 * (1 + good[_i].value));
}
END_TEST

/* What is wrong, and a part of the sentence that must say it. */
static const struct {
    const char *text;
    const char *says;
} bad[] = {
    {"", "expected such as current=0.5A"},
    {"current", "expected such as current=0.5A"},
    {"=0.5A", "expected such as current=0.5A"},
    {"current=", "expected such as current=0.5A"},
    {"current=0.5", "'0.5' of 'current' has no unit, expected A such as current=0.5A"},
    {"supply=5", "expected V such as supply=5.1V"},
    {"3V3-to-ground=1", "expected ohm such as 3V3-to-ground=1ohm"},
    {"ripple=20", "'20' of 'ripple' has no unit, expected A, V, ohm, W or degC"},
    {"current=5V", "'5V' of 'current' is in V, expected A"},
    {"supply=1ohm", "expected V"},
    {"current=lots", "'lots' of 'current' is not a quantity, expected A"},
    {"current=0.5 amps", "'amps' is not a unit known here"},
    {"current=0.5A 3", "nothing more"},
    {"current=0.5xA", "is not a unit known here"},
    {"3V3-to-ground=-1ohm", "is below 0, expected a resistance"},
    {"a b=1A", "expected letters, digits and hyphens"},
    {"storage=no ne", "is not a number"},
    {"current=nanA", "'nanA' of 'current' is not a quantity"},
    {"current=1e999A", "is not a number"},
};

START_TEST(a_bad_reading_is_refused_and_leaves_the_output_alone)
{
    struct lamp_given given;
    struct lamp_given before;
    struct lamp_error error = {.sentence = ""};
    memset(&given, 0x5a, sizeof given);
    memcpy(&before, &given, sizeof given);
    ck_assert_int_eq(lamp_given_parse(bad[_i].text, &given, &error), LAMP_BAD_USE);
    ck_assert_msg(strstr(error.sentence, bad[_i].says) != NULL, "%s: '%s' does not say '%s'",
                  bad[_i].text, error.sentence, bad[_i].says);
    ck_assert_ptr_null(strchr(error.sentence, '\n'));
    ck_assert_mem_eq(&given, &before, sizeof given);
    ck_assert_int_eq(lamp_given_parse(bad[_i].text, &given, NULL), LAMP_BAD_USE);
}
END_TEST

START_TEST(names_and_values_that_are_too_long_are_refused)
{
    char text[256];
    struct lamp_given given;
    memset(text, 'k', sizeof text);
    memcpy(text + 64, "=1A", 4);
    ck_assert_int_eq(lamp_given_parse(text, &given, NULL), LAMP_BAD_USE);
    memcpy(text + 63, "=1A", 4);
    ck_assert_int_eq(lamp_given_parse(text, &given, NULL), LAMP_OK);
    memset(text, 'v', sizeof text);
    memcpy(text, "storage=", 8);
    text[8 + 64] = '\0';
    ck_assert_int_eq(lamp_given_parse(text, &given, NULL), LAMP_BAD_USE);
    text[8 + 63] = '\0';
    ck_assert_int_eq(lamp_given_parse(text, &given, NULL), LAMP_OK);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("finding readings");
    tcase_add_loop_test(cases, a_reading_is_read, 0, (int)(sizeof good / sizeof good[0]));
    tcase_add_loop_test(cases, a_bad_reading_is_refused_and_leaves_the_output_alone, 0,
                        (int)(sizeof bad / sizeof bad[0]));
    tcase_add_test(cases, names_and_values_that_are_too_long_are_refused);
    return suite_end();
}
