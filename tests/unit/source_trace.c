/* source_trace.c - Traces: columns, rows, places of what is wrong. */
/* layers: base source */
#include <check.h>
#include <stdlib.h>

#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static struct lamp_source *open_text(const char *text)
{
    return open_source(scratch_write("t.csv", text, strlen(text)));
}

static void expect_sample(struct lamp_source *source, const char *lamp, int64_t t_ns, double level)
{
    struct lamp_item item;
    struct lamp_error error = {.sentence = ""};
    ck_assert_msg(lamp_source_next(source, &item, &error) == LAMP_OK, "%s", error.sentence);
    ck_assert_int_eq(item.kind, LAMP_ITEM_SAMPLE);
    ck_assert_str_eq(lamp_source_lamp_name(source, item.lamp), lamp);
    ck_assert_int_eq(item.sample.t_ns, t_ns);
    ck_assert_double_eq(item.sample.level, level);
}

static void expect_end(struct lamp_source *source)
{
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    lamp_source_free(source);
}

START_TEST(lamps_that_take_turns_are_told_apart)
{
    struct lamp_source *source =
        open_text("time_s,lamp,level,exposure_s\r\n"
                  "0,status,0.5,0.01\r\n0,\"power, red\",1,\r\n"
                  "0.04,status,0.25,0.01\r\n0.04,\"power, red\",1e-3,0.02\r\n");
    ck_assert_uint_eq(lamp_source_lamp_count(source), 0);
    expect_sample(source, "status", 0, 0.5);
    expect_sample(source, "power, red", 0, 1);
    expect_sample(source, "status", 40000000, 0.25);
    expect_sample(source, "power, red", 40000000, 0.001);
    ck_assert_uint_eq(lamp_source_lamp_count(source), 2);
    struct lamp_source_info info = info_of(source);
    ck_assert_int_eq(info.kind, LAMP_SOURCE_TRACE);
    ck_assert_uint_eq(info.frame_count, 4);
    ck_assert_double_eq_tol(info.rate_hz, 25, 1e-9);
    ck_assert_double_eq_tol(info.duration_s, 0.08, 1e-12);
    ck_assert_double_eq(lamp_source_progress(source), 1);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    expect_end(source);
}
END_TEST

START_TEST(columns_come_in_any_order_and_unknown_ones_are_named)
{
    struct lamp_source *source =
        open_text("\xef\xbb\xbfLevel,note,lamp,time_s\n0.5,\"a\nb\",led,-1.5\n");
    ck_assert(has_warning(source, "\"note\""));
    expect_sample(source, "led", -1500000000, 0.5);
    expect_end(source);
}
END_TEST

static const struct {
    const char *text;
    int64_t t_ns;
} times[] = {
    {"0.000000001", 1},    {"1700000000.123456789", 1700000000123456789},
    {"-0.25", -250000000}, {"1.5e-3", 1500000},
    {"3.", 3000000000},    {"0.0333333333333", 33333333},
    {"0.0000000005", 1},   {"+2", 2000000000},
};

START_TEST(times_are_exact_to_the_nanosecond)
{
    char text[128];
    (void)snprintf(text, sizeof text, "time_s,lamp,level\n%s,a,0\n", times[_i].text);
    struct lamp_source *source = open_text(text);
    expect_sample(source, "a", times[_i].t_ns, 0);
    expect_end(source);
}
END_TEST

/* Each row is broken in the middle of a recording that is otherwise whole. */
static const struct {
    const char *row;
    const char *place; /* After the file's name. */
    const char *part;
} bad_rows[] = {
    {"abc,a,0", ":4:1", "\"abc\" is not a time"},
    {"nan,a,0", ":4:1", "\"nan\" is not a time"},
    {"inf,a,0", ":4:1", "is not a time"},
    {"1e300,a,0", ":4:1", "is not a time"},
    {"0x10,a,0", ":4:1", "is not a time"},
    {"99999999999,a,0", ":4:1", "is not a time"},
    {"1 ms,a,0", ":4:1", "is not a time"},
    {"1,a,high", ":4:5", "\"high\" is not a level"},
    {"1,a,", ":4:5", "\"\" is not a level"},
    {"1,a,NaN", ":4:5", "is not a level"},
    {"1,a,-inf", ":4:5", "is not a level"},
    {"1,a,1e9", ":4:5", "is not a level"},
    {"1,a,\"0,5\"", ":4:5", "\"0,5\" is not a level"},
    {"1,,0", ":4:3", "is not a lamp"},
    {"1,0123456789012345678901234567890123456789012345678901234567890123,0", ":4:3",
     "is not a lamp"},
    {"1,\xff\xfe,0", ":4:3", "\"??\" is not a lamp"},
    {"1,a", ":4:3", "fewer fields"},
    {"1,a,0,7", ":4:7", "more fields"},
    {"0.1,a,0", ":4:1", "\"0.1\" goes back in time"},
    {"1,\"a\"b,0", ":4:6", "after a closing quote"},
    {"1,a\"b,0", ":4:4", "a quote inside a field"},
};

START_TEST(a_bad_row_is_left_out_and_told_with_its_place)
{
    char text[256];
    (void)snprintf(text, sizeof text, "time_s,lamp,level\n0,a,0\n0.5,a,1\n%s\n1,a,0.5\n",
                   bad_rows[_i].row);
    const char *path = scratch_write("bad.csv", text, strlen(text));
    struct lamp_source *source = open_source(path);
    expect_sample(source, "a", 0, 0);
    expect_sample(source, "a", 500000000, 1);
    expect_sample(source, "a", 1000000000, 0.5);
    char place[256];
    (void)snprintf(place, sizeof place, "%s%s: ", path, bad_rows[_i].place);
    ck_assert_msg(has_warning(source, place), "%s", lamp_source_warning(source, 0));
    ck_assert_msg(has_warning(source, bad_rows[_i].part), "%s", lamp_source_warning(source, 0));
    ck_assert(has_warning(source, "rows left out: 1, first "));
    ck_assert_uint_eq(lamp_source_lamp_count(source), 1);
    expect_end(source);
}
END_TEST

START_TEST(many_bad_rows_are_counted_and_the_first_is_told)
{
    struct lamp_source *source =
        open_text("time_s,lamp,level\n0,a,0\nx,a,0\n1,a,0\ny,a,0\n2,a,0\n");
    expect_sample(source, "a", 0, 0);
    expect_sample(source, "a", 1000000000, 0);
    expect_sample(source, "a", 2000000000, 0);
    ck_assert(has_warning(source, "rows left out: 2, first "));
    ck_assert(has_warning(source, "t.csv:3:1: \"x\""));
    expect_end(source);
}
END_TEST

/* Files that are no trace, with the line that each gets. */
static const struct {
    const char *text;
    const char *place;
    const char *part;
} bad_files[] = {
    {"0,a,0\n1,a,1\n", "t.csv:1:1", "\"0\" begins a header without the column time_s"},
    {"time_s,level\n0,1\n", "t.csv:1:1", "without the column lamp"},
    {"time_s;lamp;level\n0;a;1\n", "t.csv:1:1", "without the column time_s"},
    {"time_s,lamp,level,lamp\n", "t.csv:1:19", "\"lamp\" is there twice"},
    {"time_s,lamp,level\n", "t.csv", "no row after the header"},
    {"\n\n\n", "t.csv", "no row in it"},
    {"time_s,lamp,level\nx,a,0\n", "t.csv:2:1", "\"x\" is not a time"},
    {"time_s,lamp,level\n0,a,0\n1,a,z\n2,a,z\n", "t.csv:3:5", "2 of 3 rows cannot be read"},
    {"time_s,\"lamp,level\n0,a,0\n", "t.csv:3:1", "closing quote is missing"},
};

START_TEST(what_is_no_trace_is_refused_in_one_line)
{
    const char *path = scratch_write("t.csv", bad_files[_i].text, strlen(bad_files[_i].text));
    struct lamp_error error;
    ck_assert_int_eq(read_whole(path, &error), LAMP_BAD_SOURCE);
    size_t tail = strlen(error.place) - strlen(bad_files[_i].place);
    ck_assert_str_eq(error.place + tail, bad_files[_i].place);
    ck_assert_msg(strstr(error.sentence, bad_files[_i].part) != NULL, "%s", error.sentence);
}
END_TEST

START_TEST(a_lamp_beyond_the_ceiling_is_an_error)
{
    static char text[8192];
    size_t size = (size_t)sprintf(text, "time_s,lamp,level\n");
    for (int i = 0; i < LAMP_SOURCE_LAMPS_MAX + 1; i++) {
        size += (size_t)sprintf(text + size, "0,lamp%d,0\n", i);
    }
    struct lamp_error error;
    ck_assert_int_eq(read_whole(scratch_write("t.csv", text, size), &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.place, "t.csv:66:3"));
    ck_assert_ptr_nonnull(strstr(error.sentence, "\"lamp64\" is one lamp too many"));
}
END_TEST

START_TEST(a_trace_is_told_by_its_header_whatever_its_name)
{
    static const char text[] = "time_s,lamp,level\n0,a,0\n1,a,1\n";
    struct lamp_source *source = open_source(scratch_write("recording.txt", text, sizeof text - 1));
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_TRACE);
    lamp_source_free(source);
}
END_TEST

START_TEST(missing_samples_are_counted_for_each_lamp_once)
{
    static char text[16384];
    size_t size = (size_t)sprintf(text, "time_s,lamp,level\n");
    for (int i = 0; i < 100; i++) {
        if (i == 30 || i == 60 || i == 61) {
            continue;
        }
        size += (size_t)sprintf(text + size, "%d.%02d,a,0\n%d.%02d,b,0\n", i / 50, i % 50 * 2,
                                i / 50, i % 50 * 2);
    }
    struct lamp_source *source = open_source(scratch_write("t.csv", text, size));
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    ck_assert_uint_eq(info_of(source).dropped_count, 3);
    ck_assert_double_eq_tol(info_of(source).rate_hz, 50, 1e-6);
    lamp_source_free(source);
}
END_TEST

static void expect_edge(struct lamp_source *source, int64_t t_ns, bool lit, int64_t sd_ns)
{
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
    ck_assert_int_eq(item.kind, LAMP_ITEM_EDGE);
    ck_assert_int_eq(item.edge.t_ns, t_ns);
    ck_assert_int_eq(item.edge.lit, lit);
    ck_assert_int_eq(item.edge.sd_ns, sd_ns);
}

START_TEST(rows_that_tell_how_well_they_are_known_are_edges)
{
    struct lamp_source *source = open_text("time_s,lamp,level,sd_s\n0,a,0,0\n0.199999999,a,0,\n"
                                           "0.2,a,1,0.00002\n0.2,b,1,\n0.9,a,1,\n1,a,0,0.001\n"
                                           "1.5,a,0,\n");
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_EDGES);
    expect_edge(source, 0, false, 0);
    expect_edge(source, 200000000, true, 20000);
    expect_edge(source, 200000000, true, 0);
    expect_edge(source, 1000000000, false, 1000000);
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    struct lamp_source_info info = info_of(source);
    ck_assert_double_eq_tol(info.duration_s, 1.5, 1e-12);
    ck_assert_uint_eq(info.frame_count, 4);
    ck_assert(info.rate_hz <= 0);
    ck_assert_uint_eq(info.dropped_count, 0);
    lamp_source_free(source);
}
END_TEST

/* After each of these, which follow a lamp that came on at 0.2 s, only its value is known. */
static const struct {
    const char *rows;
    bool lit;
} lost_edges[] = {
    {"0.7,a,1,0\n", true},                 /* it says so */
    {"0.7,a,0,0\n", false},                /* when it went off is not known */
    {"0.7,a,0,\n", false},                 /* nor here */
    {"0.7,a,1,0.00002\n", true},           /* between two alike one was lost */
    {"0.5,a,x,0.00002\n0.7,a,1,\n", true}, /* one could not be read */
    {"0.5,a,0.5,0.00002\n0.7,a,0,0.00002\n", false},
    {"0.5,a,0,-1\n0.7,a,0,0.00002\n", false},
};

START_TEST(where_an_edge_was_lost_the_light_is_not_known_before_the_next_row)
{
    char text[256];
    (void)snprintf(text, sizeof text, "time_s,lamp,level,sd_s\n0,a,0,0\n0.2,a,1,0.00002\n%s",
                   lost_edges[_i].rows);
    struct lamp_source *source = open_text(text);
    expect_edge(source, 0, false, 0);
    expect_edge(source, 200000000, true, 20000);
    expect_edge(source, 700000000, lost_edges[_i].lit, 0);
    bool is_unread = strchr(lost_edges[_i].rows, '\n')[1] != '\0';
    ck_assert(has_warning(source, is_unread ? "rows left out: 1" : "edges are missing: 1"));
    expect_end(source);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_trace");
    tcase_add_test(all, lamps_that_take_turns_are_told_apart);
    tcase_add_test(all, columns_come_in_any_order_and_unknown_ones_are_named);
    tcase_add_loop_test(all, times_are_exact_to_the_nanosecond, 0, COUNT(times));
    tcase_add_loop_test(all, a_bad_row_is_left_out_and_told_with_its_place, 0, COUNT(bad_rows));
    tcase_add_test(all, many_bad_rows_are_counted_and_the_first_is_told);
    tcase_add_loop_test(all, what_is_no_trace_is_refused_in_one_line, 0, COUNT(bad_files));
    tcase_add_test(all, a_lamp_beyond_the_ceiling_is_an_error);
    tcase_add_test(all, a_trace_is_told_by_its_header_whatever_its_name);
    tcase_add_test(all, missing_samples_are_counted_for_each_lamp_once);
    tcase_add_test(all, rows_that_tell_how_well_they_are_known_are_edges);
    tcase_add_loop_test(all, where_an_edge_was_lost_the_light_is_not_known_before_the_next_row, 0,
                        COUNT(lost_edges));
    int status = suite_end();
    scratch_end();
    return status;
}
