/* source_stills.c - Folders of numbered pictures. */
/* layers: base source */
#include <check.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "support/make_clip.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

/* A folder that holds nothing else. */
static const char *new_folder(void)
{
    static int number;
    static char path[256];
    (void)snprintf(path, sizeof path, "%s/s%d-%d", scratch_folder, (int)getpid(), number++);
    ck_assert_int_eq(mkdir(path, 0700), 0);
    return path;
}

static void add_bytes(const char *folder, const char *name, const void *bytes, size_t size)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    (void)fclose(file);
}

/* A PGM of one level, by its own short definition (netpbm's pgm(5)). */
static void add_pgm(const char *folder, const char *name, int side_px, int level)
{
    unsigned char bytes[64 * 64 + 32];
    int head = sprintf((char *)bytes, "P5 %d %d 255\n", side_px, side_px);
    memset(bytes + head, level, (size_t)(side_px * side_px));
    add_bytes(folder, name, bytes, (size_t)(head + side_px * side_px));
}

static unsigned first_pixel(const struct lamp_frame *frame)
{
    return *(const unsigned char *)frame->y.at;
}

START_TEST(pictures_come_in_the_order_of_their_numbers_and_a_gap_is_a_dropped_frame)
{
    const char *folder = new_folder();
    static const int numbers[] = {8, 9, 10, 11, 14, 100};
    for (int i = 5; i >= 0; i--) {
        char name[32];
        (void)snprintf(name, sizeof name, "frame%d.pgm", numbers[i]);
        add_pgm(folder, name, 16, numbers[i]);
    }
    struct lamp_source_rules rules = lamp_source_rules_default();
    rules.stills_rate_hz = 25;
    struct lamp_source *source = NULL;
    ck_assert_int_eq(lamp_source_open(folder, &rules, &source, NULL), LAMP_OK);
    struct lamp_item item;
    for (int i = 0; i < 6; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_int_eq(item.frame.t_ns, (numbers[i] - 8) * 40000000LL);
        ck_assert_uint_eq(first_pixel(&item.frame), (unsigned)numbers[i]);
        ck_assert(item.frame.is_full_range);
        ck_assert_ptr_null(item.frame.u.at);
        ck_assert_int_eq(item.frame.transfer, LAMP_TRANSFER_SRGB);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    struct lamp_source_info info = info_of(source);
    ck_assert_int_eq(info.kind, LAMP_SOURCE_STILLS);
    ck_assert_uint_eq(info.frame_count, 6);
    ck_assert_uint_eq(info.dropped_count, 93 - 6);
    ck_assert_double_eq_tol(info.duration_s, 93 / 25.0, 1e-9);
    ck_assert_double_eq(info.rate_hz, 25);
    ck_assert_int_eq(info.width_px, 16);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    ck_assert_double_eq(lamp_source_progress(source), 1);
    lamp_source_free(source);
}
END_TEST

static const struct {
    const char *ending;
    const char *encoder;
    enum AVPixelFormat format;
    int most; /* Coding error of a level. */
} pictures[] = {
    {"png", "png", AV_PIX_FMT_RGB24, 1},      {"PNG", "png", AV_PIX_FMT_GRAY8, 0},
    {"jpg", "mjpeg", AV_PIX_FMT_YUVJ420P, 3}, {"bmp", "bmp", AV_PIX_FMT_BGR24, 1},
    {"tif", "tiff", AV_PIX_FMT_RGB24, 1},     {"ppm", "ppm", AV_PIX_FMT_RGB24, 1},
};

START_TEST(every_kind_of_picture_is_read)
{
    const char *folder = new_folder();
    char pattern[512];
    (void)snprintf(pattern, sizeof pattern, "%s/p%%03d.%s", folder, pictures[_i].ending);
    struct clip_plan plan = {.encoder = pictures[_i].encoder,
                             .format = pictures[_i].format,
                             .width_px = 48,
                             .height_px = 32,
                             .picture_count = 8};
    if (!make_clip(&plan, pattern)) {
        printf("skipped: no %s encoder here\n", pictures[_i].encoder);
        return;
    }
    struct lamp_source *source = open_source(folder);
    struct lamp_item item;
    for (int i = 0; i < 8; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_double_eq_tol(first_pixel(&item.frame), planned_level(i),
                                pictures[_i].most + 0.5);
        ck_assert(item.frame.is_full_range);
        ck_assert_int_eq(item.frame.transfer, LAMP_TRANSFER_SRGB);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

START_TEST(what_does_not_belong_to_the_series_is_left_out_with_a_warning)
{
    const char *folder = new_folder();
    add_pgm(folder, "a1.pgm", 16, 10);
    add_pgm(folder, "a2.pgm", 16, 20);
    add_pgm(folder, "a02.pgm", 16, 99);
    add_pgm(folder, "a3.pgm", 32, 30);
    add_bytes(folder, "a4.pgm", "P5 16 16 255\nshort", 18);
    add_bytes(folder, "a5.pgm", "", 0);
    add_pgm(folder, "a6.pgm", 16, 60);
    add_pgm(folder, "b1.pgm", 16, 70);
    add_pgm(folder, "cover.pgm", 16, 80);
    add_pgm(folder, "a1234567890.pgm", 16, 90);
    add_bytes(folder, "a7.txt", "text", 4);
    struct lamp_source *source = open_source(folder);
    struct lamp_item item;
    static const unsigned levels[] = {10, 20, 60};
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_uint_eq(first_pixel(&item.frame), levels[i]);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert(has_warning(source, "other pictures in the folder, not of the series: 2"));
    ck_assert(has_warning(source, "not 16x16 like the first: 1"));
    ck_assert(has_warning(source, "cannot be decoded: 2, first a4.pgm"));
    ck_assert_uint_eq(info_of(source).dropped_count, 3);
    lamp_source_free(source);
}
END_TEST

/* An APP1 segment with one Exif tag, ExposureTime = 1/50 s, and one with Orientation 6: "the 0th
 * row is the visual right-hand side" (Exif 2.3, 4.6.4), so that a quarter turn clockwise shows it
 * upright. */
static const unsigned char exif[] = {0xff, 0xe1, 0,    84,   'E', 'x', 'i', 'f', 0, 0,
                                     'M',  'M',  0,    42,   0,   0,   0,   8, /* header, first
                                                                                  directory at 8 */
                                     0,    2,    0x01, 0x12, 0,   3,   0,   0,   0, 1,
                                     0,    6,    0,    0, /* Orientation, SHORT, 6 */
                                     0x87, 0x69, 0,    4,    0,   0,   0,   1,   0, 0,
                                     0,    38,   0,    0,    0,   0, /* Exif directory at 38 */
                                     0,    1,    0x82, 0x9a, 0,   5,   0,   0,   0, 1,
                                     0,    0,    0,    56,   0,   0,   0,   0, /* ExposureTime,
                                                                                  RATIONAL at 56 */
                                     0,    0,    0,    1,    0,   0,   0,   50,  0, 0,
                                     0,    0,    0,    0,    0,   0,   0,   0,   0, 0};

START_TEST(what_a_camera_wrote_into_a_picture_is_told)
{
    ck_assert_uint_eq(sizeof exif, 86);
    const char *folder = new_folder();
    char pattern[512];
    static unsigned char bytes[1 << 16];
    (void)snprintf(pattern, sizeof pattern, "%s/p%%d.jpg", folder);
    struct clip_plan plan = {.encoder = "mjpeg",
                             .format = AV_PIX_FMT_YUVJ420P,
                             .width_px = 48,
                             .height_px = 32,
                             .picture_count = 1};
    ck_assert(make_clip(&plan, pattern));
    (void)snprintf(pattern, sizeof pattern, "%s/p1.jpg", folder);
    FILE *file = fopen(pattern, "rb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fread(bytes, 1, 2, file), 2);
    memcpy(bytes + 2, exif, sizeof exif);
    size_t size = 2 + sizeof exif + fread(bytes + 2 + sizeof exif, 1, sizeof bytes - 100, file);
    (void)fclose(file);
    add_bytes(folder, "p1.jpg", bytes, size);
    struct lamp_source *source = open_source(folder);
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
    ck_assert_int_eq(item.frame.exposure_ns, 20000000);
    ck_assert_int_eq(info_of(source).rotation_deg, 90);
    lamp_source_free(source);
}
END_TEST

START_TEST(a_folder_without_a_readable_picture_is_refused)
{
    struct lamp_error error;
    const char *folder = new_folder();
    ck_assert_int_eq(read_whole(folder, &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "no numbered pictures"));
    add_bytes(folder, "p1.png", "not a picture", 13);
    ck_assert_int_eq(read_whole(folder, &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "first p1.png"));
}
END_TEST

START_TEST(a_frame_rate_that_cannot_be_is_refused)
{
    const char *folder = new_folder();
    add_pgm(folder, "a1.pgm", 16, 10);
    static const double rates[] = {0, -1, 1e9, __builtin_nan("")};
    struct lamp_source_rules rules = lamp_source_rules_default();
    rules.stills_rate_hz = rates[_i];
    struct lamp_source *source = NULL;
    ck_assert_int_eq(lamp_source_open(folder, &rules, &source, NULL), LAMP_BAD_USE);
    ck_assert_ptr_null(source);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_stills");
    tcase_add_test(all, pictures_come_in_the_order_of_their_numbers_and_a_gap_is_a_dropped_frame);
    tcase_add_loop_test(all, every_kind_of_picture_is_read, 0, COUNT(pictures));
    tcase_add_test(all, what_does_not_belong_to_the_series_is_left_out_with_a_warning);
    tcase_add_test(all, what_a_camera_wrote_into_a_picture_is_told);
    tcase_add_test(all, a_folder_without_a_readable_picture_is_refused);
    tcase_add_loop_test(all, a_frame_rate_that_cannot_be_is_refused, 0, 4);
    int status = suite_end();
    scratch_end();
    return status;
}
