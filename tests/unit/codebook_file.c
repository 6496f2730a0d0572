/* codebook_file.c - A book is read whole; a broken one is refused at its line and column. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "lampread/codebook.h"
#include "support/suite.h"

#define MS(x) ((int64_t)(x)*1000000)

/* A whole book of seven lines; the broken ones add to it or leave something out. */
#define HEAD   "book: b\nboard: B\nsource: ours\n"
#define LAMPS  "lamps: {power: {colour: red}, status: {}}\n"
#define TIMING "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms}\n"
#define CODE   "- {id: a, lamp: status, pattern: 1 short, means: A}\n"
#define CODES  "codes:\n" CODE
#define WHOLE  HEAD LAMPS TIMING CODES

static const struct {
    const char *text;
    const char *place;
    const char *sentence;
} broken[] = {
#include "codebook_broken.h"
};

static struct lamp_book *read_text(const char *text)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    enum lamp_err err = lamp_book_parse(text, strlen(text), "b.yaml", &book, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    return book;
}

START_TEST(a_broken_book_is_refused_where_it_is_broken)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    enum lamp_err err =
        lamp_book_parse(broken[_i].text, strlen(broken[_i].text), "b.yaml", &book, &error);
    ck_assert_msg(err == LAMP_BAD_BOOK, "read: %s", broken[_i].text);
    ck_assert_ptr_null(book);
    ck_assert_str_eq(error.sentence, broken[_i].sentence);
    ck_assert_str_eq(error.place, broken[_i].place);
}
END_TEST

/* Any beginning of a book is refused with one line at a place, or is a book. */
START_TEST(a_book_cut_anywhere_is_read_or_refused)
{
    static const char text[] =
        WHOLE "- &x {id: \"b\\n\", pattern: 'on 1 s, off 2 s', means: |\n  two\n  lines\n  }\n"
              "findings:\n- when: {status: flicker, current: \"> 0.4 A\"}\n  suspect: [a, b]\n";
    int refused = 0;
    for (size_t size = 0; size < sizeof text; size++) {
        struct lamp_book *book = NULL;
        struct lamp_error error = {0};
        enum lamp_err err = lamp_book_parse(text, size, "cut", &book, &error);
        ck_assert(err == LAMP_OK || (err == LAMP_BAD_BOOK && book == NULL));
        ck_assert(err == LAMP_OK ||
                  (strncmp(error.place, "cut:", 4) == 0 && error.sentence[0] != '\0'));
        refused += err != LAMP_OK;
        lamp_book_free(book);
    }
    ck_assert_int_gt(refused, 200);
}
END_TEST

START_TEST(every_field_of_a_book_is_read)
{
    struct lamp_book *book = read_text(
        "book: h-1\nboard: Board (invented)\nsource: ours\n"
        "lamps:\n  power: {colour: amber, shows: 3.3 V rail}\n  status: {colour: green}\n"
        "timing: {short: 200 ms, long: 0.6 s, gap: 200ms, pause: 700 ms, rest: 1.8 s, tolerance: "
        "20 %}\n"
        "codes:\n"
        "  - id: one\n    lamp: status\n    pattern: 2 long 3 short\n    means: One\n    basis: "
        "read\n"
        "    suspect: [card, socket]\n    check: Fit a card\n    tolerance: 10 %\n    timing: "
        "{short: 100 ms}\n"
        "  - {id: two, pattern: steady on, means: Two}\n"
        "findings:\n"
        "  - when: {power: steady-on, status: one, 3V3-to-ground: \"<= 5 ohm\", storage: none}\n"
        "    suspect: rail\n    check: [a, b]\n    caution: [hot]\n");
    ck_assert_str_eq(book->id, "h-1");
    ck_assert_str_eq(book->board, "Board (invented)");
    ck_assert_str_eq(book->source, "ours");
    ck_assert_str_eq(book->file, "b.yaml");
    ck_assert_uint_eq(book->lamp_count, 2);
    ck_assert_str_eq(book->lamp[0].name, "power");
    ck_assert_int_eq(book->lamp[0].colour, LAMP_COLOUR_ORANGE);
    ck_assert_str_eq(book->lamp[0].shows, "3.3 V rail");
    ck_assert_int_eq(book->lamp[1].colour, LAMP_COLOUR_GREEN);
    ck_assert_ptr_null(book->lamp[1].shows);
    ck_assert_int_eq(book->timing.long_ns, MS(600));
    ck_assert_int_eq(book->timing.rest_ns, MS(1800));
    ck_assert_double_eq(book->tolerance, 0.2);
    ck_assert_uint_eq(book->code_count, 2);
    const struct lamp_code *one = &book->code[0];
    ck_assert_str_eq(one->id, "one");
    ck_assert_str_eq(one->lamp, "status");
    ck_assert_str_eq(one->means, "One");
    ck_assert_str_eq(one->basis, "read");
    ck_assert_int_eq(one->pattern.kind, LAMP_PATTERN_GROUPS);
    ck_assert_int_eq(one->timing.short_ns, MS(100));
    ck_assert_int_eq(one->timing.long_ns, MS(600));
    ck_assert_uint_eq(one->wave.count, 10);
    ck_assert_int_eq(one->wave.length_ns[4], MS(100));
    ck_assert_double_eq(one->tolerance, 0.1);
    ck_assert_uint_eq(one->suspect.count, 2);
    ck_assert_str_eq(one->suspect.at[1], "socket");
    ck_assert_uint_eq(one->check.count, 1);
    ck_assert_str_eq(one->check.at[0], "Fit a card");
    ck_assert_int_eq(one->line, 9);
    const struct lamp_code *two = &book->code[1];
    ck_assert_ptr_null(two->lamp);
    ck_assert_ptr_null(two->basis);
    ck_assert_uint_eq(two->wave.count, 0);
    ck_assert_double_eq(two->tolerance, 0.2);
    ck_assert_uint_eq(book->finding_count, 1);
    const struct lamp_finding_rule *finding = &book->finding[0];
    ck_assert_uint_eq(finding->condition_count, 4);
    ck_assert(finding->condition[0].is_lamp && finding->condition[1].is_lamp);
    ck_assert(!finding->condition[2].is_lamp && !finding->condition[3].is_lamp);
    ck_assert_str_eq(finding->condition[2].key, "3V3-to-ground");
    ck_assert_str_eq(finding->condition[2].value, "<= 5 ohm");
    ck_assert_str_eq(finding->suspect.at[0], "rail");
    ck_assert_uint_eq(finding->check.count, 2);
    ck_assert_str_eq(finding->caution.at[0], "hot");
    lamp_book_free(book);
}
END_TEST

START_TEST(a_book_without_lamps_and_timing_has_the_usual_tolerance)
{
    struct lamp_book *book = read_text(HEAD "codes:\n- {id: a, pattern: blink 1 Hz, means: A}\n");
    ck_assert_uint_eq(book->lamp_count, 0);
    ck_assert_double_eq(book->code[0].tolerance, 0.25);
    ck_assert_int_eq(book->timing.short_ns, 0);
    lamp_book_free(book);
}
END_TEST

START_TEST(line_ends_and_the_byte_order_mark_of_other_systems_are_taken)
{
    struct lamp_book *book = read_text(
        "\xef\xbb\xbf"
        "book: b\r\nboard: B\r\nsource: s\r\ncodes:\r\n- {id: a, pattern: flicker, means: A}\r\n");
    ck_assert_str_eq(book->id, "b");
    ck_assert_int_eq(book->code[0].line, 5);
    lamp_book_free(book);
}
END_TEST

START_TEST(an_alias_is_what_it_names)
{
    struct lamp_book *book =
        read_text(HEAD "codes:\n- {id: a, pattern: flicker, means: &m Same, check: &c [x, y]}\n"
                       "- {id: b, pattern: steady on, means: *m, check: *c}\n");
    ck_assert_str_eq(book->code[1].means, "Same");
    ck_assert_str_eq(book->code[1].check.at[1], "y");
    lamp_book_free(book);
}
END_TEST

START_TEST(lines_of_a_text_are_joined)
{
    struct lamp_book *book = read_text(
        HEAD "codes:\n- id: a\n  pattern: >\n    2 short, pause,\n    1 long\n  means: |\n    Two\n"
             "    lines\n  timing: {short: 1 s, long: 2 s, gap: 1 s, pause: 2 s, rest: 3 s}\n");
    ck_assert_str_eq(book->code[0].means, "Two lines");
    ck_assert_uint_eq(book->code[0].pattern.count, 4);
    lamp_book_free(book);
}
END_TEST

START_TEST(a_long_file_name_keeps_its_line)
{
    char name[1000];
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    for (size_t i = 0; i + 2 < sizeof name; i += 2) {
        memcpy(name + i, "\xc3\xa9", 3);
    }
    ck_assert_int_eq(lamp_book_parse("a: 1", 4, name, &book, &error), LAMP_BAD_BOOK);
    ck_assert_str_eq(error.place + strlen(error.place) - 8, "\xc3\xa9\xc3\xa9:1:1");
    ck_assert_int_eq(strncmp(error.place, "...\xc3\xa9", 5), 0);
}
END_TEST

START_TEST(an_error_need_not_be_asked_for)
{
    struct lamp_book *book = NULL;
    ck_assert_int_eq(lamp_book_parse("a: [", 4, "b", &book, NULL), LAMP_BAD_BOOK);
    ck_assert_int_eq(lamp_book_open("/nonexistent/b.yaml", &book, NULL), LAMP_BAD_BOOK);
    lamp_book_free(NULL);
}
END_TEST

START_TEST(a_file_that_cannot_be_read_is_named)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_book_open("no/such.yaml", &book, &error), LAMP_BAD_BOOK);
    ck_assert_str_eq(error.place, "no/such.yaml");
    ck_assert_str_eq(error.sentence, "there is no such file, expected a codebook");
    ck_assert_int_eq(lamp_book_open("/", &book, &error), LAMP_BAD_BOOK);
    ck_assert_str_eq(error.sentence, "it is a folder, expected a codebook");
    ck_assert_ptr_null(book);
}
END_TEST

START_TEST(nothing_is_printed_about_a_broken_book)
{
    FILE *caught = tmpfile();
    struct lamp_book *book = NULL;
    ck_assert_ptr_nonnull(caught);
    (void)fflush(NULL);
    ck_assert_int_ne(dup2(fileno(caught), STDERR_FILENO), -1);
    ck_assert_int_ne(dup2(fileno(caught), STDOUT_FILENO), -1);
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++) {
        (void)lamp_book_parse(broken[i].text, strlen(broken[i].text), "b", &book, NULL);
    }
    (void)fflush(NULL);
    ck_assert_int_eq(fseek(caught, 0, SEEK_END), 0);
    ck_assert_int_eq(ftell(caught), 0);
    (void)fclose(caught);
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("codebook_file");
    tcase_add_loop_test(tests, a_broken_book_is_refused_where_it_is_broken, 0, COUNT(broken));
    tcase_add_test(tests, a_book_cut_anywhere_is_read_or_refused);
    tcase_add_test(tests, every_field_of_a_book_is_read);
    tcase_add_test(tests, a_book_without_lamps_and_timing_has_the_usual_tolerance);
    tcase_add_test(tests, line_ends_and_the_byte_order_mark_of_other_systems_are_taken);
    tcase_add_test(tests, an_alias_is_what_it_names);
    tcase_add_test(tests, lines_of_a_text_are_joined);
    tcase_add_test(tests, a_long_file_name_keeps_its_line);
    tcase_add_test(tests, an_error_need_not_be_asked_for);
    tcase_add_test(tests, a_file_that_cannot_be_read_is_named);
    tcase_add_test(tests, nothing_is_printed_about_a_broken_book);
    return suite_end();
}
