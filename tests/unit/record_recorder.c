/* record_recorder.c - What is kept reads back as it was, as far as it was kept. */
/* layers: base record report source light rhythm codebook match finding */
#include <check.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <unistd.h>

#include "lampread/record.h"
#include "support/make_clip.h"
#include "support/read_source.h"
#include "support/replay.h"
#include "support/scratch.h"
#include "support/suite.h"

enum { PICTURES = 40 };

static const int blink_ms[] = {200, 300};

static const int64_t stamps_ms[PICTURES] = {
    0,    33,   67,   100,  140,  172,  200,  233,  267,  300,  340,  372,  400,  433,
    467,  900,  940,  972,  1000, 1033, 1067, 1100, 1140, 1172, 1200, 1233, 1267, 1300,
    1340, 1372, 1400, 1433, 1467, 1500, 1540, 1572, 1600, 1633, 1667, 1700};

static const struct {
    const char *name;
    struct clip_plan plan;
} clips[] = {
    {"jpeg.mkv", {.encoder = "mjpeg", .format = AV_PIX_FMT_YUVJ420P}},
    {"planes.mkv", {.encoder = "ffv1", .format = AV_PIX_FMT_YUV420P}},
    {"wide.mkv", {.encoder = "ffv1", .format = AV_PIX_FMT_YUV422P}},
    {"whole.mkv", {.encoder = "ffv1", .format = AV_PIX_FMT_YUV444P}},
    {"grey.mkv", {.encoder = "ffv1", .format = AV_PIX_FMT_GRAY8}},
    {"deep.mkv", {.encoder = "ffv1", .format = AV_PIX_FMT_YUV420P10}},
};

static const char *make_film(size_t index)
{
    struct clip_plan plan = clips[index].plan;
    plan.width_px = 64;
    plan.height_px = 48;
    plan.picture_count = PICTURES;
    plan.stamp_ms = stamps_ms;
    const char *path = scratch_path(clips[index].name);
    ck_assert(make_clip(&plan, path));
    return path;
}

/* Keep a whole recording. @return what the recorder answered at last. */
static enum lamp_err keep(const char *from, const char *to, bool finishes, struct lamp_error *error)
{
    struct lamp_recorder_rules rules = lamp_recorder_rules_default();
    rules.replaces = true;
    struct lamp_source *source = open_replay(from, 0);
    struct lamp_recorder *recorder = NULL;
    struct lamp_item item;
    enum lamp_err err = lamp_recorder_new(to, &rules, source, &recorder, error);
    while (err == LAMP_OK) {
        enum lamp_err answer = lamp_source_next(source, &item, NULL);
        if (answer == LAMP_END) {
            break;
        }
        err = answer == LAMP_OK ? lamp_recorder_push(recorder, source, &item, error)
                                : lamp_recorder_wait(recorder, source, error);
    }
    if (err == LAMP_OK && finishes) {
        err = lamp_recorder_finish(recorder, source, error);
    }
    lamp_recorder_free(recorder);
    lamp_source_free(source);
    return err;
}

/* Compare two recordings frame by frame. @return how many frames `b` holds. */
static unsigned compare_films(const char *a, const char *b, int deep_by)
{
    struct lamp_source *one = open_source(a);
    struct lamp_source *other = open_source(b);
    struct lamp_item x;
    struct lamp_item y;
    unsigned count = 0;
    while (lamp_source_next(other, &y, NULL) == LAMP_OK) {
        ck_assert_int_eq(lamp_source_next(one, &x, NULL), LAMP_OK);
        ck_assert_int_le(llabs(x.frame.t_ns - y.frame.t_ns), 5000);
        ck_assert_int_eq(x.frame.y.width_px, y.frame.y.width_px);
        ck_assert(x.frame.is_full_range == y.frame.is_full_range);
        ck_assert(x.frame.matrix == y.frame.matrix);
        for (int r = 0; r < x.frame.y.height_px; r++) {
            const unsigned char *p =
                (const unsigned char *)x.frame.y.at + r * x.frame.y.stride_bytes;
            const unsigned char *q =
                (const unsigned char *)y.frame.y.at + r * y.frame.y.stride_bytes;
            for (int c = 0; c < x.frame.y.width_px && deep_by == 0; c++) {
                ck_assert_uint_eq(p[c], q[c]);
            }
        }
        count++;
    }
    lamp_source_free(one);
    lamp_source_free(other);
    return count;
}

START_TEST(a_film_reads_back_frame_by_frame_with_its_stamps)
{
    const char *from = make_film((size_t)_i);
    const char *to = scratch_path("kept.mkv");
    ck_assert_int_eq(keep(from, to, true, NULL), LAMP_OK);
    bool is_deep = clips[_i].plan.format == AV_PIX_FMT_YUV420P10;
    ck_assert_uint_eq(compare_films(from, to, is_deep ? 2 : 0), PICTURES);
    struct lamp_source *source = open_source(to);
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

/* A crash may end the file anywhere. */
START_TEST(a_film_that_ends_anywhere_plays_up_to_there)
{
    const char *from = make_film(0);
    const char *whole = scratch_path("whole-kept.mkv");
    ck_assert_int_eq(keep(from, whole, false, NULL), LAMP_OK);
    FILE *file = fopen(whole, "rb");
    ck_assert_ptr_nonnull(file);
    static unsigned char bytes[1 << 20];
    size_t size = fread(bytes, 1, sizeof bytes, file);
    (void)fclose(file);
    unsigned last = 0;
    for (size_t tenth = 3; tenth <= 10; tenth++) {
        const char *cut = scratch_write("cut.mkv", bytes, size * tenth / 10);
        unsigned count = compare_films(from, cut, 0);
        ck_assert_uint_ge(count + 2, PICTURES * (unsigned)tenth / 10 - 1);
        ck_assert_uint_ge(count, last);
        last = count;
    }
    ck_assert_uint_eq(last, PICTURES);
}
END_TEST

START_TEST(a_trace_and_edges_read_back_as_they_were)
{
    const char *trace = write_trace("a.csv", blink_ms, 2, 5, 4);
    const char *kept = scratch_path("b.csv");
    ck_assert_int_eq(keep(trace, kept, true, NULL), LAMP_OK);
    struct lamp_source *one = open_source(trace);
    struct lamp_source *other = open_source(kept);
    struct lamp_item x;
    struct lamp_item y;
    while (lamp_source_next(one, &x, NULL) == LAMP_OK) {
        ck_assert_int_eq(lamp_source_next(other, &y, NULL), LAMP_OK);
        ck_assert_int_eq(x.sample.t_ns, y.sample.t_ns);
        ck_assert_double_eq(x.sample.level, y.sample.level);
    }
    ck_assert_int_eq(lamp_source_next(other, &y, NULL), LAMP_END);
    ck_assert_str_eq(lamp_source_lamp_name(other, 0), "status");
    lamp_source_free(one);
    lamp_source_free(other);
}
END_TEST

static const char two_wires[] = "$timescale 1 ms $end\n$scope module m $end\n$var wire 1 ! red "
                                "$end\n$var wire 1 \" green $end\n"
                                "$upscope $end\n$enddefinitions "
                                "$end\n#100\n1!\n0\"\n#400\n0!\n#600\n1\"\n#900\n1!\n0\"\n#2000\n";

START_TEST(edges_read_back_as_they_were_from_their_first_moment)
{
    const char *from = scratch_write("two.vcd", two_wires, sizeof two_wires - 1);
    const char *kept = scratch_path("kept.vcd");
    ck_assert_int_eq(keep(from, kept, true, NULL), LAMP_OK);
    struct lamp_source *one = open_source(from);
    struct lamp_source *other = open_source(kept);
    struct lamp_item x;
    struct lamp_item y;
    int64_t shift_ns = -1;
    while (lamp_source_next(one, &x, NULL) == LAMP_OK) {
        ck_assert_int_eq(lamp_source_next(other, &y, NULL), LAMP_OK);
        shift_ns = shift_ns < 0 ? x.edge.t_ns - y.edge.t_ns : shift_ns;
        ck_assert_int_eq(x.edge.t_ns - y.edge.t_ns, shift_ns);
        ck_assert(x.edge.lit == y.edge.lit);
        ck_assert_str_eq(lamp_source_lamp_name(one, x.lamp), lamp_source_lamp_name(other, y.lamp));
    }
    ck_assert_int_eq(lamp_source_next(other, &y, NULL), LAMP_END);
    ck_assert_double_eq_tol(info_of(other).duration_s, info_of(one).duration_s, 1e-6);
    lamp_source_free(one);
    lamp_source_free(other);
}
END_TEST

START_TEST(a_file_that_is_there_is_not_written_over_unasked)
{
    const char *trace = write_trace("c.csv", blink_ms, 2, 1, 4);
    const char *kept = scratch_write("mine.csv", "mine", 4);
    struct lamp_recorder_rules rules = lamp_recorder_rules_default();
    struct lamp_source *source = open_replay(trace, 0);
    struct lamp_recorder *recorder = NULL;
    struct lamp_error error = {.sentence = ""};
    ck_assert_int_eq(lamp_recorder_new(kept, &rules, source, &recorder, &error), LAMP_BAD_USE);
    ck_assert_ptr_null(recorder);
    ck_assert_ptr_nonnull(strstr(error.sentence, "--force"));
    char text[8] = "";
    FILE *file = fopen(kept, "rb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fread(text, 1, sizeof text, file), 4);
    (void)fclose(file);
    ck_assert_mem_eq(text, "mine", 4);
    lamp_source_free(source);
}
END_TEST

START_TEST(a_name_that_does_not_suit_is_refused_with_the_one_that_does)
{
    const char *trace = write_trace("d.csv", blink_ms, 2, 1, 4);
    struct lamp_error error = {.sentence = ""};
    ck_assert_int_eq(keep(trace, scratch_path("d.mkv"), true, &error), LAMP_BAD_USE);
    ck_assert_ptr_nonnull(strstr(error.sentence, ".csv"));
}
END_TEST

/* A file that may not grow stands for a full disk: the same answer comes from the same place. */
START_TEST(a_full_disk_is_told_with_what_is_kept_and_that_plays)
{
    const char *from = make_film(1);
    const char *to = scratch_path("full.mkv");
    struct lamp_error error = {.sentence = ""};
    struct rlimit before;
    ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &before), 0);
    struct rlimit small = {.rlim_cur = 100000, .rlim_max = before.rlim_max};
    (void)signal(SIGXFSZ, SIG_IGN);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &small), 0);
    enum lamp_err err = keep(from, to, true, &error);
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &before), 0);
    ck_assert_int_eq(err, LAMP_CANNOT_WRITE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "are kept and can be read"));
    unsigned count = compare_films(from, to, 0);
    ck_assert_uint_ge(count, 10);
    ck_assert_uint_lt(count, PICTURES);
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("record_recorder");
    tcase_add_loop_test(all, a_film_reads_back_frame_by_frame_with_its_stamps, 0,
                        sizeof clips / sizeof clips[0]);
    tcase_add_test(all, a_film_that_ends_anywhere_plays_up_to_there);
    tcase_add_test(all, a_trace_and_edges_read_back_as_they_were);
    tcase_add_test(all, edges_read_back_as_they_were_from_their_first_moment);
    tcase_add_test(all, a_file_that_is_there_is_not_written_over_unasked);
    tcase_add_test(all, a_name_that_does_not_suit_is_refused_with_the_one_that_does);
    tcase_add_test(all, a_full_disk_is_told_with_what_is_kept_and_that_plays);
    int status = suite_end();
    scratch_end();
    return status;
}
