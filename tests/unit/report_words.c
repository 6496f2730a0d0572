/* report_words.c - Numbers and verdicts in words. */
/* layers: base report rhythm codebook light finding */
#include "report/words.h"

#include <locale.h>
#include <stdlib.h>
#include <string.h>

#include "report/page.h"
#include "support/suite.h"

START_TEST(times_are_told_in_three_figures_with_their_unit)
{
    static const struct {
        double s;
        const char *text;
    } rows[] = {{0.2037, "204 ms"}, {0.0041, "4.1 ms"}, {1.789, "1.79 s"},  {14.2, "14.2 s"},
                {0.9999, "1 s"},    {119.9, "120 s"},   {125, "2 min 5 s"}, {0, "0 ms"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[32];
        lamp_words_time(rows[i].s, text, sizeof text);
        ck_assert_str_eq(text, rows[i].text);
    }
}
END_TEST

START_TEST(no_confidence_is_rounded_up_to_certainty)
{
    static const struct {
        double share;
        const char *text;
    } rows[] = {{0.998, "99.8 %"},       {0.9994, "over 99.9 %"}, {1, "over 99.9 %"},
                {0.9999, "over 99.9 %"}, {0.899, "89 %"},         {0.0004, "under 0.1 %"},
                {0.5, "50 %"},           {0.004, "0.4 %"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[32];
        lamp_words_percent(rows[i].share, text, sizeof text);
        ck_assert_str_eq(text, rows[i].text);
    }
}
END_TEST

START_TEST(every_lack_but_none_has_a_sentence)
{
    ck_assert_str_eq(lamp_words_lack(LAMP_LACK_NOTHING), "");
    for (int i = LAMP_LACK_LENGTH; i <= LAMP_LACK_FRAMES; i++) {
        ck_assert_uint_gt(strlen(lamp_words_lack((enum lamp_lack)i)), 20);
    }
}
END_TEST

START_TEST(every_verdict_has_words)
{
    for (int i = LAMP_VERDICT_STEADY_ON; i <= LAMP_VERDICT_UNDECIDED; i++) {
        struct lamp_report_lamp lamp = {.match = {.verdict = (enum lamp_verdict)i}};
        struct lamp_text text = {0};
        lamp_words_verdict(&lamp, &text);
        ck_assert_uint_gt(text.length, 0);
        lamp_text_fini(&text);
    }
}
END_TEST

START_TEST(a_measured_blink_is_written_in_round_numbers)
{
    const struct lamp_pattern pattern = {
        .kind = LAMP_PATTERN_BLINK, .rate_hz = 1.02941176, .duty = 0.405294118};
    char notation[LAMP_NOTATION_MAX];
    lamp_words_pattern(&pattern, notation);
    ck_assert_str_eq(notation, "blink 1.03 Hz 41 %");
}
END_TEST

START_TEST(a_file_name_cannot_drive_the_terminal)
{
    static const struct {
        const char *text;
        const char *plain;
    } rows[] = {{"a\033[2Jb", "a?[2Jb"},
                {"a\nb\x7f", "a?b?"},
                {"caf\xc3\xa9", "caf\xc3\xa9"},
                {"caf\xe9", "caf?"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lamp_text text = {0};
        lamp_words_plain(rows[i].text, &text);
        ck_assert_str_eq(text.at, rows[i].plain);
        lamp_text_fini(&text);
    }
}
END_TEST

START_TEST(long_text_wraps_beside_its_label)
{
    struct lamp_page page = {.width = 40};
    lamp_page_item(&page, "next", "one two three four five six seven eight nine ten");
    ck_assert_str_eq(page.text.at, "  next      one two three four five six\n"
                                   "            seven eight nine ten\n");
    lamp_text_fini(&page.text);
}
END_TEST

START_TEST(a_percent_sign_stays_with_its_number)
{
    struct lamp_page page = {.width = 40};
    lamp_page_item(&page, "", "aaaaaaaaaaaaaaaaaaaaaaaa 50 % b");
    ck_assert_str_eq(page.text.at, "            aaaaaaaaaaaaaaaaaaaaaaaa\n"
                                   "            50 % b\n");
    lamp_text_fini(&page.text);
}
END_TEST

START_TEST(a_word_longer_than_the_line_is_kept_whole)
{
    struct lamp_page page = {.width = 40};
    lamp_page_item(&page, "", "short aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa short");
    ck_assert_ptr_nonnull(
        strstr(page.text.at, " aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\n"));
    lamp_text_fini(&page.text);
}
END_TEST

START_TEST(columns_are_characters_not_bytes)
{
    ck_assert_int_eq(lamp_page_columns("\xc3\xa9\xe2\x96\x88x", 6), 3);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {times_are_told_in_three_figures_with_their_unit,
                                  no_confidence_is_rounded_up_to_certainty,
                                  every_lack_but_none_has_a_sentence,
                                  every_verdict_has_words,
                                  a_measured_blink_is_written_in_round_numbers,
                                  a_file_name_cannot_drive_the_terminal,
                                  long_text_wraps_beside_its_label,
                                  a_percent_sign_stays_with_its_number,
                                  a_word_longer_than_the_line_is_kept_whole,
                                  columns_are_characters_not_bytes};
    return suite_run("words", tests, sizeof tests / sizeof tests[0]);
}
