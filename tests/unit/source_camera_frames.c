/* source_camera_frames.c - What becomes of a camera's frames: counts, words, planes. */
/* layers: base source */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "source/camera_count.h"
#include "source/camera_picture.h"
#include "source/camera_words.h"
#include "support/suite.h"

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))
#define MS         INT64_C(1000000)

/* -- stamps and sequence numbers -- */

static bool count_one(struct lamp_count *count, uint32_t sequence, int64_t t_ns, int64_t *out)
{
    const struct lamp_video_frame frame = {
        .sequence = sequence, .t_ns = t_ns, .is_by_driver = true};
    return lamp_count_frame(count, &frame, out);
}

START_TEST(gaps_in_the_sequence_are_frames_lost)
{
    static const uint32_t sequence[] = {7, 8, 10, 11, 15, UINT32_MAX, 0, 2, 1};
    struct lamp_count count = {.has_first = false};
    static struct lamp_notes notes;
    int64_t t_ns = 0;
    for (uint32_t i = 0; i < 5; i++) {
        ck_assert(count_one(&count, sequence[i], 1000 * MS + i * 33 * MS, &t_ns));
        ck_assert_int_eq(t_ns, i * 33 * MS);
    }
    ck_assert_uint_eq(count.lost, 4);
    ck_assert_int_eq(count.origin_ns, 1000 * MS);
    /* A driver that counts anew, and numbers that wrap. */
    for (uint32_t i = 5; i < sizeof sequence / sizeof *sequence; i++) {
        ck_assert(count_one(&count, sequence[i], 2000 * MS + i * 33 * MS, &t_ns));
    }
    ck_assert_uint_eq(count.lost, 5);
    lamp_count_tell(&count, &notes);
    ck_assert_uint_eq(notes.count, 1);
    ck_assert_ptr_nonnull(strstr(lamp_notes_at(&notes, 0), "frames lost on the way"));
}
END_TEST

START_TEST(damaged_and_backward_frames_are_left_out_and_counted)
{
    struct lamp_count count = {.has_first = false};
    static struct lamp_notes notes;
    const struct lamp_video_frame damaged = {.sequence = 2, .t_ns = 40, .is_damaged = true};
    const struct lamp_video_frame by_arrival = {.sequence = 4, .t_ns = 60};
    int64_t t_ns = 0;
    ck_assert(count_one(&count, 1, 20, &t_ns));
    ck_assert(!lamp_count_frame(&count, &damaged, &t_ns));
    ck_assert(count_one(&count, 3, 50, &t_ns));
    ck_assert(!count_one(&count, 4, 45, &t_ns));
    ck_assert(lamp_count_frame(&count, &by_arrival, &t_ns));
    ck_assert_uint_eq(count.lost, 0);
    ck_assert_uint_eq(count.broken, 1);
    ck_assert_uint_eq(count.backward, 1);
    ck_assert_uint_eq(count.unstamped, 1);
    lamp_count_tell(&count, &notes);
    ck_assert_uint_eq(notes.count, 3);
}
END_TEST

/* -- words -- */

static const struct {
    enum lamp_camera_step step;
    int problem;
    const char *what, *remedy;
} troubles[] = {
    {LAMP_CAMERA_OPENING, EACCES, "no permission", "group \"video\""},
    {LAMP_CAMERA_OPENING, EBUSY, "another program", "close"},
    {LAMP_CAMERA_SETTING, EBUSY, "another program", "close"},
    {LAMP_CAMERA_OPENING, ENOTTY, "neither a camera nor a pin", "/dev/video0"},
    {LAMP_CAMERA_OPENING, ENODEV, "not there any more", "plug it in"},
    {LAMP_CAMERA_SETTING, ENOSPC, "no room left", "another port"},
    {LAMP_CAMERA_SETTING, EINVAL, "refuses this picture size", "lampread sources"},
    {LAMP_CAMERA_READING, ENODEV, "unplugged", "start anew"},
    {LAMP_CAMERA_READING, EIO, "went away", "plug it in"},
};

START_TEST(what_is_wrong_with_a_camera_is_said_with_what_to_do)
{
    const char *said = lamp_camera_trouble(troubles[_i].step, troubles[_i].problem);
    ck_assert_msg(strstr(said, troubles[_i].what) != NULL, "%s", said);
    ck_assert_msg(strstr(said, troubles[_i].remedy) != NULL, "%s", said);
    ck_assert_uint_lt(strlen(said), LAMP_SENTENCE_MAX);
}
END_TEST

START_TEST(a_device_that_is_no_camera_is_told_from_one)
{
    ck_assert_ptr_null(lamp_camera_unfit(LAMP_VIDEO_CAMERA));
    ck_assert_ptr_nonnull(strstr(lamp_camera_unfit(LAMP_VIDEO_METADATA), "neighbour"));
    ck_assert_ptr_nonnull(strstr(lamp_camera_unfit(LAMP_VIDEO_MUTE), "cannot stream"));
    ck_assert_ptr_nonnull(strstr(lamp_camera_unfit(LAMP_VIDEO_OTHER), "no pictures"));
}
END_TEST

/* -- planes -- */

/* A picture of 5 x 3 whose luma is 10 * row + column, Cb 100 + ..., Cr 200 + ... of its own pixels.
 */
static const struct {
    enum lamp_video_format format;
    int stride;
    size_t size;
    uint8_t bytes[64];
    int chroma_width, chroma_height;
} layouts[] = {
    {LAMP_VIDEO_GREY,
     6,
     18,
     {0, 1, 2, 3, 4, 99, 10, 11, 12, 13, 14, 99, 20, 21, 22, 23, 24, 99},
     0,
     0},
    {LAMP_VIDEO_NV12,
     6,
     30,
     {0,  1,  2,  3,   4,   99,  10,  11,  12,  13,  14,  99,  20,  21,  22,
      23, 24, 99, 100, 200, 101, 201, 102, 202, 110, 210, 111, 211, 112, 212},
     3,
     2},
    {LAMP_VIDEO_YU12,
     6,
     30,
     {0,  1,  2,  3,   4,   99,  10,  11,  12,  13,  14,  99,  20,  21,  22,
      23, 24, 99, 100, 101, 102, 110, 111, 112, 200, 201, 202, 210, 211, 212},
     3,
     2},
    {LAMP_VIDEO_YUYV,
     0,
     36,
     {0,  100, 1,  200, 2,  101, 3,  201, 4,  102, 99, 202, 10, 110, 11, 210, 12, 111,
      13, 211, 14, 112, 99, 212, 20, 120, 21, 220, 22, 121, 23, 221, 24, 122, 99, 222},
     3,
     3},
};

static int code_at(const struct lamp_plane *plane, int x, int y)
{
    return ((const uint8_t *)plane->at)[plane->stride_bytes * y + x];
}

START_TEST(bare_pictures_come_apart_into_planes)
{
    const struct lamp_video_layout layout = {
        .mode = {.format = layouts[_i].format, .width_px = 5, .height_px = 3},
        .stride_bytes = layouts[_i].stride,
        .matrix = LAMP_MATRIX_BT709};
    struct lamp_developer *developer = NULL;
    struct lamp_frame frame;
    const struct lamp_picture_part some = {1, 3, 1, 2};
    ck_assert_int_eq(lamp_developer_new(&layout, &developer), LAMP_OK);
    ck_assert_int_eq(
        lamp_developer_push(developer, layouts[_i].bytes, layouts[_i].size - 1, &some, &frame),
        LAMP_BAD_SOURCE);
    ck_assert_int_eq(
        lamp_developer_push(developer, layouts[_i].bytes, layouts[_i].size, &some, &frame),
        LAMP_OK);
    ck_assert(!frame.is_partial && !frame.is_full_range && frame.bits == 8);
    ck_assert_int_eq(frame.matrix, LAMP_MATRIX_BT709);
    for (int i = 0; i < 15; i++) {
        ck_assert_int_eq(code_at(&frame.y, i % 5, i / 5), 10 * (i / 5) + i % 5);
    }
    ck_assert_int_eq(frame.u.width_px, layouts[_i].chroma_width);
    ck_assert_int_eq(frame.u.height_px, layouts[_i].chroma_height);
    for (int i = 0; i < layouts[_i].chroma_width * layouts[_i].chroma_height; i++) {
        ck_assert_int_eq(code_at(&frame.u, i % 3, i / 3), 100 + 10 * (i / 3) + i % 3);
        ck_assert_int_eq(code_at(&frame.v, i % 3, i / 3), 200 + 10 * (i / 3) + i % 3);
    }
    lamp_developer_free(developer);
}
END_TEST

START_TEST(a_picture_stays_readable_while_it_is_kept)
{
    const struct lamp_video_layout layout = {
        .mode = {.format = LAMP_VIDEO_GREY, .width_px = 4, .height_px = 2}};
    const struct lamp_picture_part all = {.end_row_px = 0};
    struct lamp_developer *developer = NULL;
    struct lamp_frame frame[LAMP_FRAMES_KEPT + 1];
    ck_assert_int_eq(lamp_developer_new(&layout, &developer), LAMP_OK);
    for (int i = 0; i <= LAMP_FRAMES_KEPT; i++) {
        uint8_t bytes[8];
        memset(bytes, 10 + i, sizeof bytes);
        ck_assert_int_eq(lamp_developer_push(developer, bytes, 8, &all, &frame[i]), LAMP_OK);
        memset(bytes, 0, sizeof bytes);
    }
    for (int i = 0; i <= LAMP_FRAMES_KEPT; i++) {
        ck_assert_int_eq(code_at(&frame[i].y, 3, 1), 10 + i);
    }
    lamp_developer_free(developer);
}
END_TEST

int main(void)
{
    TCase *all = suite_begin("source_camera_frames");
    tcase_set_timeout(all, SUITE_TIMEOUT_S);
    tcase_add_test(all, gaps_in_the_sequence_are_frames_lost);
    tcase_add_test(all, damaged_and_backward_frames_are_left_out_and_counted);
    tcase_add_loop_test(all, what_is_wrong_with_a_camera_is_said_with_what_to_do, 0,
                        COUNT(troubles));
    tcase_add_test(all, a_device_that_is_no_camera_is_told_from_one);
    tcase_add_loop_test(all, bare_pictures_come_apart_into_planes, 0, COUNT(layouts));
    tcase_add_test(all, a_picture_stays_readable_while_it_is_kept);
    return suite_end();
}
