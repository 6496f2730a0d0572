/* report_strip.c - The timing strip is to scale and can be counted. */
/* layers: base report rhythm codebook light finding */
#include "report/strip.h"

#include <stdio.h>
#include <string.h>

#include "support/suite.h"
#include "unit/report_support.h"

static bool draw(const struct lamp_length *length, size_t count, const struct lamp_rhythm *rhythm,
                 int columns, bool is_ascii, struct lamp_strip *out)
{
    const struct lamp_strip_rules rules = {.columns = columns, .is_ascii = is_ascii};
    return lamp_strip_draw(&rules, length, count, rhythm, out);
}

static size_t count_runs(const char *light, char lit)
{
    size_t runs = 0;
    for (size_t i = 0; light[i] != '\0'; i++) {
        runs += light[i] == lit && (i == 0 || light[i - 1] != lit);
    }
    return runs;
}

static size_t count_char(const char *text, char wanted)
{
    size_t count = 0;
    for (; *text != '\0'; text++) {
        count += *text == wanted;
    }
    return count;
}

START_TEST(every_flash_of_the_repeats_shown_can_be_counted)
{
    struct made_report made;
    make_report(&made);
    struct lamp_strip strip;
    ck_assert(draw(made.length, made.lamp.length_count, &made.lamp.rhythm, 60, true, &strip));
    ck_assert_uint_le(strlen(strip.light), 60);
    ck_assert_uint_eq(count_runs(strip.light, '#'), 6);
    ck_assert_uint_eq(count_char(strip.marks, 'L'), 4);
    ck_assert_ptr_nonnull(strstr(strip.marks, "rest"));
}
END_TEST

START_TEST(equal_flashes_look_equal)
{
    struct made_report made;
    make_report(&made);
    for (int columns = 20; columns < 200; columns++) {
        struct lamp_strip strip;
        ck_assert(
            draw(made.length, made.lamp.length_count, &made.lamp.rhythm, columns, true, &strip));
        const char *first = strstr(strip.light, "#");
        size_t width = strspn(first, "#");
        const char *second = first + width + strspn(first + width, "_");
        int difference = (int)strspn(second, "#") - (int)width;
        ck_assert_msg(abs(difference) <= (width > 6 ? 1 : 0), "%d columns: %s", columns,
                      strip.light);
    }
}
END_TEST

START_TEST(the_strip_begins_at_the_start_of_a_repeat_where_there_is_room)
{
    struct made_report made;
    make_report(&made);
    struct lamp_strip strip;
    ck_assert(draw(made.length, made.lamp.length_count, &made.lamp.rhythm, 40, true, &strip));
    ck_assert_int_eq(strip.light[0], '#');
    ck_assert_int_eq((strip.start_ns - 500 * MS) % (3595 * MS), 0);
}
END_TEST

START_TEST(lit_and_dark_take_columns_in_proportion)
{
    struct made_report made = {.lamp = {.length_count = 0}};
    add_length(&made, 1000, true);
    add_length(&made, 3000, false);
    const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNDECIDED};
    struct lamp_strip strip;
    ck_assert(draw(made.length, 2, &rhythm, 40, true, &strip));
    ck_assert_uint_eq(count_char(strip.light, '#'), 10);
    ck_assert_uint_eq(count_char(strip.light, '_'), 30);
}
END_TEST

START_TEST(a_flash_too_short_for_a_column_still_shows)
{
    struct made_report made = {.lamp = {.length_count = 0}};
    const int64_t ms[] = {3000, 3000, 3000, 1, 3000, 3000, 3000};
    for (size_t i = 0; i < 7; i++) {
        add_length(&made, ms[i], i % 2 == 1);
    }
    made.length[0].cut_before = true;
    made.length[6].cut_after = true;
    const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNDECIDED};
    struct lamp_strip strip;
    ck_assert(draw(made.length, 7, &rhythm, 40, true, &strip));
    ck_assert_uint_eq(count_runs(strip.light, '#'), 3);
}
END_TEST

START_TEST(time_out_of_sight_is_left_blank)
{
    struct made_report made = {.lamp = {.length_count = 0}};
    add_length(&made, 1000, true);
    add_length(&made, 1000, true);
    made.length[0].cut_after = true;
    made.length[1].cut_before = true;
    made.length[1].start_ns = 3000 * MS;
    const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNDECIDED};
    struct lamp_strip strip;
    ck_assert(draw(made.length, 2, &rhythm, 40, true, &strip));
    ck_assert_uint_eq(count_char(strip.light, ' '), 20);
    ck_assert_uint_eq(count_char(strip.light, '_'), 0);
}
END_TEST

START_TEST(nothing_seen_draws_nothing)
{
    struct lamp_strip strip = {.span_ns = 42};
    const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNDECIDED};
    ck_assert(!draw(NULL, 0, &rhythm, 40, true, &strip));
    ck_assert_int_eq(strip.span_ns, 42);
}
END_TEST

START_TEST(any_width_keeps_within_the_strip)
{
    struct made_report made;
    make_report(&made);
    const int widths[] = {-5, 0, 8, 9, 79, 240, 100000};
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++) {
        struct lamp_strip strip;
        ck_assert(
            draw(made.length, made.lamp.length_count, &made.lamp.rhythm, widths[i], false, &strip));
        ck_assert_uint_le(strlen(strip.light), sizeof strip.light - 1);
        ck_assert_uint_le(strlen(strip.marks), LAMP_STRIP_COLUMNS_MAX);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {every_flash_of_the_repeats_shown_can_be_counted,
                                  equal_flashes_look_equal,
                                  the_strip_begins_at_the_start_of_a_repeat_where_there_is_room,
                                  lit_and_dark_take_columns_in_proportion,
                                  a_flash_too_short_for_a_column_still_shows,
                                  time_out_of_sight_is_left_blank,
                                  nothing_seen_draws_nothing,
                                  any_width_keeps_within_the_strip};
    return suite_run("strip", tests, sizeof tests / sizeof tests[0]);
}
