/* source_replay.c - A recording given as if it were live. */
/* layers: base source */
#include <check.h>
#include <stdlib.h>
#include <time.h>

#include "support/make_clip.h"
#include "support/read_source.h"
#include "support/replay.h"
#include "support/scratch.h"
#include "support/suite.h"

static const int blink_ms[] = {200, 300};

static double clock_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* What a whole source gave. */
struct count {
    unsigned items;
    unsigned waits;
    int64_t last_ns;
};

static struct count count_all(struct lamp_source *source)
{
    struct count count = {0};
    struct lamp_item item;
    enum lamp_err err;
    while ((err = lamp_source_next(source, &item, NULL)) != LAMP_END) {
        ck_assert(err == LAMP_OK || err == LAMP_NOT_YET);
        count.waits += err == LAMP_NOT_YET;
        if (err == LAMP_OK) {
            count.items++;
            count.last_ns = lamp_item_time_ns(&item);
        }
    }
    return count;
}

START_TEST(a_replay_gives_all_that_the_recording_holds_and_has_nothing_now_and_then)
{
    struct lamp_source *source = open_replay(write_trace("all.csv", blink_ms, 2, 4, 1), 0);
    struct count count = count_all(source);
    ck_assert_uint_eq(count.items, 120);
    ck_assert_uint_gt(count.waits, 5);
    ck_assert(info_of(source).is_live);
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_TRACE);
    ck_assert_str_eq(lamp_source_lamp_name(source, 0), "status");
    ck_assert_double_eq_tol(info_of(source).duration_s, 4, 0.001);
    lamp_source_free(source);
}
END_TEST

START_TEST(a_replay_takes_as_long_as_its_pace_says)
{
    struct lamp_source *source = open_replay(write_trace("pace.csv", blink_ms, 2, 4, 1), 10);
    double began_s = clock_s();
    struct count count = count_all(source);
    ck_assert_uint_eq(count.items, 120);
    ck_assert_double_ge(clock_s() - began_s, 0.39);
    lamp_source_free(source);
}
END_TEST

START_TEST(nothing_is_given_before_its_time)
{
    struct lamp_source *source = open_replay(write_trace("early.csv", blink_ms, 2, 2, 1), 4);
    struct lamp_item item;
    double began_s = clock_s();
    enum lamp_err err;
    while ((err = lamp_source_next(source, &item, NULL)) != LAMP_END) {
        if (err == LAMP_OK) {
            double t_s = (double)lamp_item_time_ns(&item) * 1e-9;
            ck_assert_double_ge((clock_s() - began_s) * 4, t_s - 0.001);
        }
    }
    lamp_source_free(source);
}
END_TEST

/* Two edges a second apart: between them the clock says how long the light has gone on. */
START_TEST(between_edges_the_light_goes_on_with_the_clock)
{
    static const char vcd[] = "$timescale 1 ms $end\n$scope module m $end\n$var wire 1 ! pin $end\n"
                              "$upscope $end\n$enddefinitions $end\n#0\n1!\n#1000\n0!\n#1500\n";
    struct lamp_source *source = open_replay(scratch_write("slow.vcd", vcd, sizeof vcd - 1), 2);
    struct lamp_item item;
    double longest_s = 0;
    enum lamp_err err = LAMP_OK;
    for (int items = 0; items < 2; items += err == LAMP_OK) {
        err = lamp_source_next(source, &item, NULL);
        double duration_s = info_of(source).duration_s;
        ck_assert_double_ge(duration_s, longest_s);
        longest_s = err == LAMP_NOT_YET ? duration_s : longest_s;
    }
    ck_assert_double_gt(longest_s, 0.6);
    ck_assert_double_le(longest_s, 1);
    lamp_source_free(source);
}
END_TEST

/* The last value of a VCD stands until the time that ends it. */
START_TEST(a_replay_ends_when_the_recording_does_not_when_its_last_item_came)
{
    static const char vcd[] = "$timescale 1 ms $end\n$scope module m $end\n$var wire 1 ! pin $end\n"
                              "$upscope $end\n$enddefinitions $end\n#0\n1!\n#2000\n";
    struct lamp_source *source = open_replay(scratch_write("still.vcd", vcd, sizeof vcd - 1), 4);
    double began_s = clock_s();
    struct count count = count_all(source);
    ck_assert_uint_eq(count.items, 1);
    ck_assert_uint_ge(count.waits, 5);
    ck_assert_double_ge(clock_s() - began_s, 0.49);
    ck_assert_double_eq_tol(info_of(source).duration_s, 2, 0.001);
    lamp_source_free(source);
}
END_TEST

static const struct {
    const char *name;
    double speed;
    enum lamp_err answer;
} refused[] = {{"replay:missing.csv", 1, LAMP_BAD_SOURCE},
               {"replay:replay:a.csv", 1, LAMP_BAD_USE},
               {"replay:a.csv", -1, LAMP_BAD_USE},
               {"replay:a.csv", 1e9, LAMP_BAD_USE},
               {"replay:", 1, LAMP_BAD_SOURCE}};

START_TEST(what_cannot_be_replayed_is_refused)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    rules.replay_speed = refused[_i].speed;
    ck_assert_int_eq(lamp_source_open(refused[_i].name, &rules, &source, &error),
                     refused[_i].answer);
    ck_assert_ptr_null(source);
    ck_assert_str_ne(error.sentence, "");
}
END_TEST

START_TEST(frames_of_a_jpeg_clip_come_with_their_jpegs)
{
    struct clip_plan plan = {.encoder = "mjpeg",
                             .format = AV_PIX_FMT_YUVJ420P,
                             .width_px = 64,
                             .height_px = 48,
                             .picture_count = 20};
    const char *path = scratch_path("coded.mkv");
    ck_assert(make_clip(&plan, path));
    struct lamp_source *source = open_replay(path, 0);
    struct lamp_item item;
    enum lamp_err err;
    unsigned frames = 0;
    while ((err = lamp_source_next(source, &item, NULL)) != LAMP_END) {
        if (err == LAMP_OK) {
            ck_assert_ptr_nonnull(item.frame.coded);
            ck_assert_mem_eq(item.frame.coded, "\xFF\xD8", 2);
            ck_assert_mem_eq(item.frame.coded + item.frame.coded_size - 2, "\xFF\xD9", 2);
            frames++;
        }
    }
    ck_assert_uint_eq(frames, 20);
    lamp_source_free(source);
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_replay");
    tcase_add_test(all, a_replay_gives_all_that_the_recording_holds_and_has_nothing_now_and_then);
    tcase_add_test(all, a_replay_takes_as_long_as_its_pace_says);
    tcase_add_test(all, nothing_is_given_before_its_time);
    tcase_add_test(all, between_edges_the_light_goes_on_with_the_clock);
    tcase_add_test(all, a_replay_ends_when_the_recording_does_not_when_its_last_item_came);
    tcase_add_loop_test(all, what_cannot_be_replayed_is_refused, 0,
                        sizeof refused / sizeof refused[0]);
    tcase_add_test(all, frames_of_a_jpeg_clip_come_with_their_jpegs);
    int status = suite_end();
    scratch_end();
    return status;
}
