/* report_entry.c - The entry offered for an unknown rhythm is one that a codebook takes. */
/* layers: base report rhythm codebook light finding */
#include "report/entry.h"

#include <string.h>

#include "lampread/codebook.h"
#include "support/suite.h"
#include "unit/report_support.h"

static const char head[] = "book: tern-t2\n"
                           "board: Tern T2 (invented)\n"
                           "source: invented for this test\n"
                           "lamps:\n"
                           "  status: {colour: green, shows: processor}\n"
                           "codes:\n";

START_TEST(the_entry_reads_back_to_the_pattern_that_was_seen)
{
    struct made_report made;
    make_report(&made);
    struct lamp_text text = {0};
    lamp_text_add(&text, "%s", head);
    lamp_entry_write(&made.lamp, 2, &text);
    struct lamp_book *book = NULL;
    struct lamp_error error = {.place = "", .sentence = ""};
    enum lamp_err answer = lamp_book_parse(text.at, text.length, "pasted.yaml", &book, &error);
    ck_assert_msg(answer == LAMP_OK, "%s: %s in:\n%s", error.place, error.sentence, text.at);
    ck_assert_uint_eq(book->code_count, 1);
    ck_assert(lamp_pattern_equal(&book->code[0].pattern, &made.lamp.rhythm.pattern));
    ck_assert_str_eq(book->code[0].lamp, "status");
    ck_assert_int_eq(book->code[0].timing.short_ns, 200 * MS);
    ck_assert_int_eq(book->code[0].timing.rest_ns, 1800 * MS);
    lamp_book_free(book);
    lamp_text_fini(&text);
}
END_TEST

START_TEST(a_lamp_that_the_book_does_not_name_is_left_out)
{
    struct made_report made;
    make_report(&made);
    (void)snprintf(made.lamp.name, sizeof made.lamp.name, "lamp-1");
    struct lamp_text text = {0};
    lamp_entry_write(&made.lamp, 2, &text);
    ck_assert_ptr_null(strstr(text.at, "lamp:"));
    lamp_text_fini(&text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {the_entry_reads_back_to_the_pattern_that_was_seen,
                                  a_lamp_that_the_book_does_not_name_is_left_out};
    return suite_run("entry", tests, sizeof tests / sizeof tests[0]);
}
