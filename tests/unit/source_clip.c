/* source_clip.c - Video files: pictures, times, turns, damage. */
/* layers: base source */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>

#include "support/make_clip.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static unsigned pixel(const struct lamp_frame *frame, int x, int y)
{
    const unsigned char *row = (const unsigned char *)frame->y.at + y * frame->y.stride_bytes;
    return frame->bits == 8 ? row[x] : ((const uint16_t *)(const void *)row)[x];
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
    const char *path = scratch_path(codings[_i].file);
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

START_TEST(a_varying_rate_is_read_by_its_time_stamps)
{
    static const int64_t stamp_ms[] = {0, 33, 66, 108, 141, 200, 233, 300, 341, 374, 421, 480};
    struct clip_plan plan = {.encoder = "libx264",
                             .format = AV_PIX_FMT_YUV420P,
                             .width_px = 64,
                             .height_px = 64,
                             .picture_count = 12,
                             .stamp_ms = stamp_ms};
    const char *path = scratch_path(_i == 0 ? "varying.mp4" : "varying.mkv");
    if (!make_clip(&plan, path)) {
        printf("skipped: no H.264 encoder here\n");
        return;
    }
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    for (int i = 0; i < plan.picture_count; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ASSERT_NEAR(item.frame.t_ns / 1000, stamp_ms[i] * 1000, 60);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_uint_eq(info.dropped_count, 0);
    lamp_source_free(source);
}
END_TEST

START_TEST(pictures_that_the_time_stamps_miss_are_counted)
{
    static int64_t stamp_ms[60];
    for (int i = 0; i < 60; i++) {
        stamp_ms[i] = 40 * (i + (i >= 20) + 2 * (i >= 45));
    }
    struct clip_plan plan = {.encoder = "ffv1",
                             .format = AV_PIX_FMT_YUV420P,
                             .width_px = 64,
                             .height_px = 64,
                             .picture_count = 60,
                             .stamp_ms = stamp_ms};
    ck_assert(make_clip(&plan, scratch_path("missing.mkv")));
    struct lamp_source *source = open_source(scratch_path("missing.mkv"));
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_uint_eq(info.frame_count, 60);
    ck_assert_uint_eq(info.dropped_count, 3);
    ck_assert_double_eq_tol(info.duration_s, 63 * 0.04, 1e-6);
    lamp_source_free(source);
}
END_TEST

START_TEST(the_turn_that_shows_a_clip_upright_is_told)
{
    static const int turns_deg[] = {0, 90, 180, 270};
    struct clip_plan plan = {.encoder = "libx264",
                             .format = AV_PIX_FMT_YUV420P,
                             .width_px = 96,
                             .height_px = 64,
                             .picture_count = 3,
                             .turn_deg = turns_deg[_i]};
    if (!make_clip(&plan, scratch_path("turned.mp4"))) {
        printf("skipped: no H.264 encoder here\n");
        return;
    }
    struct lamp_source *source = open_source(scratch_path("turned.mp4"));
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_int_eq(info.rotation_deg, turns_deg[_i]);
    ck_assert_int_eq(info.width_px, 96);
    ck_assert_int_eq(info.height_px, 64);
    lamp_source_free(source);
}
END_TEST

START_TEST(a_frame_stays_readable_while_four_more_are_taken)
{
    struct clip_plan plan = {.encoder = "libx264",
                             .format = AV_PIX_FMT_YUV420P,
                             .width_px = 96,
                             .height_px = 80,
                             .picture_count = 30};
    const char *path = scratch_path(_i == 0 ? "kept.mp4" : "kept.gif");
    if (_i == 1) {
        plan.encoder = "gif";
        plan.format = AV_PIX_FMT_GRAY8;
    }
    if (!make_clip(&plan, path)) {
        printf("skipped: no encoder for %s here\n", path);
        return;
    }
    struct lamp_source *source = open_source(path);
    struct lamp_item item[30];
    for (int i = 0; i < 30; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item[i], NULL), LAMP_OK);
        for (int k = i < LAMP_FRAMES_KEPT ? 0 : i - LAMP_FRAMES_KEPT; k <= i; k++) {
            ASSERT_NEAR(pixel(&item[k].frame, 70, 60), planned_level(k), 8);
        }
    }
    lamp_source_free(source);
}
END_TEST

static const struct {
    enum AVColorRange range;
    enum AVColorSpace matrix;
    enum AVColorTransferCharacteristic transfer;
    int height_px;
    bool is_full;
    enum lamp_matrix told_matrix;
    enum lamp_transfer told_transfer;
} colours[] = {
    /* What is not specified: television, with the matrix by its lines. */
    {0, 0, 0, 64, false, LAMP_MATRIX_BT601, LAMP_TRANSFER_BT709},
    {0, 0, 0, 720, false, LAMP_MATRIX_BT709, LAMP_TRANSFER_BT709},
    /* ITU-T H.273 code points. */
    {AVCOL_RANGE_MPEG, AVCOL_SPC_SMPTE170M, AVCOL_TRC_SMPTE170M, 720, false, LAMP_MATRIX_BT601,
     LAMP_TRANSFER_BT709},
    {AVCOL_RANGE_JPEG, AVCOL_SPC_BT709, AVCOL_TRC_IEC61966_2_1, 64, true, LAMP_MATRIX_BT709,
     LAMP_TRANSFER_SRGB},
    {AVCOL_RANGE_MPEG, AVCOL_SPC_BT2020_NCL, AVCOL_TRC_SMPTE2084, 64, false, LAMP_MATRIX_BT2020,
     LAMP_TRANSFER_PQ},
    {AVCOL_RANGE_MPEG, AVCOL_SPC_BT2020_NCL, AVCOL_TRC_ARIB_STD_B67, 64, false, LAMP_MATRIX_BT2020,
     LAMP_TRANSFER_HLG},
    {AVCOL_RANGE_JPEG, AVCOL_SPC_BT709, AVCOL_TRC_LINEAR, 64, true, LAMP_MATRIX_BT709,
     LAMP_TRANSFER_LINEAR},
};

START_TEST(the_meaning_of_code_values_is_told)
{
    struct clip_plan plan = {.encoder = "libx264",
                             .format = AV_PIX_FMT_YUV420P,
                             .width_px = 1280,
                             .height_px = colours[_i].height_px,
                             .picture_count = 2,
                             .range = colours[_i].range,
                             .matrix = colours[_i].matrix,
                             .transfer = colours[_i].transfer};
    if (!make_clip(&plan, scratch_path("colour.mkv"))) {
        printf("skipped: no H.264 encoder here\n");
        return;
    }
    struct lamp_source *source = open_source(scratch_path("colour.mkv"));
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
    ck_assert_int_eq(item.frame.is_full_range, colours[_i].is_full);
    ck_assert_int_eq(item.frame.matrix, colours[_i].told_matrix);
    ck_assert_int_eq(item.frame.transfer, colours[_i].told_transfer);
    lamp_source_free(source);
}
END_TEST

START_TEST(pictures_of_an_animation_are_full_range_and_keep_their_lengths)
{
    static const int64_t stamp_ms[] = {0, 500, 600, 3600, 3700};
    struct clip_plan plan = {.encoder = "gif",
                             .format = AV_PIX_FMT_GRAY8,
                             .width_px = 64,
                             .height_px = 64,
                             .picture_count = 5,
                             .stamp_ms = stamp_ms};
    ck_assert(make_clip(&plan, scratch_path("long.gif")));
    struct lamp_source *source = open_source(scratch_path("long.gif"));
    struct lamp_item item;
    for (int i = 0; i < 5; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_int_eq(item.frame.t_ns, stamp_ms[i] * 1000000);
        ck_assert_int_eq(item.frame.transfer, LAMP_TRANSFER_SRGB);
        ck_assert(item.frame.is_full_range);
        ASSERT_NEAR(pixel(&item.frame, 40, 40), planned_level(i), 1);
        const unsigned char *cb = item.frame.u.at;
        ASSERT_NEAR(cb[20], 128, 1);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_uint_eq(info.dropped_count, 0);
    ck_assert_double_eq_tol(info.duration_s, 3.74,
                            0.0601); /* The last one stands 40 ms, or 100 ms as readers have it. */
    lamp_source_free(source);
}
END_TEST

static const struct {
    const char *whole;
    const char *encoder;
    enum AVPixelFormat format;
    bool needs_warning; /* MPEG-TS and GIF have nothing in front that says how long they should be.
                         */
} cuttable[] = {
    {"cut.mp4", "libx264", AV_PIX_FMT_YUV420P, true},
    {"cut.mkv", "libx264", AV_PIX_FMT_YUV420P, true},
    {"cut.webm", "libvpx-vp9", AV_PIX_FMT_YUV420P, true},
    {"cut.avi", "mjpeg", AV_PIX_FMT_YUVJ420P, true},
    {"cut.ts", "libx264", AV_PIX_FMT_YUV420P, false},
    {"cut.gif", "gif", AV_PIX_FMT_GRAY8, false},
};

static size_t read_bytes(const char *path, unsigned char *bytes, size_t room)
{
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    size_t size = fread(bytes, 1, room, file);
    ck_assert_uint_lt(size, room);
    (void)fclose(file);
    return size;
}

static void write_bytes(const char *path, const unsigned char *bytes, size_t size)
{
    FILE *file = fopen(path, "wb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    (void)fclose(file);
}

/* Read what can be read: times never decrease, and what fails says why. @return pictures. */
static uint64_t read_through(const char *path, bool *is_warned)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    enum lamp_err err = lamp_source_open(path, &rules, &source, &error);
    uint64_t count = 0;
    int64_t last_ns = INT64_MIN;
    struct lamp_item item;
    while (err == LAMP_OK && (err = lamp_source_next(source, &item, &error)) == LAMP_OK) {
        ck_assert_int_ge(item.frame.t_ns, last_ns);
        last_ns = item.frame.t_ns;
        count++;
    }
    ck_assert_int_eq(err, count > 0 ? LAMP_END : LAMP_BAD_SOURCE);
    ck_assert(count > 0 || error.sentence[0] != '\0');
    *is_warned = source != NULL && lamp_source_warning(source, 0) != NULL;
    lamp_source_free(source);
    return count;
}

START_TEST(a_clip_that_is_cut_off_gives_what_is_there)
{
    static unsigned char bytes[1 << 20];
    struct clip_plan plan = {.encoder = cuttable[_i].encoder,
                             .format = cuttable[_i].format,
                             .width_px = 96,
                             .height_px = 80,
                             .picture_count = 60,
                             .has_index_first = true};
    char whole[256];
    (void)snprintf(whole, sizeof whole, "%s", scratch_path(cuttable[_i].whole));
    if (!make_clip(&plan, whole)) {
        printf("skipped: %s cannot be made here\n", cuttable[_i].whole);
        return;
    }
    size_t size = read_bytes(whole, bytes, sizeof bytes);
    bool is_warned = true;
    ck_assert_uint_eq(read_through(whole, &is_warned), 60);
    ck_assert(!is_warned);
    enum { CUTS = 45 };
    for (size_t i = 1; i < CUTS; i++) {
        write_bytes(whole, bytes, size * i / CUTS);
        uint64_t count = read_through(whole, &is_warned);
        ck_assert_uint_le(count, 60);
        ck_assert(count == 0 || is_warned || count > 52 || !cuttable[_i].needs_warning);
        ck_assert(i < CUTS * 3 / 4 || count >= 30);
    }
}
END_TEST

START_TEST(a_clip_with_broken_bytes_gives_what_is_whole)
{
    static unsigned char bytes[1 << 20];
    struct clip_plan plan = {.encoder = cuttable[_i].encoder,
                             .format = cuttable[_i].format,
                             .width_px = 96,
                             .height_px = 80,
                             .picture_count = 60,
                             .has_index_first = true};
    char path[256];
    (void)snprintf(path, sizeof path, "%s", scratch_path(cuttable[_i].whole));
    if (!make_clip(&plan, path)) {
        printf("skipped: %s cannot be made here\n", cuttable[_i].whole);
        return;
    }
    size_t size = read_bytes(path, bytes, sizeof bytes);
    uint32_t draw = 20260101; /* Seed of the bytes that break: a linear congruential generator. */
    for (int round = 0; round < 30; round++) {
        static unsigned char broken[1 << 20];
        memcpy(broken, bytes, size);
        for (int i = 0; i < 1 + round; i++) {
            draw = draw * 1664525 + 1013904223;
            broken[(draw >> 8) % size] = (unsigned char)(draw >> 24);
        }
        write_bytes(path, broken, size);
        bool is_warned;
        ck_assert_uint_le(read_through(path, &is_warned), 200);
    }
}
END_TEST

START_TEST(a_recording_cut_off_before_its_index_says_so)
{
    static unsigned char bytes[1 << 20];
    struct clip_plan plan = {.encoder = "mjpeg",
                             .format = AV_PIX_FMT_YUVJ420P,
                             .width_px = 64,
                             .height_px = 64,
                             .picture_count = 10};
    ck_assert(make_clip(&plan, scratch_path("indexless.mov")));
    size_t size = read_bytes(scratch_path("indexless.mov"), bytes, sizeof bytes);
    write_bytes(scratch_path("indexless.mov"), bytes, size / 2);
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error;
    ck_assert_int_eq(lamp_source_open(scratch_path("indexless.mov"), &rules, &source, &error),
                     LAMP_BAD_SOURCE);
    ck_assert_ptr_null(source);
    ck_assert_ptr_nonnull(strstr(error.sentence, "index"));
}
END_TEST

START_TEST(a_change_of_picture_size_ends_the_clip_with_a_warning)
{
    static unsigned char bytes[1 << 20];
    struct clip_plan plan = {.encoder = "mjpeg",
                             .format = AV_PIX_FMT_YUVJ420P,
                             .width_px = 64,
                             .height_px = 64,
                             .picture_count = 5};
    ck_assert(make_clip(&plan, scratch_path("small.mjpeg")));
    size_t size = read_bytes(scratch_path("small.mjpeg"), bytes, sizeof bytes);
    plan.width_px = 96;
    ck_assert(make_clip(&plan, scratch_path("large.mjpeg")));
    size += read_bytes(scratch_path("large.mjpeg"), bytes + size, sizeof bytes - size);
    write_bytes(scratch_path("both.mjpeg"), bytes, size);
    struct lamp_source *source = open_source(scratch_path("both.mjpeg"));
    struct lamp_item item;
    for (int i = 0; i < 5; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_int_eq(item.frame.y.width_px, 64);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert(has_warning(source, "from 64x64 to 96x64"));
    lamp_source_free(source);
}
END_TEST

START_TEST(other_streams_are_not_read)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error;
    /* A WAV header has no video: no container of ours, and said in one line. */
    static const unsigned char wave[] =
        "RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\1\0\1\0\x40\x1f\0\0\x80\x3e\0\0\2\0\x10\0data\0\0\0";
    write_bytes(scratch_path("sound.wav"), wave, sizeof wave);
    ck_assert_int_eq(lamp_source_open(scratch_path("sound.wav"), &rules, &source, &error),
                     LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "expected a video file"));
}
END_TEST

/* Recordings of real boards with pictures and length counted by others. */
static const struct {
    const char *file;
    uint64_t picture_count;
    double duration_s;
} footage[] = {
    {"02.gif", 29, 2.9},    {"04.gif", 118, 11.8}, {"06.gif", 8, 2.0},
    {"10.mp4", 163, 5.433}, {"13.gif", 40, 4.0},   {"15.gif", 12, 2.4},
    {"17.gif", 12, 2.4},    {"21.mp4", 91, 3.05},  {"23.gif", 150, 6.0},
};

START_TEST(real_recordings_have_the_pictures_and_length_that_were_counted)
{
    const char *where = getenv("LAMPREAD_FOOTAGE");
    if (where == NULL) {
        printf("skipped: LAMPREAD_FOOTAGE names no folder of recordings\n");
        return;
    }
    char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", where, footage[_i].file);
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    ck_assert_uint_eq(info.frame_count, footage[_i].picture_count);
    ck_assert_double_eq_tol(info.duration_s, footage[_i].duration_s, 0.001);
    ck_assert_uint_eq(info.dropped_count, 0);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    TCase *all = suite_begin("source_clip");
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    tcase_add_loop_test(all, every_coding_gives_its_pictures_at_their_times, 0, COUNT(codings));
    tcase_add_loop_test(all, a_varying_rate_is_read_by_its_time_stamps, 0, 2);
    tcase_add_test(all, pictures_that_the_time_stamps_miss_are_counted);
    tcase_add_loop_test(all, the_turn_that_shows_a_clip_upright_is_told, 0, 4);
    tcase_add_loop_test(all, a_frame_stays_readable_while_four_more_are_taken, 0, 2);
    tcase_add_loop_test(all, the_meaning_of_code_values_is_told, 0, COUNT(colours));
    tcase_add_test(all, pictures_of_an_animation_are_full_range_and_keep_their_lengths);
    tcase_add_loop_test(all, a_clip_that_is_cut_off_gives_what_is_there, 0, COUNT(cuttable));
    tcase_add_loop_test(all, a_clip_with_broken_bytes_gives_what_is_whole, 0, COUNT(cuttable));
    tcase_add_test(all, a_recording_cut_off_before_its_index_says_so);
    tcase_add_test(all, a_change_of_picture_size_ends_the_clip_with_a_warning);
    tcase_add_test(all, other_streams_are_not_read);
    tcase_add_loop_test(all, real_recordings_have_the_pictures_and_length_that_were_counted, 0,
                        COUNT(footage));
    int status = suite_end();
    scratch_end();
    return status;
}
