/* report_text.c - The report for people: the verdict first, nothing untold, every line within its
 * width. */
/* layers: base report rhythm codebook light finding */
#include <string.h>

#include "report/page.h"
#include "support/suite.h"
#include "unit/report_support.h"

static void assert_has(const char *text, const char *part)
{
    ck_assert_msg(strstr(text, part) != NULL, "'%s' is not in:\n%s", part, text);
}

static void assert_lacks(const char *text, const char *part)
{
    ck_assert_msg(strstr(text, part) == NULL, "'%s' is in:\n%s", part, text);
}

START_TEST(the_first_line_is_the_verdict)
{
    struct made_report made;
    make_report(&made);
    char *text = text_of(&made, 100, false);
    const char first[] = "status (green, at 318,147): code 2 long 1 short - sure (99.8 %)\n";
    ck_assert_int_eq(strncmp(text, first, sizeof first - 1), 0);
    free(text);
}
END_TEST

START_TEST(meaning_suspects_checks_and_cautions_are_told)
{
    struct made_report made;
    make_report(&made);
    char *text = text_of(&made, 100, false);
    assert_has(text, "Memory test failed [tern-t2: memory]");
    assert_has(text, "memory module, module socket");
    assert_has(text, "1. Reseat the module");
    assert_has(text, "2. Fit a module known to be good");
    assert_has(text, "short 201 ms, long 603 ms, gap 199 ms, rest 1.79 s; 3 of 3 repeats alike");
    struct lamp_strings cautions = lamp_cautions();
    ck_assert_uint_gt(cautions.count, 0);
    assert_has(text, "\n  care      ");
    free(text);
}
END_TEST

START_TEST(an_unlisted_rhythm_is_told_with_its_nearest_entries_and_an_entry_to_paste)
{
    struct made_report made;
    make_report(&made);
    make_unlisted(&made);
    char *text = text_of(&made, 100, false);
    assert_has(text, "status (green, at 318,147): repeats 2 long 1 short");
    assert_has(text, "against it: 3rd flash missing");
    assert_has(text, "- id: seen-2-long-1-short\n");
    assert_has(text, "pattern: \"2 long 1 short\"\n");
    assert_lacks(text, "[tern-t2: memory]");
    free(text);
}
END_TEST

START_TEST(flicker_is_called_no_code_and_activity_is_allowed_for)
{
    struct made_report made;
    make_report(&made);
    made.lamp.rhythm.pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_FLICKER};
    made.lamp.rhythm.edges_per_s = 7.25;
    made.lamp.shape.sample_count = 426;
    made.lamp.shape.percent_flicker = 62;
    made.lamp.shape.flicker_index = 0.314;
    made.lamp.match = (struct lamp_match){.verdict = LAMP_VERDICT_FLICKER, .confidence = 0.97};
    char *text = text_of(&made, 100, false);
    assert_has(text, "not a code");
    assert_has(text, "7.3 changes a second, percent flicker 62 %, flicker index 0.31");
    assert_has(text, "unless storage or network traffic explains it");
    free(text);
}
END_TEST

START_TEST(undecided_says_what_is_missing_and_claims_no_confidence)
{
    struct made_report made;
    make_report(&made);
    made.lamp.match.verdict = LAMP_VERDICT_UNDECIDED;
    made.lamp.match.has_entry = false;
    made.lamp.match.lack = LAMP_LACK_REPEAT;
    char *text = text_of(&made, 100, false);
    assert_has(text, "status (green, at 318,147): undecided, perhaps 2 long 1 short\n");
    assert_has(text, "one more repeat is missing");
    assert_has(text, "so far");
    free(text);
}
END_TEST

START_TEST(without_a_book_entries_are_named_as_shipped_ones)
{
    struct made_report made;
    make_report(&made);
    make_unlisted(&made);
    made.report.has_book = false;
    made.lamp.match.candidate_count = 1;
    char *text = text_of(&made, 100, false);
    assert_has(text, "  also in   tern-t2: memory, \"Memory test failed\"");
    made.lamp.match.candidate_count = 0;
    free(text);
    text = text_of(&made, 100, false);
    assert_has(text, "no codebook that was found");
    free(text);
}
END_TEST

START_TEST(no_lamp_is_said_in_the_first_line)
{
    struct made_report made;
    make_report(&made);
    made.report.lamp_count = 0;
    char *text = text_of(&made, 100, false);
    ck_assert_int_eq(strncmp(text, "No lamp seen\n", 13), 0);
    free(text);
}
END_TEST

START_TEST(colour_is_written_only_where_it_is_wanted)
{
    struct made_report made;
    make_report(&made);
    char *plain = text_of(&made, 80, false);
    char *coloured = text_of(&made, 80, true);
    ck_assert_ptr_null(strchr(plain, '\033'));
    ck_assert_ptr_nonnull(strchr(coloured, '\033'));
    free(plain);
    free(coloured);
}
END_TEST

/* The longest line of a text, in columns. */
static int widest(const char *text)
{
    int most = 0;
    while (*text != '\0') {
        size_t size = strcspn(text, "\n");
        int columns = lamp_page_columns(text, size);
        most = columns > most ? columns : most;
        text += size + (text[size] == '\n');
    }
    return most;
}

START_TEST(every_line_keeps_within_the_width)
{
    for (int width = 60; width <= 140; width += 5) {
        struct made_report made;
        make_report(&made);
        char *text = text_of(&made, width, false);
        ck_assert_msg(widest(text) <= width, "%d columns are too many for %d:\n%s", widest(text),
                      width, text);
        free(text);
    }
}
END_TEST

START_TEST(a_full_device_is_reported)
{
    FILE *full = fopen("/dev/full", "w");
    if (full == NULL) {
        (void)printf("skipped: there is no /dev/full here\n");
        return;
    }
    struct made_report made;
    make_report(&made);
    const struct lamp_text_rules rules = {.width = 80};
    ck_assert_int_eq(lamp_report_write_text(&made.report, &rules, full), LAMP_CANNOT_WRITE);
    ck_assert_int_eq(lamp_report_write_json(&made.report, full), LAMP_CANNOT_WRITE);
    (void)fclose(full);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        the_first_line_is_the_verdict,
        meaning_suspects_checks_and_cautions_are_told,
        an_unlisted_rhythm_is_told_with_its_nearest_entries_and_an_entry_to_paste,
        flicker_is_called_no_code_and_activity_is_allowed_for,
        undecided_says_what_is_missing_and_claims_no_confidence,
        without_a_book_entries_are_named_as_shipped_ones,
        no_lamp_is_said_in_the_first_line,
        colour_is_written_only_where_it_is_wanted,
        every_line_keeps_within_the_width,
        a_full_device_is_reported};
    return suite_run("text", tests, sizeof tests / sizeof tests[0]);
}
