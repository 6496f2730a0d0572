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

static enum lamp_err decode(const void *bytes, size_t size, int first, int end,
                            struct lamp_room *room, struct lamp_frame *out)
{
    struct lamp_jpeg *jpeg = NULL;
    const struct lamp_jpeg_wish wish = {WIDTH, HEIGHT, first, end};
    ck_assert_int_eq(lamp_jpeg_new(&jpeg), LAMP_OK);
    enum lamp_err err = lamp_jpeg_decode(jpeg, (struct lamp_coded){bytes, size}, &wish, room, out);
    lamp_jpeg_free(jpeg);
    return err;
}

/* How many rows of a plane differ, of those that luma rows first..end-1 stand for. */
static int rows_apart(const struct lamp_plane *a, const struct lamp_plane *b, int first, int end)
{
    int apart = 0;
    if (a->at == NULL || b->at == NULL) {
        return a->at != b->at;
    }
    ck_assert_int_eq(a->width_px, b->width_px);
    ck_assert_int_eq(a->height_px, b->height_px);
    int last = (end * a->height_px + HEIGHT - 1) / HEIGHT;
    for (int y = first * a->height_px / HEIGHT; y < last; y++) {
        apart += memcmp((const uint8_t *)a->at + y * a->stride_bytes,
                        (const uint8_t *)b->at + y * b->stride_bytes, (size_t)a->width_px) != 0;
    }
    return apart;
}

static const struct {
    int first, end;
} parts[] = {{0, 1}, {0, 40}, {17, 33}, {60, 61}, {90, 140}, {100, HEIGHT}, {HEIGHT - 1, HEIGHT}};

START_TEST(rows_of_a_part_are_those_of_the_whole_picture)
{
    struct jpeg_bytes coded = picture(&kinds[_i]);
    struct lamp_room rooms[2] = {{NULL, 0}, {NULL, 0}};
    struct lamp_frame whole;
    ck_assert_int_eq(decode(coded.at, coded.size, 0, 0, &rooms[0], &whole), LAMP_OK);
    ck_assert(!whole.is_partial && whole.is_full_range);
    ck_assert_int_eq(whole.y.width_px, WIDTH);
    ck_assert_int_eq(whole.y.height_px, HEIGHT);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        struct lamp_frame part;
        free(rooms[1].at);
        rooms[1] = (struct lamp_room){NULL, 0};
        ck_assert_int_eq(
            decode(coded.at, coded.size, parts[i].first, parts[i].end, &rooms[1], &part), LAMP_OK);
        ck_assert(part.is_partial);
        ck_assert_int_le(part.first_row_px, parts[i].first);
        ck_assert_int_ge(part.end_row_px, parts[i].end);
        ck_assert_int_lt(part.end_row_px - part.first_row_px,
                         parts[i].end - parts[i].first + 2 * 16);
        ck_assert_int_eq(rows_apart(&whole.y, &part.y, part.first_row_px, part.end_row_px), 0);
        ck_assert_int_eq(rows_apart(&whole.u, &part.u, part.first_row_px, part.end_row_px), 0);
        ck_assert_int_eq(rows_apart(&whole.v, &part.v, part.first_row_px, part.end_row_px), 0);
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
        ck_assert_int_eq(decode(coded.at, coded.size * percent / 100, 0, 0, &room, &frame),
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
    ck_assert_int_eq(decode(coded.at, coded.size / 2, 0, 24, &room, &frame), LAMP_OK);
    ck_assert_int_eq(decode(coded.at, coded.size / 2, 160, 180, &room, &frame), LAMP_BAD_SOURCE);
    free(room.at);
    free(coded.at);
}
END_TEST

START_TEST(a_missing_end_marker_does_not_matter)
{
    struct jpeg_bytes coded = picture(&kinds[0]);
    struct lamp_room room = {NULL, 0};
    struct lamp_frame frame;
    ck_assert_int_eq(decode(coded.at, coded.size - 2, 0, 0, &room, &frame), LAMP_OK);
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
    const struct lamp_jpeg_wish all = {WIDTH, HEIGHT, 0, 0};
    const struct lamp_jpeg_wish some = {WIDTH, HEIGHT, 64, 96};
    struct lamp_jpeg *jpeg = NULL;
    struct lamp_frame good;
    struct lamp_frame frame;
    unsigned char *bad = malloc(coded.size);
    uint32_t chance = 12345 + (uint32_t)_i;
    ck_assert_ptr_nonnull(bad);
    ck_assert_int_eq(lamp_jpeg_new(&jpeg), LAMP_OK);
    ck_assert_int_eq(
        lamp_jpeg_decode(jpeg, (struct lamp_coded){coded.at, coded.size}, &all, &rooms[0], &good),
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
                                             round % 2 ? &all : &some, &rooms[1], &frame);
        ck_assert(err == LAMP_OK || err == LAMP_BAD_SOURCE);
    }
    ck_assert_int_eq(
        lamp_jpeg_decode(jpeg, (struct lamp_coded){coded.at, coded.size}, &all, &rooms[1], &frame),
        LAMP_OK);
    ck_assert_int_eq(rows_apart(&good.y, &frame.y, 0, HEIGHT), 0);
    ck_assert_int_eq(rows_apart(&good.v, &frame.v, 0, HEIGHT), 0);
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
    const struct lamp_jpeg_wish larger = {2 * WIDTH, HEIGHT, 0, 0};
    struct lamp_room room = {NULL, 0};
    struct lamp_jpeg *jpeg = NULL;
    struct lamp_frame frame;
    ck_assert_int_eq(decode(coded.at, coded.size, 0, 0, &room, &frame), LAMP_BAD_SOURCE);
    ck_assert_int_eq(decode("no picture at all", 17, 0, 0, &room, &frame), LAMP_BAD_SOURCE);
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
    TCase *all = suite_begin("source_jpeg");
    tcase_set_timeout(all, SUITE_TIMEOUT_S);
    tcase_add_loop_test(all, rows_of_a_part_are_those_of_the_whole_picture, 0, KINDS);
    tcase_add_loop_test(all, a_picture_that_is_cut_off_is_refused, 0, KINDS);
    tcase_add_test(all, rows_before_a_cut_can_still_be_read);
    tcase_add_test(all, a_missing_end_marker_does_not_matter);
    tcase_add_loop_test(all, broken_bytes_do_no_harm, 0, KINDS);
    tcase_add_test(all, pictures_of_another_kind_or_size_are_refused);
    return suite_end();
}
