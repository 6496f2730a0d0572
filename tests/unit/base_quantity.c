/* base_quantity.c - Bench quantities and the comparisons of findings, with their units. */
/* layers: base */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/quantity.h"
#include "base/utf8.h"
#include "support/suite.h"

static const struct {
    const char *text;
    double value;
    const char *unit;
} good[] = {
    {"0.5 A", 0.5, "A"},
    {"500mA", 0.5, "A"},
    {"1ohm", 1, "ohm"},
    {" 3.3 V ", 3.3, "V"},
    {"45 degC", 45, "degC"},
    {"-5 \xc2\xb0"
     "C",
     -5, "degC"},
    {"4.7 k\xce\xa9", 4700, "ohm"},
    {"1 M\xe2\x84\xa6", 1e6, "ohm"},
    {"20 \xc2\xb5"
     "A",
     2e-5, "A"},
    {"20 \xce\xbc"
     "A",
     2e-5, "A"},
    {"20 uA", 2e-5, "A"},
    {"10.9 W", 10.9, "W"},
    {"2 mohm", 0.002, "ohm"},
    {"1e3 V", 1000, "V"},
    {"10 kohm", 1e4, "ohm"},
    {"1 Mohm", 1e6, "ohm"},
};

START_TEST(a_quantity_is_read_with_its_prefix_taken_in)
{
    struct lamp_quantity quantity;
    ck_assert_int_eq(lamp_quantity_parse(good[_i].text, &quantity, NULL), LAMP_OK);
    ck_assert_double_eq_tol(quantity.value, good[_i].value, 1e-9 * fabs(good[_i].value));
    ck_assert_str_eq(quantity.unit, good[_i].unit);
}
END_TEST

static const struct {
    const char *text;
    const char *sentence;
} bad[] = {
    {"", "'' is not a number, expected a quantity such as 0.5 A"},
    {"half", "'half' is not a number, expected a quantity such as 0.5 A"},
    {"0.5", "'0.5' has no unit, expected A, V, ohm, W or degC"},
    {"0,5 A", "'0' has no unit, expected A, V, ohm, W or degC"},
    {"3k3", "'k3' is not a unit known here, expected A, V, ohm, W or degC"},
    {"3V3", "'V3' is not a unit known here, expected A, V, ohm, W or degC"},
    {"5 a", "'a' is not a unit known here, expected A, V, ohm, W or degC"},
    {"5 mdegC", "'mdegC' is not a unit known here, expected A, V, ohm, W or degC"},
    {"5 GV", "'GV' is not a unit known here, expected A, V, ohm, W or degC"},
    {"5 A 3", "'3' comes after the quantity, expected nothing more"},
    {"inf A", "'inf' is not a number, expected a quantity such as 0.5 A"},
    {"1e999 A", "'1e999' is not a number, expected a quantity such as 0.5 A"},
};

START_TEST(a_quantity_that_is_none_is_refused_and_the_output_left_alone)
{
    struct lamp_quantity quantity = {7, "kept"};
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_quantity_parse(bad[_i].text, &quantity, &error), LAMP_BAD_USE);
    ck_assert_str_eq(error.sentence, bad[_i].sentence);
    ck_assert_str_eq(quantity.unit, "kept");
}
END_TEST

/* Comparisons, a quantity, and whether it passes. */
static const struct {
    const char *comparison;
    const char *quantity;
    bool holds;
} compared[] = {
    {"> 0.4 A", "0.4 A", false},         {"> 0.4 A", "401 mA", true},
    {">= 0.4 A", "0.4 A", true},         {"< 5 ohm", "5 ohm", false},
    {"<5ohm", "4.9 ohm", true},          {"<= 5 ohm", "5 ohm", true},
    {"<= 5 ohm", "-1 ohm", true},        {"<= 5 ohm", "5.1 ohm", false},
    {"0.4 A .. 0.6 A", "0.4 A", true},   {"0.4 A .. 0.6 A", "0.6 A", true},
    {"0.4A..0.6A", "500 mA", true},      {"0.4 A .. 0.6 A", "0.61 A", false},
    {"0.4 A .. 0.6 A", "0.39 A", false}, {"> 0.4 A", "1 V", false},
    {" >  0.4 A ", "1 A", true},         {"-5 degC .. 5 degC", "0 degC", true},
};

START_TEST(a_comparison_lets_pass_what_it_says)
{
    struct lamp_comparison comparison;
    struct lamp_quantity quantity;
    ck_assert_int_eq(lamp_comparison_parse(compared[_i].comparison, &comparison, NULL, NULL),
                     LAMP_OK);
    ck_assert_int_eq(lamp_quantity_parse(compared[_i].quantity, &quantity, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_comparison_holds(&comparison, &quantity), compared[_i].holds);
}
END_TEST

static const struct {
    const char *text;
    size_t at;
} wrong[] = {
    {"> ", 2},     {"> 5", 2},        {"=> 5 A", 0},     {"> 5 B", 4},
    {"5 A", 0},    {"5 A .. 4 A", 7}, {"5 A .. 6 V", 7}, {"> 5 A or so", 6},
    {"5 A ..", 6}, {"5 A . 6 A", 0},  {"5 .. 6 A", 0},
};

START_TEST(a_comparison_that_is_none_is_refused_at_its_byte)
{
    struct lamp_comparison comparison = {.unit = "kept"};
    size_t at = 99;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_comparison_parse(wrong[_i].text, &comparison, &at, &error), LAMP_BAD_USE);
    ck_assert_uint_eq(at, wrong[_i].at);
    ck_assert_ptr_nonnull(strstr(error.sentence, "expected"));
    ck_assert_str_eq(comparison.unit, "kept");
}
END_TEST

START_TEST(a_word_begins_with_a_letter)
{
    ck_assert(lamp_reading_is_word("none"));
    ck_assert(lamp_reading_is_word("not-fitted-2"));
    ck_assert(!lamp_reading_is_word("3V3"));
    ck_assert(!lamp_reading_is_word("two words"));
    ck_assert(!lamp_reading_is_word(""));
}
END_TEST

/* RFC 3629, section 4 and its examples of what is no UTF-8. */
static const struct {
    const char *text;
    size_t used;
} utf8[] = {
    {"a", 1},
    {"\xc3\xa9", 2},
    {"\xe2\x82\xac", 3},
    {"\xf0\x9f\x94\xa6", 4},
    {"\xf4\x8f\xbf\xbf", 4},
    {"\x80", 0},
    {"\xc0\x80", 0},
    {"\xc1\xbf", 0},
    {"\xe0\x80\x80", 0},
    {"\xed\xa0\x80", 0},
    {"\xf0\x80\x80\x80", 0},
    {"\xf4\x90\x80\x80", 0},
    {"\xf5\x80\x80\x80", 0},
    {"\xff", 0},
    {"\xc3", 0},
    {"\xe2\x82", 0},
    {"\xc3(", 0},
};

START_TEST(utf8_is_told_from_what_is_none)
{
    uint32_t character = 0;
    ck_assert_uint_eq(lamp_utf8_read(utf8[_i].text, strlen(utf8[_i].text), &character),
                      utf8[_i].used);
}
END_TEST

START_TEST(a_text_is_shortened_at_a_whole_character)
{
    ck_assert_uint_eq(lamp_utf8_fit("a\xc3\xa9z", 4, 2), 1);
    ck_assert_uint_eq(lamp_utf8_fit("a\xc3\xa9z", 4, 3), 3);
    ck_assert_uint_eq(lamp_utf8_fit("a\xc3\xa9z", 4, 9), 4);
}
END_TEST

START_TEST(an_arena_gives_zeroed_aligned_memory_up_to_its_ceiling)
{
    struct lamp_arena arena = {.ceiling = 100000};
    size_t total = 0;
    for (size_t size = 1; size < 400; size += 7) {
        unsigned char *taken = lamp_arena_take(&arena, size);
        ck_assert_ptr_nonnull(taken);
        ck_assert_uint_eq((uintptr_t)taken % sizeof(long double), 0);
        for (size_t i = 0; i < size; i++) {
            ck_assert_uint_eq(taken[i], 0);
        }
        memset(taken, 0xff, size);
        total += size;
    }
    ck_assert_ptr_null(lamp_arena_take(&arena, 100000 - total));
    ck_assert_ptr_null(lamp_arena_take(&arena, SIZE_MAX));
    ck_assert_ptr_null(lamp_arena_take_row(&arena, SIZE_MAX / 2, 4));
    lamp_arena_fini(&arena);
    ck_assert_uint_eq(arena.total, 0);
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("base_quantity");
    tcase_add_loop_test(tests, a_quantity_is_read_with_its_prefix_taken_in, 0, COUNT(good));
    tcase_add_loop_test(tests, a_quantity_that_is_none_is_refused_and_the_output_left_alone, 0,
                        COUNT(bad));
    tcase_add_loop_test(tests, a_comparison_lets_pass_what_it_says, 0, COUNT(compared));
    tcase_add_loop_test(tests, a_comparison_that_is_none_is_refused_at_its_byte, 0, COUNT(wrong));
    tcase_add_test(tests, a_word_begins_with_a_letter);
    tcase_add_loop_test(tests, utf8_is_told_from_what_is_none, 0, COUNT(utf8));
    tcase_add_test(tests, a_text_is_shortened_at_a_whole_character);
    tcase_add_test(tests, an_arena_gives_zeroed_aligned_memory_up_to_its_ceiling);
    return suite_end();
}
