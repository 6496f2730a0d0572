/* source_rows.c - CSV by rows, with the examples of RFC 4180 section 2. */
/* layers: base source */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "source/rows.h"
#include "support/suite.h"

static struct lamp_rows rows;
static struct lamp_row row;
static FILE *file;

static void begin(const char *text, size_t size)
{
    file = tmpfile();
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(text, 1, size, file), size);
    rewind(file);
    lamp_rows_init(&rows, file, "t.csv");
}

static void expect_row(const char *const *fields, size_t count)
{
    struct lamp_error error;
    enum lamp_err err = lamp_rows_next(&rows, &row, &error);
    ck_assert_msg(err == LAMP_OK, "%d %s", err, err == LAMP_BAD_SOURCE ? error.sentence : "");
    ck_assert_uint_eq(row.field_count, count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_str_eq(row.field[i].text, fields[i]);
    }
}

static void expect_end(void)
{
    ck_assert_int_eq(lamp_rows_next(&rows, &row, NULL), LAMP_END);
    (void)fclose(file);
}

static void expect_fault(const char *place, const char *part)
{
    struct lamp_error error;
    ck_assert_int_eq(lamp_rows_next(&rows, &row, &error), LAMP_BAD_SOURCE);
    ck_assert_str_eq(error.place, place);
    ck_assert_msg(strstr(error.sentence, part) != NULL, "%s", error.sentence);
}

#define ROW(...)                                   \
    expect_row((const char *const[]){__VA_ARGS__}, \
               sizeof((const char *const[]){__VA_ARGS__}) / sizeof(const char *))

/* The texts of RFC 4180 section 2, in its order; CRLF stands for the bytes. */
START_TEST(the_examples_of_the_standard_are_read)
{
    static const char rule1[] = "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n";
    begin(rule1, sizeof rule1 - 1);
    ROW("aaa", "bbb", "ccc");
    ROW("zzz", "yyy", "xxx");
    expect_end();
    static const char rule2[] = "aaa,bbb,ccc\r\nzzz,yyy,xxx";
    begin(rule2, sizeof rule2 - 1);
    ROW("aaa", "bbb", "ccc");
    ROW("zzz", "yyy", "xxx");
    expect_end();
    static const char rule3[] =
        "field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n";
    begin(rule3, sizeof rule3 - 1);
    ROW("field_name", "field_name", "field_name");
    ROW("aaa", "bbb", "ccc");
    ROW("zzz", "yyy", "xxx");
    expect_end();
    static const char rule4[] = "aaa,bbb,ccc";
    begin(rule4, sizeof rule4 - 1);
    ROW("aaa", "bbb", "ccc");
    expect_end();
    static const char rule5[] = "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx";
    begin(rule5, sizeof rule5 - 1);
    ROW("aaa", "bbb", "ccc");
    ROW("zzz", "yyy", "xxx");
    expect_end();
    static const char rule6[] = "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx";
    begin(rule6, sizeof rule6 - 1);
    ROW("aaa", "b\r\nbb", "ccc");
    ck_assert_uint_eq(row.field[2].line, 2);
    ck_assert_int_eq(row.field[2].column, 5);
    ROW("zzz", "yyy", "xxx");
    ck_assert_uint_eq(row.field[0].line, 3);
    expect_end();
    static const char rule7[] = "\"aaa\",\"b\"\"bb\",\"ccc\"";
    begin(rule7, sizeof rule7 - 1);
    ROW("aaa", "b\"bb", "ccc");
    expect_end();
}
END_TEST

START_TEST(spaces_are_a_part_of_a_field_and_fields_may_be_empty)
{
    static const char text[] = " a , b\r\n,\r\n\"\",\"\"\r\n";
    begin(text, sizeof text - 1);
    ROW(" a ", " b");
    ROW("", "");
    ROW("", "");
    expect_end();
}
END_TEST

START_TEST(any_line_break_ends_a_row_and_empty_lines_are_passed_over)
{
    static const char text[] = "\n\r\na,b\n\nc,d\r\r\ne,f\r\n\n";
    begin(text, sizeof text - 1);
    ROW("a", "b");
    ck_assert_uint_eq(row.field[0].line, 3);
    ROW("c", "d");
    ck_assert_uint_eq(row.field[0].line, 5);
    ROW("e", "f");
    ck_assert_uint_eq(row.field[0].line, 7);
    ck_assert_int_eq(row.field[1].column, 3);
    expect_end();
}
END_TEST

START_TEST(a_byte_order_mark_is_no_part_of_the_first_field)
{
    static const char text[] = "\xef\xbb\xbf\"a\",b\n\xef\xbb\xbf"
                               "c,d";
    begin(text, sizeof text - 1);
    ROW("a", "b");
    ROW("\xef\xbb\xbf"
        "c",
        "d");
    expect_end();
}
END_TEST

START_TEST(a_broken_row_is_told_by_its_place_and_the_next_line_goes_on)
{
    static const char text[] = "a,b\nc\"d,e\n\"f\"g,h\ni,j\n\"k,l\nm,n\n";
    begin(text, sizeof text - 1);
    ROW("a", "b");
    expect_fault("t.csv:2:2", "a quote inside a field");
    expect_fault("t.csv:3:4", "after a closing quote");
    ROW("i", "j");
    expect_fault("t.csv:7:1", "closing quote is missing");
    ROW("m", "n");
    ck_assert_uint_eq(row.field[0].line, 6);
    expect_end();
}
END_TEST

START_TEST(a_row_beyond_the_ceiling_is_refused_and_passed_over)
{
    enum { LONG = 3 * LAMP_ROW_BYTES_MAX };
    static char text[2 * LONG];
    size_t size = 0;
    size += (size_t)sprintf(text, "a,b\n");
    memset(text + size, 'x', LONG);
    size += LONG;
    size += (size_t)sprintf(text + size, "\nc,d\n");
    begin(text, size);
    ROW("a", "b");
    expect_fault("t.csv:2:4097", "longer than 4096 bytes");
    ROW("c", "d");
    ck_assert_uint_eq(row.field[0].line, 3);
    expect_end();
}
END_TEST

START_TEST(a_row_of_just_the_ceiling_is_read)
{
    static char text[2 * LAMP_ROW_BYTES_MAX];
    memset(text, 'x', sizeof text);
    for (size_t length = LAMP_ROW_BYTES_MAX - 2; length <= LAMP_ROW_BYTES_MAX; length++) {
        text[length] = '\r';
        text[length + 1] = '\n';
        text[length + 2] = 'y';
        begin(text, length + 3);
        if (length < LAMP_ROW_BYTES_MAX) {
            ck_assert_int_eq(lamp_rows_next(&rows, &row, NULL), LAMP_OK);
            ck_assert_uint_eq(strlen(row.field[0].text), length);
        } else {
            expect_fault("t.csv:1:4097", "longer than 4096 bytes");
        }
        ROW("y");
        ck_assert_uint_eq(row.field[0].line, 2);
        expect_end();
        text[length] = text[length + 1] = text[length + 2] = 'x';
    }
}
END_TEST

START_TEST(too_many_fields_and_zero_bytes_are_refused)
{
    char text[LAMP_ROW_FIELDS_MAX + 8];
    memset(text, ',', sizeof text);
    memcpy(text + LAMP_ROW_FIELDS_MAX, "\na,\0b\nc", 7);
    begin(text, LAMP_ROW_FIELDS_MAX + 7);
    expect_fault("t.csv:1:65", "too many fields");
    expect_fault("t.csv:2:5", "zero byte");
    ROW("c");
    expect_end();
}
END_TEST

int main(void)
{
    TCase *all = suite_begin("source_rows");
    tcase_add_test(all, the_examples_of_the_standard_are_read);
    tcase_add_test(all, spaces_are_a_part_of_a_field_and_fields_may_be_empty);
    tcase_add_test(all, any_line_break_ends_a_row_and_empty_lines_are_passed_over);
    tcase_add_test(all, a_byte_order_mark_is_no_part_of_the_first_field);
    tcase_add_test(all, a_broken_row_is_told_by_its_place_and_the_next_line_goes_on);
    tcase_add_test(all, a_row_beyond_the_ceiling_is_refused_and_passed_over);
    tcase_add_test(all, a_row_of_just_the_ceiling_is_read);
    tcase_add_test(all, too_many_fields_and_zero_bytes_are_refused);
    return suite_end();
}
