/* source_clip.c - Video files: pictures, times, turns, damage. */
/* layers: base source */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "lampread/source.h"
#include "support/make_clip.h"

static char folder[] = "/tmp/lampread-clip-XXXXXX";

static const char *path_of(const char *name)
{
    static char path[256];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static struct lamp_source *open_source(const char *path)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error;
    rules.thread_count = 2;
    enum lamp_err err = lamp_source_open(path, &rules, &source, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", path, err == LAMP_OK ? "" : error.sentence);
    return source;
}

static unsigned pixel(const struct lamp_frame *frame, int x, int y)
{
    const unsigned char *row = (const unsigned char *)frame->y.at + y * frame->y.stride_bytes;
    return frame->bits == 8 ? row[x] : ((const uint16_t *)(const void *)row)[x];
}

static bool has_warning(const struct lamp_source *source, const char *part)
{
    for (size_t i = 0; lamp_source_warning(source, i) != NULL; i++) {
        if (strstr(lamp_source_warning(source, i), part) != NULL) {
            return true;
        }
    }
    return false;
}

/* Nearness of levels that coding leaves. */
#define ASSERT_NEAR(a, b, most) ck_assert_double_eq_tol((double)(a), (double)(b), (most) + 0.5)

static const struct {
    const char *file;
    const char *encoder;
    enum AVPixelFormat format;
    int bits;
    int most; /* Coding error of a level, of 255. */
} codings[] = {
    {"h264.mp4", "libx264", AV_PIX_FMT_YUV420P, 8, 8},
    {"h264.mov", "libx264", AV_PIX_FMT_YUV420P, 8, 8},
    {"h264-422-10.mkv", "libx264", AV_PIX_FMT_YUV422P10, 10, 8},
    {"h264-rgb.mkv", "libx264rgb", AV_PIX_FMT_BGR24, 8, 8},
    {"hevc.mp4", "libx265", AV_PIX_FMT_YUV420P, 8, 8},
    {"hevc10.mkv", "libx265", AV_PIX_FMT_YUV420P10, 10, 8},
    {"vp9.webm", "libvpx-vp9", AV_PIX_FMT_YUV420P, 8, 8},
    {"vp9-10.webm", "libvpx-vp9", AV_PIX_FMT_YUV420P10, 10, 8},
    {"av1.mkv", "libaom-av1", AV_PIX_FMT_YUV420P, 8, 8},
    {"av1-10.mp4", "libaom-av1", AV_PIX_FMT_YUV420P10, 10, 8},
    {"mjpeg.avi", "mjpeg", AV_PIX_FMT_YUVJ422P, 8, 4},
    {"ffv1-444.mkv", "ffv1", AV_PIX_FMT_YUV444P, 8, 0},
    {"ffv1-grey12.mkv", "ffv1", AV_PIX_FMT_GRAY12, 12, 0},
    {"ffv1-16.mkv", "ffv1", AV_PIX_FMT_YUV420P16, 16, 0},
    {"raw-nv12.nut", "rawvideo", AV_PIX_FMT_NV12, 8, 0},
    {"raw-yuyv.nut", "rawvideo", AV_PIX_FMT_YUYV422, 8, 0},
    {"animation.gif", "gif", AV_PIX_FMT_GRAY8, 8, 1},
};

START_TEST(every_coding_gives_its_pictures_at_their_times)
{
    struct clip_plan plan = {.encoder = codings[_i].encoder,
                             .format = codings[_i].format,
                             .width_px = 96,
                             .height_px = 80,
                             .picture_count = 20};
    const char *path = path_of(codings[_i].file);
    if (!make_clip(&plan, path)) {
        printf("skipped: %s cannot be made here\n", codings[_i].file);
        return;
    }
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    for (int i = 0; i < plan.picture_count; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_int_eq(item.kind, LAMP_ITEM_FRAME);
        ck_assert_int_eq(item.frame.bits, codings[_i].bits);
        ck_assert_int_eq(item.frame.y.width_px, 96);
        ck_assert_int_eq(item.frame.y.height_px, 80);
        ASSERT_NEAR(item.frame.t_ns / 1000, 40000 * i, 0);
        ASSERT_NEAR(pixel(&item.frame, 70, 60) >> (item.frame.bits - 8), planned_level(i),
                    codings[_i].most);
        ASSERT_NEAR(pixel(&item.frame, 12, 12) >> (item.frame.bits - 8),
                    i % 2 == 1 ? 220 : planned_level(i),
                    codings[_i].most + 12 * (codings[_i].most > 0));
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_int_eq(info.kind, LAMP_SOURCE_CLIP);
    ck_assert_uint_eq(info.frame_count, 20);
    ck_assert_uint_eq(info.dropped_count, 0);
    ck_assert_double_eq_tol(info.rate_hz, 25, 0.01);
    ck_assert_double_eq_tol(info.duration_s, 0.8, 0.0015);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("source_clip");
    TCase *all = tcase_create("all");
    if (mkdtemp(folder) == NULL) {
        return EXIT_FAILURE;
    }
    tcase_set_timeout(all, 60);
    tcase_add_loop_test(all, every_coding_gives_its_pictures_at_their_times, 0,
                        sizeof codings / sizeof codings[0]);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    int run = srunner_ntests_run(runner);
    srunner_free(runner);
    char command[300];
    (void)snprintf(command, sizeof command, "rm -rf %s", folder);
    if (system(command) != 0) {
        return EXIT_FAILURE;
    }
    return failed == 0 && run > 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
