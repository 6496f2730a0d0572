/* source_jpeg.c - Parts of a JPEG picture equal the whole one; broken ones are refused. */
/* layers: base rhythm codebook light source render */
#include "source/jpeg.h"

#include <stdlib.h>
#include <string.h>

#include "lampread/render.h"
#include "support/jpeg_make.h"
#include "support/suite.h"

enum { WIDTH = 328, HEIGHT = 186 }; /* no whole number of blocks either way */

static const struct jpeg_kind kinds[] = {
    {.across = 2, .down = 1, .quality = 85},
    {.across = 2, .down = 2, .quality = 75},
    {.across = 1, .down = 1, .quality = 95},
    {.across = 1, .down = 2, .quality = 90},
    {.across = 4, .down = 1, .quality = 80},
    {.is_grey = true, .quality = 90},
    {.across = 2, .down = 1, .quality = 85, .restart_rows = 1},
};
enum { KINDS = sizeof kinds / sizeof *kinds };

static struct jpeg_bytes picture(const struct jpeg_kind *kind)
{
    struct lamp_scene_rules scene = lamp_scene_rules_default();
    struct lamp_renderer *renderer = NULL;
    struct lamp_frame frame;
    scene.width_px = WIDTH;
    scene.height_px = HEIGHT;
    scene.read_noise = 0.02; /* so that no two rows are alike */
    ck_assert_int_eq(lamp_renderer_new(&scene, &renderer, NULL), LAMP_OK);
    ck_assert(lamp_renderer_next(renderer, &frame));
    struct jpeg_bytes made = jpeg_make(&frame, kind);
    lamp_renderer_free(renderer);
    return made;
}

static const struct lamp_picture_part all = {.end_row_px = 0};

static enum lamp_err decode(const void *bytes, size_t size, struct lamp_picture_part part,
                            struct lamp_room *room, struct lamp_frame *out)
{
    struct lamp_jpeg *jpeg = NULL;
    const struct lamp_jpeg_wish wish = {WIDTH, HEIGHT, part};
    ck_assert_int_eq(lamp_jpeg_new(&jpeg), LAMP_OK);
    enum lamp_err err = lamp_jpeg_decode(jpeg, (struct lamp_coded){bytes, size}, &wish, room, out);
    lamp_jpeg_free(jpeg);
    return err;
}

/* How many rows of a plane differ, of the part that the luma of `part` stands for. */
static int rows_apart(const struct lamp_plane *a, const struct lamp_plane *b,
                      const struct lamp_picture_part *part)
{
    int apart = 0;
    if (a->at == NULL || b->at == NULL) {
        return a->at != b->at;
    }
    ck_assert_int_eq(a->width_px, b->width_px);
    ck_assert_int_eq(a->height_px, b->height_px);
    int end_row = (part->end_row_px * a->height_px + HEIGHT - 1) / HEIGHT;
    int column = part->first_column_px * a->width_px / WIDTH;
    int end_column = (part->end_column_px * a->width_px + WIDTH - 1) / WIDTH;
    for (int y = part->first_row_px * a->height_px / HEIGHT; y < end_row; y++) {
        apart += memcmp((const uint8_t *)a->at + y * a->stride_bytes + column,
                        (const uint8_t *)b->at + y * b->stride_bytes + column,
                        (size_t)(end_column - column)) != 0;
    }
    return apart;
}

static const struct lamp_picture_part parts[] = {
    {0, WIDTH, 0, 1},
    {0, WIDTH, 0, 40},
    {0, WIDTH, 17, 33},
    {0, WIDTH, 60, 61},
    {0, WIDTH, 90, 140},
    {0, WIDTH, 100, HEIGHT},
    {0, WIDTH, HEIGHT - 1, HEIGHT},
    {0, 1, 0, 1},
    {0, 100, 17, 33},
    {50, 51, 60, 61},
    {120, 200, 0, 140},
    {215, WIDTH, 100, HEIGHT},
    {WIDTH - 1, WIDTH, HEIGHT - 1, HEIGHT},
    {70, 71, 0, HEIGHT},
};

/* Whole blocks are decoded: of so many pixels either way at most. */
static void expect_close(const struct lamp_picture_part *part,
                         const struct lamp_picture_part *wanted)
{
    enum { BLOCKS_PX = 2 * 4 * 8 };
    bool is_narrow = 2 * (wanted->end_column_px - wanted->first_column_px) < WIDTH;
    ck_assert_int_le(part->first_column_px, wanted->first_column_px);
    ck_assert_int_ge(part->end_column_px, wanted->end_column_px);
    ck_assert_int_le(part->first_row_px, wanted->first_row_px);
    ck_assert_int_ge(part->end_row_px, wanted->end_row_px);
    ck_assert_int_lt(part->end_row_px - part->first_row_px,
                     wanted->end_row_px - wanted->first_row_px + BLOCKS_PX);
    ck_assert(!is_narrow || part->end_column_px - part->first_column_px <
                                wanted->end_column_px - wanted->first_column_px + BLOCKS_PX);
}

START_TEST(a_part_is_that_of_the_whole_picture)
{
    struct jpeg_bytes coded = picture(&kinds[_i]);
    struct lamp_room rooms[2] = {{NULL, 0}, {NULL, 0}};
    struct lamp_frame whole;
    ck_assert_int_eq(decode(coded.at, coded.size, all, &rooms[0], &whole), LAMP_OK);
    ck_assert(!whole.is_partial && whole.is_full_range);
    ck_assert_int_eq(whole.y.width_px, WIDTH);
    ck_assert_int_eq(whole.y.height_px, HEIGHT);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        struct lamp_frame part;
        free(rooms[1].at);
        rooms[1] = (struct lamp_room){NULL, 0};
        ck_assert_int_eq(decode(coded.at, coded.size, parts[i], &rooms[1], &part), LAMP_OK);
        ck_assert(part.is_partial);
        expect_close(&part.part, &parts[i]);
        ck_assert_int_eq(rows_apart(&whole.y, &part.y, &part.part), 0);
        ck_assert_int_eq(rows_apart(&whole.u, &part.u, &part.part), 0);
        ck_assert_int_eq(rows_apart(&whole.v, &part.v, &part.part), 0);
    }
    free(rooms[0].at);
    free(rooms[1].at);
    free(coded.at);
}
END_TEST

START_TEST(a_picture_that_is_cut_off_is_refused)
{
    struct jpeg_bytes coded = picture(&kinds[_i]);
    struct lamp_room room = {NULL, 0};
    struct lamp_frame frame;
    for (size_t percent = 0; percent < 95; percent += 5) {
        ck_assert_int_eq(decode(coded.at, coded.size * percent / 100, all, &room, &frame),
                         LAMP_BAD_SOURCE);
    }
    free(room.at);
    free(coded.at);
}
END_TEST

START_TEST(rows_before_a_cut_can_still_be_read)
{
    struct jpeg_bytes coded = picture(&kinds[0]);
    struct lamp_room room = {NULL, 0};
    struct lamp_frame frame;
    for (int end_column_px = 100; end_column_px <= WIDTH; end_column_px += WIDTH - 100) {
        const struct lamp_picture_part above = {0, end_column_px, 0, 24};
        const struct lamp_picture_part below = {0, end_column_px, 160, 180};
        ck_assert_int_eq(decode(coded.at, coded.size / 2, above, &room, &frame), LAMP_OK);
        ck_assert_int_eq(decode(coded.at, coded.size / 2, below, &room, &frame), LAMP_BAD_SOURCE);
    }
    free(room.at);
    free(coded.at);
}
END_TEST

START_TEST(a_missing_end_marker_does_not_matter)
{
    struct jpeg_bytes coded = picture(&kinds[0]);
    struct lamp_room room = {NULL, 0};
    struct lamp_frame frame;
    ck_assert_int_eq(decode(coded.at, coded.size - 2, all, &room, &frame), LAMP_OK);
    free(room.at);
    free(coded.at);
}
END_TEST

/* One decoder takes good and broken pictures by turns, as a camera sends them. Under the sanitizers
 * nothing may be read or written out of bounds, and a good picture reads the same as before. */
START_TEST(broken_bytes_do_no_harm)
{
    struct jpeg_bytes coded = picture(&kinds[_i]);
    struct lamp_room rooms[2] = {{NULL, 0}, {NULL, 0}};
    const struct lamp_jpeg_wish wish[] = {{WIDTH, HEIGHT, all},
                                          {WIDTH, HEIGHT, {0, WIDTH, 64, 96}},
                                          {WIDTH, HEIGHT, {90, 200, 64, 96}}};
    struct lamp_jpeg *jpeg = NULL;
    struct lamp_frame good;
    struct lamp_frame frame;
    unsigned char *bad = malloc(coded.size);
    uint32_t chance = 12345 + (uint32_t)_i;
    ck_assert_ptr_nonnull(bad);
    ck_assert_int_eq(lamp_jpeg_new(&jpeg), LAMP_OK);
    ck_assert_int_eq(lamp_jpeg_decode(jpeg, (struct lamp_coded){coded.at, coded.size}, &wish[0],
                                      &rooms[0], &good),
                     LAMP_OK);
    for (int round = 0; round < 400; round++) {
        memcpy(bad, coded.at, coded.size);
        for (int flips = round % 7; flips >= 0; flips--) {
            chance = chance * 1664525U + 1013904223U;
            /* Half of them fall into the tables at the front. */
            size_t range = round % 2 == 0 ? coded.size : 640;
            bad[(chance >> 8) % range] ^= (unsigned char)(1U << (chance & 7));
        }
        chance = chance * 1664525U + 1013904223U;
        size_t size = round % 3 == 0 ? (chance >> 8) % (coded.size + 1) : coded.size;
        enum lamp_err err = lamp_jpeg_decode(jpeg, (struct lamp_coded){bad, size},
                                             &wish[round % 5 % 3], &rooms[1], &frame);
        ck_assert(err == LAMP_OK || err == LAMP_BAD_SOURCE);
    }
    ck_assert_int_eq(lamp_jpeg_decode(jpeg, (struct lamp_coded){coded.at, coded.size}, &wish[0],
                                      &rooms[1], &frame),
                     LAMP_OK);
    ck_assert_int_eq(rows_apart(&good.y, &frame.y, &good.part), 0);
    ck_assert_int_eq(rows_apart(&good.v, &frame.v, &good.part), 0);
    lamp_jpeg_free(jpeg);
    free(rooms[0].at);
    free(rooms[1].at);
    free(bad);
    free(coded.at);
}
END_TEST

START_TEST(pictures_of_another_kind_or_size_are_refused)
{
    const struct jpeg_kind progressive = {
        .across = 2, .down = 2, .quality = 80, .is_progressive = true};
    struct jpeg_bytes coded = picture(&progressive);
    struct jpeg_bytes plain = picture(&kinds[0]);
    const struct lamp_jpeg_wish larger = {.width_px = 2 * WIDTH, .height_px = HEIGHT};
    struct lamp_room room = {NULL, 0};
    struct lamp_jpeg *jpeg = NULL;
    struct lamp_frame frame;
    ck_assert_int_eq(decode(coded.at, coded.size, all, &room, &frame), LAMP_BAD_SOURCE);
    ck_assert_int_eq(decode("no picture at all", 17, all, &room, &frame), LAMP_BAD_SOURCE);
    ck_assert_int_eq(lamp_jpeg_new(&jpeg), LAMP_OK);
    ck_assert_int_eq(
        lamp_jpeg_decode(jpeg, (struct lamp_coded){plain.at, plain.size}, &larger, &room, &frame),
        LAMP_BAD_SOURCE);
    lamp_jpeg_free(jpeg);
    free(room.at);
    free(coded.at);
    free(plain.at);
}
END_TEST

int main(void)
{
    TCase *tests = suite_begin("source_jpeg");
    tcase_set_timeout(tests, SUITE_TIMEOUT_S);
    tcase_add_loop_test(tests, a_part_is_that_of_the_whole_picture, 0, KINDS);
    tcase_add_loop_test(tests, a_picture_that_is_cut_off_is_refused, 0, KINDS);
    tcase_add_test(tests, rows_before_a_cut_can_still_be_read);
    tcase_add_test(tests, a_missing_end_marker_does_not_matter);
    tcase_add_loop_test(tests, broken_bytes_do_no_harm, 0, KINDS);
    tcase_add_test(tests, pictures_of_another_kind_or_size_are_refused);
    return suite_end();
}
