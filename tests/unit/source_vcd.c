/* source_vcd.c - VCD: the grammar of IEEE 1364-2005 clause 18, written out in our own signals. */
/* layers: base source */
#include <check.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static struct lamp_source *open_text(const char *text)
{
    return open_source(scratch_write("t.vcd", text, strlen(text)));
}

static void expect_edge(struct lamp_source *source, const char *lamp, int64_t t_ns, int64_t sd_ns,
                        bool lit)
{
    struct lamp_item item;
    struct lamp_error error = {.sentence = ""};
    ck_assert_msg(lamp_source_next(source, &item, &error) == LAMP_OK, "at %" PRId64 ": %s", t_ns,
                  error.sentence);
    ck_assert_int_eq(item.kind, LAMP_ITEM_EDGE);
    ck_assert_str_eq(lamp_source_lamp_name(source, item.lamp), lamp);
    ck_assert_int_eq(item.edge.t_ns, t_ns);
    ck_assert_int_eq(item.edge.sd_ns, sd_ns);
    ck_assert_int_eq(item.edge.lit, lit);
}

static void expect_end(struct lamp_source *source)
{
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    lamp_source_free(source);
}

#define HEAD                                                                                      \
    "$timescale 1 us $end $scope module b $end $var wire 1 ! led $end $var wire 1 \" power $end " \
    "$upscope $end $enddefinitions $end\n"

/* Every kind of declaration command, variable type class, value change and simulation command of
 * the grammar. */
static const char whole[] = "$date\n   a day in spring\n$end\n"
                            "$version\n   a simulator, 1.0\n$end\n"
                            "$comment\n   #77 1! is no value in here $var neither\n$end\n"
                            "$timescale\n   10us\n$end\n"
                            "$scope module board $end\n"
                            "$var wire 1 ! status $end\n"
                            "$var reg 8 \" counter [7:0] $end\n"
                            "$scope task blink $end\n"
                            "$var reg 1 # busy $end\n"
                            "$var integer 32 $ i $end\n"
                            "$var real 64 % volts $end\n"
                            "$upscope $end\n"
                            "$var tri 1 & bus [3] $end\n"
                            "$var event 1 ' tick $end\n"
                            "$upscope $end\n"
                            "$enddefinitions $end\n"
                            "#0\n"
                            "$dumpvars\n0!\nb00000000 \"\nx#\nb0 $\nr0.0 %\n1&\n$end\n"
                            "#100\n1!\nb1 \"\n0#\n1'\n"
                            "$comment #5 0! $end\n"
                            "#200\n0!\nb0 &\nr3.30 %\n"
                            "$dumpoff\nx!\nbx \"\nx#\nx&\n$end\n"
                            "#500\n$dumpon\n1!\nb1 \"\n0#\n0&\n$end\n"
                            "#600\n$dumpall\n1!\n0#\n0&\n$end\n"
                            "#1000\n";

START_TEST(every_command_of_the_grammar_is_read)
{
    struct lamp_source *source = open_text(whole);
    const int64_t step_sd_ns = llround(10000 / sqrt(12)); /* Uniform over one step of 10 us. */
    ck_assert_uint_eq(lamp_source_lamp_count(source), 3);
    expect_edge(source, "status", 0, 0, false);
    expect_edge(source, "bus[3]", 0, 0, true);
    expect_edge(source, "status", 1000000, step_sd_ns, true);
    expect_edge(source, "busy", 1000000, 0, false);
    expect_edge(source, "status", 2000000, step_sd_ns, false);
    expect_edge(source, "bus[3]", 2000000, step_sd_ns, false);
    /* Somewhere in the 3 ms that were not dumped: uniform over them, told at their end. */
    expect_edge(source, "status", 5000000, llround(3000000 / sqrt(3)), true);
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_EDGES);
    ck_assert_double_eq_tol(info_of(source).duration_s, 0.01, 1e-12);
    ck_assert_double_eq(info_of(source).rate_hz, 0);
    ck_assert_uint_eq(info_of(source).frame_count, 7);
    ck_assert(has_warning(source, "signals that are not of one bit and were not read: 4"));
    ck_assert(has_warning(source, "(x or z) and give no edge: 4"));
    lamp_source_free(source);
}
END_TEST

/* A flash may hide where nothing is known for long, or where changes were lost. */
START_TEST(a_lamp_that_was_not_known_begins_anew_unless_it_was_for_a_moment)
{
    struct lamp_source *source = open_text("$timescale 1 ms $end\n$var wire 1 ! status $end\n"
                                           "$enddefinitions $end\n"
                                           "#0 0!\n#100 1!\n#200 x!\n#210 1!\n#300 0!\n"
                                           "#400 x!\n#500 0!\n#600 x!\n#700 1!\n"
                                           "#800 x! 1!\n#900 0!\n");
    const int64_t step_sd_ns = llround(1e6 / sqrt(12));
    expect_edge(source, "status", 0, 0, false);
    expect_edge(source, "status", 100000000, step_sd_ns, true);
    expect_edge(source, "status", 300000000, step_sd_ns, false);
    expect_edge(source, "status", 500000000, 0, false);
    expect_edge(source, "status", 700000000, 0, true);
    expect_edge(source, "status", 800000000, 0, true);
    expect_edge(source, "status", 900000000, step_sd_ns, false);
    lamp_source_free(source);
}
END_TEST

/* 18.2.3.8: 1, 10 or 100 of s to fs, with or without a blank between. */
static const struct {
    const char *scale;
    const char *time;
    int64_t t_ns;
    int64_t sd_ns;
} scales[] = {
    {"1 s", "2", 2000000000, 288675135},
    {"100s", "3", 300000000000, 28867513459},
    {"10\nms", "4", 40000000, 2886751},
    {"1 us", "1234567", 1234567000, 289},
    {"100 ns", "7", 700, 29},
    {"1ns", "9223372036854775807", INT64_MAX, 1},
    {"100 ps", "15", 2, 1},
    {"1ps", "1499", 1, 1},
    {"1ps", "1500", 2, 1},
    {"1 fs", "18446744073709551615", 18446744073710, 1},
    {"10 fs", "250000", 3, 1},
};

START_TEST(times_are_scaled_to_nanoseconds)
{
    char text[512];
    (void)snprintf(text, sizeof text,
                   "$timescale %s $end $var wire 1 ! a $end $enddefinitions $end #0 0! #%s 1!",
                   scales[_i].scale, scales[_i].time);
    struct lamp_source *source = open_text(text);
    expect_edge(source, "a", 0, 0, false);
    expect_edge(source, "a", scales[_i].t_ns, scales[_i].sd_ns, true);
    expect_end(source);
}
END_TEST

START_TEST(lamps_of_one_name_are_called_by_their_path)
{
    struct lamp_source *source =
        open_text("$timescale 1 ns $end $scope module top $end $var wire 1 ! led $end "
                  "$scope module left $end $var wire 1 a led $end $var wire 1 b only $end "
                  "$var wire 1 ! alias $end $upscope $end "
                  "$scope module right $end $var wire 1 c led $end $var wire 1 d led $end "
                  "$upscope $end $upscope $end $enddefinitions $end #0 1! 1a 1b 1c 1d");
    static const char *const names[] = {"top.led", "top.left.led", "only", "top.right.led",
                                        "top.right.led-2"};
    ck_assert_uint_eq(lamp_source_lamp_count(source), 5);
    for (size_t i = 0; i < 5; i++) {
        ck_assert_str_eq(lamp_source_lamp_name(source, i), names[i]);
    }
    lamp_source_free(source);
}
END_TEST

START_TEST(a_value_that_stays_is_no_edge)
{
    struct lamp_source *source = open_text(HEAD "#0 0! #5 0! #6 1! #7 1! x! #8 1! #9 0!");
    expect_edge(source, "led", 0, 0, false);
    expect_edge(source, "led", 6000, 289, true);
    expect_edge(source, "led", 9000, 289, false);
    expect_end(source);
}
END_TEST

START_TEST(the_last_time_is_the_end)
{
    struct lamp_source *source = open_text(HEAD "#1000000 $dumpvars 1! 0\" $end #3500000");
    expect_edge(source, "led", 1000000000, 0, true);
    expect_edge(source, "power", 1000000000, 0, false);
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_double_eq_tol(info_of(source).duration_s, 2.5, 1e-9);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

START_TEST(time_that_goes_back_is_passed_over)
{
    struct lamp_source *source = open_text(HEAD "#0 0!\n#100 1!\n#50 0!\n#60 1!\n#100 0!\n#200 1!");
    expect_edge(source, "led", 0, 0, false);
    expect_edge(source, "led", 100000, 289, true);
    expect_edge(source, "led", 100000, 289, false);
    expect_edge(source, "led", 200000, 289, true);
    ck_assert(has_warning(source, "line 5: time goes back"));
    expect_end(source);
}
END_TEST

/* One word that makes no sense in the middle of a recording that is otherwise whole. */
static const struct {
    const char *word;
    const char *place;
    const char *part;
} bad_words[] = {
    {"hello", ":3:1", "\"hello\": expected a value, a time or a keyword"},
    {"#", ":3:1", "expected a time"},
    {"#-5", ":3:1", "expected a time"},
    {"#1.5", ":3:1", "expected a time"},
    {"#99999999999999999999", ":3:1", "expected a time"},
    {"1?", ":3:1", "expected the code of a signal"},
    {"0 ", ":3:1", "expected the code of a signal"},
    {"b1 ?", ":3:4", "expected the code of a signal"},
    {"r1.0 !", ":3:6", "expected a value of one bit"},
    {"$what is this $end", ":3:1", "\"$what\": expected a value, a time or $comment"},
};

START_TEST(a_bad_word_is_left_out_and_told_with_its_place)
{
    char text[512];
    (void)snprintf(text, sizeof text, HEAD "#0 0! #100 1!\n%s\n#200 0!", bad_words[_i].word);
    const char *path = scratch_write("bad.vcd", text, strlen(text));
    struct lamp_source *source = open_source(path);
    expect_edge(source, "led", 0, 0, false);
    expect_edge(source, "led", 100000, 289, true);
    expect_edge(source, "led", 200000, 289, false);
    char place[256];
    (void)snprintf(place, sizeof place, "words left out: 1, first %s%s: ", path,
                   bad_words[_i].place);
    ck_assert_msg(has_warning(source, place), "%s", lamp_source_warning(source, 0));
    ck_assert_msg(has_warning(source, bad_words[_i].part), "%s", lamp_source_warning(source, 0));
    expect_end(source);
}
END_TEST

/* Files that are no VCD, with the line that each gets. */
static const struct {
    const char *text;
    const char *place;
    const char *part;
} bad_files[] = {
    {"$timescale 1 us $end $var wire 1 ! a $end", "t.vcd:1:42",
     "the file ends here: expected $enddefinitions"},
    {"$timescale 1 us $end\n $enddefinitions $end", "t.vcd:2:18", "expected a one-bit signal"},
    {"$var wire 1 ! a $end $enddefinitions $end", "t.vcd:1:38", "expected a $timescale"},
    {"$timescale 2 us $end", "t.vcd:1:17", "a time scale of 1, 10 or 100"},
    {"$timescale 1 min $end", "t.vcd:1:18", "a time scale of 1, 10 or 100"},
    {"$timescale 1000 ns $end", "t.vcd:1:20", "a time scale of 1, 10 or 100"},
    {"$timescale $end", "t.vcd:1:12", "a time scale of 1, 10 or 100"},
    {"$timescale 1 us $enddefinitions", "t.vcd:1:17", "\"$enddefinitions\": expected $end"},
    {"$timescale 1 us $end\n$var wire one ! a $end", "t.vcd:2:19", "type, size, code and name"},
    {"$var wire 1 ! $end", "t.vcd:1:15", "type, size, code and name"},
    {"$upscope $end", "t.vcd:1:10", "a $scope before this $upscope"},
    {"$comment never closed", "t.vcd:1:22", "the file ends here: expected $end"},
    {"$date x $end module", "t.vcd:1:14", "\"module\": expected a keyword"},
    {"no vcd at all", "t.vcd:1:1", "\"no\": expected a keyword"},
    {HEAD "#0 #5", "t.vcd", "no lamp has a value"},
    {HEAD "#0 x! z\"", "t.vcd", "no lamp has a value"},
    {HEAD "#0 0! one two three", "t.vcd:2:7", "(3 of 5 words cannot be read)"},
};

START_TEST(what_is_no_vcd_is_refused_in_one_line)
{
    const char *path = scratch_write("t.vcd", bad_files[_i].text, strlen(bad_files[_i].text));
    struct lamp_error error;
    ck_assert_int_eq(read_whole(path, &error), LAMP_BAD_SOURCE);
    ck_assert_msg(strstr(error.place, bad_files[_i].place) != NULL, "%s", error.place);
    ck_assert_msg(strstr(error.sentence, bad_files[_i].part) != NULL, "%s", error.sentence);
}
END_TEST

START_TEST(a_vcd_cut_anywhere_gives_edges_in_order_or_one_line)
{
    for (size_t size = 1; size < sizeof whole - 1; size++) {
        struct lamp_source_rules rules = lamp_source_rules_default();
        struct lamp_source *source = NULL;
        struct lamp_error error = {.sentence = ""};
        enum lamp_err err =
            lamp_source_open(scratch_write("cut.vcd", whole, size), &rules, &source, &error);
        int64_t last_ns = 0;
        struct lamp_item item;
        uint64_t count = 0;
        while (err == LAMP_OK && (err = lamp_source_next(source, &item, &error)) == LAMP_OK) {
            ck_assert_int_ge(item.edge.t_ns, last_ns);
            last_ns = item.edge.t_ns;
            count++;
        }
        ck_assert_uint_le(count, 7);
        ck_assert_int_eq(err, count > 0 ? LAMP_END : LAMP_BAD_SOURCE);
        ck_assert(count > 0 || error.sentence[0] != '\0');
        lamp_source_free(source);
    }
}
END_TEST

START_TEST(more_signals_than_the_ceiling_are_an_error)
{
    static char text[8192];
    size_t size = (size_t)sprintf(text, "$timescale 1 us $end\n");
    for (int i = 0; i < LAMP_SOURCE_LAMPS_MAX + 1; i++) {
        size += (size_t)sprintf(text + size, "$var wire 1 c%d led%d $end\n", i, i);
    }
    size += (size_t)sprintf(text + size, "$enddefinitions $end\n");
    struct lamp_error error;
    ck_assert_int_eq(read_whole(scratch_write("t.vcd", text, size), &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.place, "t.vcd:66:"));
    ck_assert_ptr_nonnull(strstr(error.sentence, "at most 64 one-bit signals"));
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_vcd");
    tcase_add_test(all, every_command_of_the_grammar_is_read);
    tcase_add_test(all, a_lamp_that_was_not_known_begins_anew_unless_it_was_for_a_moment);
    tcase_add_loop_test(all, times_are_scaled_to_nanoseconds, 0, COUNT(scales));
    tcase_add_test(all, lamps_of_one_name_are_called_by_their_path);
    tcase_add_test(all, a_value_that_stays_is_no_edge);
    tcase_add_test(all, the_last_time_is_the_end);
    tcase_add_test(all, time_that_goes_back_is_passed_over);
    tcase_add_loop_test(all, a_bad_word_is_left_out_and_told_with_its_place, 0, COUNT(bad_words));
    tcase_add_loop_test(all, what_is_no_vcd_is_refused_in_one_line, 0, COUNT(bad_files));
    tcase_add_test(all, a_vcd_cut_anywhere_gives_edges_in_order_or_one_line);
    tcase_add_test(all, more_signals_than_the_ceiling_are_an_error);
    int status = suite_end();
    scratch_end();
    return status;
}
