/* codebook_limits.c - Books made to hurt are refused in little time and memory. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "base/text.h"
#include "lampread/codebook.h"
#include "support/suite.h"

enum { SECONDS_MAX = 10, RESIDENT_KB_MAX = 512 * 1024 };

#define HEAD "book: b\nboard: B\nsource: ours\n"

static struct lamp_error refused(const struct lamp_text *text)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    struct rusage usage;
    ck_assert(!text->failed);
    ck_assert_int_eq(lamp_book_parse(text->at, text->length, "b", &book, &error), LAMP_BAD_BOOK);
    ck_assert_ptr_null(book);
    ck_assert_int_eq(getrusage(RUSAGE_SELF, &usage), 0);
    ck_assert_int_lt(usage.ru_maxrss, RESIDENT_KB_MAX);
    return error;
}

static void repeat(struct lamp_text *text, const char *what, int times)
{
    for (int i = 0; i < times; i++) {
        lamp_text_add(text, "%s", what);
    }
}

/* Each line names the one above ten times: a million million lamps, if they were ever unfolded. */
START_TEST(an_alias_bomb_is_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, HEAD "codes:\n- {id: a, pattern: flicker, means: A, check: &a0 [x, x, x, "
                              "x, x, x, x, x, x, x]}\n");
    for (int i = 1; i < 13; i++) {
        lamp_text_add(&text, "- {id: b%d, pattern: flicker, means: A, check: &a%d [", i, i);
        for (int k = 0; k < 10; k++) {
            lamp_text_add(&text, "%s*a%d", k == 0 ? "" : ", ", i - 1);
        }
        lamp_text_add(&text, "]}\n");
    }
    struct lamp_error error = refused(&text);
    ck_assert_str_eq(error.sentence, "an item of check is a list, expected text");
    lamp_text_fini(&text);
}
END_TEST

/* Long lists shared by many codes: each share is copied, up to the ceiling. */
START_TEST(a_broad_alias_bomb_is_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, HEAD "codes:\n- {id: a, pattern: flicker, means: &m \"");
    repeat(&text, "0123456789abcdef", 256);
    lamp_text_add(&text, "\", check: &c [*m");
    repeat(&text, ", *m", 63);
    lamp_text_add(&text, "]}\n");
    for (int i = 0; i < 4000; i++) {
        lamp_text_add(&text, "- {id: b%d, pattern: flicker, means: *m, check: *c, suspect: *c}\n",
                      i);
    }
    struct lamp_book *book = NULL;
    struct rusage usage;
    ck_assert_int_eq(lamp_book_parse(text.at, text.length, "b", &book, NULL), LAMP_NO_MEMORY);
    ck_assert_int_eq(getrusage(RUSAGE_SELF, &usage), 0);
    ck_assert_int_lt(usage.ru_maxrss, RESIDENT_KB_MAX);
    lamp_text_fini(&text);
}
END_TEST

START_TEST(deep_nesting_is_refused)
{
    static const char *const openers[] = {"[", "{", "{a: ", "- ", "? ", "[a, "};
    for (size_t i = 0; i < sizeof openers / sizeof openers[0]; i++) {
        struct lamp_text text = {0};
        repeat(&text, openers[i], 100000);
        struct lamp_error error = refused(&text);
        ck_assert_str_eq(error.sentence,
                         "lists and keys are nested too deeply, expected at most 16 levels");
        lamp_text_fini(&text);
    }
}
END_TEST

START_TEST(more_codes_than_the_ceiling_are_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, HEAD "codes:\n");
    repeat(&text, "- {}\n", 100000);
    struct lamp_error error = refused(&text);
    ck_assert_str_eq(error.sentence, "'codes' has 100000 members, expected at most 4096");
    lamp_text_fini(&text);
}
END_TEST

START_TEST(more_values_than_the_ceiling_are_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, HEAD "codes:\n");
    repeat(&text, "- 1\n", 300000);
    ck_assert_str_eq(refused(&text).sentence,
                     "the file holds too many values, expected at most 262144");
    lamp_text_fini(&text);
    repeat(&text, "[", LAMP_BOOK_BYTES_MAX);
    ck_assert_str_eq(refused(&text).sentence,
                     "the file holds too many values, expected at most 262144");
    lamp_text_fini(&text);
    lamp_text_add(&text, "[");
    repeat(&text, "a,", LAMP_BOOK_BYTES_MAX / 2 - 1);
    ck_assert_str_eq(refused(&text).sentence,
                     "the file holds too many values, expected at most 262144");
    lamp_text_fini(&text);
}
END_TEST

START_TEST(more_keys_lamps_and_anchors_than_the_ceiling_are_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, HEAD "lamps:\n");
    for (int i = 0; i < 100000; i++) {
        lamp_text_add(&text, "  l%d: {}\n", i);
    }
    lamp_text_add(&text, "codes: []\n");
    ck_assert_str_eq(refused(&text).sentence, "'lamps' has 100000 members, expected at most 64");
    lamp_text_fini(&text);
    for (int i = 0; i < 100000; i++) {
        lamp_text_add(&text, "k%d: v\n", i);
    }
    ck_assert_str_eq(refused(&text).place, "b:1:1");
    lamp_text_fini(&text);
    lamp_text_add(&text, "a:\n");
    for (int i = 0; i < 100000; i++) {
        lamp_text_add(&text, "- &a%d x\n", i);
    }
    ck_assert_str_eq(refused(&text).sentence,
                     "the file holds too many anchors, expected at most 64");
    lamp_text_fini(&text);
}
END_TEST

START_TEST(a_file_larger_than_the_ceiling_is_refused)
{
    struct lamp_text text = {0};
    repeat(&text, "# sixteen bytes.\n", LAMP_BOOK_BYTES_MAX / 17 + 1);
    ck_assert_str_eq(refused(&text).sentence,
                     "the file is larger than 4194304 bytes, expected a codebook");
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_book_open("/dev/zero", &book, &error), LAMP_BAD_BOOK);
    ck_assert_str_eq(error.sentence, "the file is larger than 4194304 bytes, expected a codebook");
    lamp_text_fini(&text);
}
END_TEST

START_TEST(long_texts_are_refused)
{
    struct lamp_text text = {0};
    lamp_text_add(&text, "book: b\nsource: s\ncodes: []\nboard: ");
    repeat(&text, "long ", 800000);
    ck_assert_str_eq(refused(&text).sentence, "board has 3999999 bytes, expected at most 4096");
    lamp_text_fini(&text);
    lamp_text_add(&text, HEAD "codes:\n- {id: a, means: A, pattern: \"");
    repeat(&text, "1 long 1 short ", 273);
    lamp_text_add(&text, "\"}\n");
    ck_assert_str_eq(refused(&text).sentence,
                     "unexpected '1', expected at most 128 flashes and pauses in a pattern");
    lamp_text_fini(&text);
    lamp_text_add(&text, "\"");
    repeat(&text, "\\x41", 1000000);
    ck_assert_str_eq(refused(&text).place, "b:1:2");
    lamp_text_fini(&text);
}
END_TEST

START_TEST(the_largest_book_is_read_and_its_clashes_are_counted)
{
    struct lamp_text text = {0};
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    lamp_text_add(&text, HEAD
                  "timing: {short: 1 s, long: 3 s, gap: 1 s, pause: 2 s, rest: 4 s}\ncodes:\n");
    for (int i = 0; i < LAMP_BOOK_CODES_MAX; i++) {
        lamp_text_add(&text, "- {id: c%d, means: C, pattern: %d short %d long 1 short}\n", i,
                      i % 64 + 1, i / 64 % 32 + 1);
    }
    ck_assert_msg(lamp_book_parse(text.at, text.length, "b", &book, &error) == LAMP_OK, "%s: %s",
                  error.place, error.sentence);
    ck_assert_uint_eq(book->code_count, LAMP_BOOK_CODES_MAX);
    /* The second half repeats the first. */
    ck_assert_uint_eq(lamp_book_clashes(book, 30, NULL, 0), LAMP_BOOK_CODES_MAX / 2);
    lamp_book_free(book);
    lamp_text_fini(&text);
}
END_TEST

int main(void)
{
    TCase *tests = suite_begin("codebook_limits");
    tcase_set_timeout(tests, SECONDS_MAX);
    tcase_add_test(tests, an_alias_bomb_is_refused);
    tcase_add_test(tests, a_broad_alias_bomb_is_refused);
    tcase_add_test(tests, deep_nesting_is_refused);
    tcase_add_test(tests, more_codes_than_the_ceiling_are_refused);
    tcase_add_test(tests, more_values_than_the_ceiling_are_refused);
    tcase_add_test(tests, more_keys_lamps_and_anchors_than_the_ceiling_are_refused);
    tcase_add_test(tests, a_file_larger_than_the_ceiling_is_refused);
    tcase_add_test(tests, long_texts_are_refused);
    tcase_add_test(tests, the_largest_book_is_read_and_its_clashes_are_counted);
    return suite_end();
}
