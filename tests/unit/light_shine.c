/* light_shine.c - Lamps that only shine are told from parts by what they shed around. */
/* layers: base rhythm codebook light render */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "lampread/light.h"
#include "lampread/render.h"
#include "light/shine.h"
#include "support/suite.h"

enum { SIDE = 200, MIDDLE = SIDE / 2, RADIUS = 8 };

/* A picture as light, R, G, B at each pixel. */
struct drawn {
    float rgb[SIDE][SIDE][3];
    uint8_t plane[3][SIDE * SIDE];
};

/* Blue boards with a grain that is the same each time. */
static void draw_board(struct drawn *drawn)
{
    unsigned state = 1;
    for (int k = 0; k < SIDE * SIDE; k++) {
        state = state * 1664525U + 1013904223U;
        const float grain = 0.9F + 0.2F * (float)(state >> 24) / 255;
        float *rgb = drawn->rgb[k / SIDE][k % SIDE];
        rgb[0] = 0.03F * grain;
        rgb[1] = 0.06F * grain;
        rgb[2] = 0.16F * grain;
    }
}

static void draw_box(struct drawn *drawn, int x, int y, int half_w, int half_h, const float rgb[3])
{
    for (int j = y - half_h; j <= y + half_h; j++) {
        for (int i = x - half_w; i <= x + half_w; i++) {
            for (int c = 0; c < 3; c++) {
                drawn->rgb[j][i][c] = rgb[c];
            }
        }
    }
}

/* Light that falls off with the distance in radii, added to what is there. */
static void draw_shed(struct drawn *drawn, int x, int y, const float rgb[3])
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        const float away = hypotf((float)(k % SIDE - x), (float)(k / SIDE - y)) / RADIUS;
        for (int c = 0; c < 3; c++) {
            drawn->rgb[k / SIDE][k % SIDE][c] += rgb[c] / powf(1 + away * away, 1.5F);
        }
    }
}

/* BT.709, 4:4:4, linear, full range: light as codes. */
static struct lamp_frame frame_of(struct drawn *drawn)
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        const float *rgb = drawn->rgb[k / SIDE][k % SIDE];
        const float y = 0.2126F * rgb[0] + 0.7152F * rgb[1] + 0.0722F * rgb[2];
        drawn->plane[0][k] = (uint8_t)fminf(255 * y + 0.5F, 255);
        drawn->plane[1][k] = (uint8_t)(128 + 255 * (rgb[2] - y) / 1.8556F + 0.5F);
        drawn->plane[2][k] = (uint8_t)(128 + 255 * (rgb[0] - y) / 1.5748F + 0.5F);
    }
    struct lamp_frame frame = {.bits = 8,
                               .matrix = LAMP_MATRIX_BT709,
                               .transfer = LAMP_TRANSFER_LINEAR,
                               .is_full_range = true};
    frame.y = (struct lamp_plane){drawn->plane[0], SIDE, SIDE, SIDE};
    frame.u = (struct lamp_plane){drawn->plane[1], SIDE, SIDE, SIDE};
    frame.v = (struct lamp_plane){drawn->plane[2], SIDE, SIDE, SIDE};
    return frame;
}

static struct lamp_glow glow_at(struct drawn *drawn, double x, double y)
{
    const struct lamp_held held = {.frame = frame_of(drawn), .motion = lamp_motion_none()};
    const struct lamp_held *const all[] = {&held};
    const struct lamp_spot spot = {.centre = {x, y}, .radius_px = RADIUS};
    struct lamp_linear linear = {.is_ready = false};
    struct lamp_glow glow = {0, 0};
    lamp_linear_set(&linear, &held.frame);
    ck_assert(
        lamp_glow_measure(&linear, all, 1, &spot, (struct lamp_offset){.x = 0, .y = 0}, &glow));
    return glow;
}

static const float orange[3] = {0.6F, 0.25F, 0.05F};
static const float pale[3] = {0.5F, 0.5F, 0.48F};

START_TEST(a_lamp_sheds_its_colour_on_all_sides)
{
    static struct drawn drawn;
    draw_board(&drawn);
    draw_box(&drawn, MIDDLE, MIDDLE, RADIUS, RADIUS, orange);
    draw_shed(&drawn, MIDDLE, MIDDLE, orange);
    ck_assert_float_gt(glow_at(&drawn, MIDDLE, MIDDLE).coloured, 0.1F);
}
END_TEST

START_TEST(the_colour_of_a_part_ends_where_the_part_ends)
{
    static struct drawn drawn;
    draw_board(&drawn);
    draw_box(&drawn, MIDDLE, MIDDLE, RADIUS, RADIUS, orange);
    ck_assert_float_lt(glow_at(&drawn, MIDDLE, MIDDLE).coloured, 0.03F);
}
END_TEST

START_TEST(parts_close_to_a_lamp_do_not_hide_what_it_sheds)
{
    static struct drawn drawn;
    draw_board(&drawn);
    draw_box(&drawn, MIDDLE + 22, MIDDLE, 6, 10, pale);
    draw_box(&drawn, MIDDLE - 4, MIDDLE - 28, 12, 5, pale);
    draw_box(&drawn, MIDDLE, MIDDLE, RADIUS, RADIUS, orange);
    draw_shed(&drawn, MIDDLE, MIDDLE, orange);
    ck_assert_float_gt(glow_at(&drawn, MIDDLE, MIDDLE).coloured, 0.1F);
}
END_TEST

START_TEST(a_part_in_the_light_of_a_lamp_beside_it_is_none)
{
    static struct drawn drawn;
    draw_board(&drawn);
    draw_box(&drawn, MIDDLE, MIDDLE, RADIUS, RADIUS, orange);
    draw_shed(&drawn, MIDDLE - 40, MIDDLE, orange);
    ck_assert_float_lt(glow_at(&drawn, MIDDLE, MIDDLE).coloured, 0.03F);
}
END_TEST

/* Gold pins in a black strip: neutral ground, as far as it goes, on a coloured board. */
START_TEST(neutral_ground_about_a_part_is_no_light)
{
    static const float black[3] = {0.03F, 0.03F, 0.03F};
    static struct drawn drawn;
    draw_board(&drawn);
    draw_box(&drawn, MIDDLE, MIDDLE, 90, 30, black);
    draw_box(&drawn, MIDDLE, MIDDLE, RADIUS, RADIUS, orange);
    ck_assert_float_lt(glow_at(&drawn, MIDDLE, MIDDLE).coloured, 0.05F);
}
END_TEST

START_TEST(what_is_mostly_out_of_the_picture_is_not_judged)
{
    static struct drawn drawn;
    draw_board(&drawn);
    const struct lamp_held held = {.frame = frame_of(&drawn), .motion = lamp_motion_none()};
    const struct lamp_held *const all[] = {&held};
    const struct lamp_spot spot = {.centre = {3, 3}, .radius_px = RADIUS};
    struct lamp_linear linear = {.is_ready = false};
    struct lamp_glow glow;
    lamp_linear_set(&linear, &held.frame);
    ck_assert(
        !lamp_glow_measure(&linear, all, 1, &spot, (struct lamp_offset){.x = 0, .y = 0}, &glow));
}
END_TEST

/* -- rendered boards -- */

struct board {
    struct lamp_viewer *viewer;
    struct lamp_renderer *renderer;
};

static struct board look(const struct lamp_scene_rules *scene)
{
    const struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct board board;
    struct lamp_frame frame;
    ck_assert_int_eq(lamp_renderer_new(scene, &board.renderer, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_new(&rules, &board.viewer), LAMP_OK);
    while (lamp_renderer_next(board.renderer, &frame)) {
        struct lamp_reading reading;
        ck_assert_int_eq(lamp_viewer_push(board.viewer, &frame), LAMP_OK);
        while (lamp_viewer_next(board.viewer, &reading)) {
        }
    }
    return board;
}

static void forget(struct board *board)
{
    lamp_viewer_free(board->viewer);
    lamp_renderer_free(board->renderer);
}

/* Shine of the place that shines most, on a lamp (0, 1, ...) or elsewhere (-1). */
static float shine_of(const struct board *board, int lamp, int lamps)
{
    float most = 0;
    for (size_t i = 0; i < lamp_viewer_place_count(board->viewer); i++) {
        struct lamp_place place;
        int on = -1;
        lamp_viewer_place(board->viewer, i, &place);
        for (int k = 0; k < lamps; k++) {
            const struct lamp_region truth = lamp_renderer_region(board->renderer, (size_t)k);
            const double dx =
                place.region.x_px + place.region.w_px / 2.0 - truth.x_px - truth.w_px / 2.0;
            const double dy =
                place.region.y_px + place.region.h_px / 2.0 - truth.y_px - truth.h_px / 2.0;
            on = hypot(dx, dy) < truth.w_px ? k : on;
        }
        if (on == lamp) {
            most = fmaxf(most, place.shine);
        }
    }
    return most;
}

static struct lamp_scene_rules lit_board(const struct lamp_scene_lamp *lamp, size_t count,
                                         double ambient, uint64_t seed)
{
    struct lamp_scene_rules scene = lamp_scene_rules_default();
    scene.lamp = lamp;
    scene.lamp_count = count;
    scene.ambient = ambient;
    scene.seed = seed;
    scene.shake_px = 1;
    scene.shutter.duration_ns = 2000000000;
    return scene;
}

static struct lamp_scene_lamp lamp_at(double x, double y, enum lamp_colour colour,
                                      double brightness)
{
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    lamp.x_px = x;
    lamp.y_px = y;
    lamp.colour = colour;
    lamp.brightness = brightness;
    return lamp;
}

/* A red, a green and a blue lamp from left to right, the middle one lower. */
struct three {
    double x, y;
    double across, down;
    double brightness;
};

/* @return how many of the three are found, lit throughout on one board. */
static int count_found(const struct three *three, double ambient, uint64_t seed)
{
    static const enum lamp_colour colours[] = {LAMP_COLOUR_RED, LAMP_COLOUR_GREEN,
                                               LAMP_COLOUR_BLUE};
    struct lamp_scene_lamp lamp[3];
    int found = 0;
    for (int k = 0; k < 3; k++) {
        lamp[k] = lamp_at(three->x + three->across * k, three->y + three->down * (k % 2),
                          colours[k], three->brightness);
    }
    const struct lamp_scene_rules scene = lit_board(lamp, 3, ambient, seed);
    struct board board = look(&scene);
    for (int k = 0; k < 3; k++) {
        found += shine_of(&board, k, 3) >= 0.5F;
    }
    forget(&board);
    return found;
}

/* White parts are driven to the top there, as the lamps are. */
START_TEST(steady_lamps_of_a_brightly_lit_board_are_found)
{
    int found = 0;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        const struct three three = {150, 110 + 10 * (double)seed, 170, 50, 9};
        found += count_found(&three, 0.18, seed);
    }
    ck_assert_int_ge(found, 11);
}
END_TEST

/* Driven to the top in one colour and nearly so in the others: a tinge is all that shows, and most
 * on the rim. */
START_TEST(most_steady_lamps_that_are_washed_out_are_found)
{
    int found = 0;
    for (uint64_t seed = 31; seed <= 38; seed++) {
        const struct three three = {130, 90 + 10 * (double)(seed - 30), 180, 60, 3};
        found += count_found(&three, 0.2, seed);
    }
    ck_assert_int_ge(found, 16); /* of 24; without the tint of their rims 11 */
}
END_TEST

START_TEST(a_bright_steady_white_lamp_is_found)
{
    int found = 0;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        const struct lamp_scene_lamp lamp = lamp_at(300, 170, LAMP_COLOUR_WHITE, 9);
        const struct lamp_scene_rules scene = lit_board(&lamp, 1, 0.08, seed);
        struct board board = look(&scene);
        found += shine_of(&board, 0, 1) >= 0.5F;
        forget(&board);
    }
    ck_assert_int_ge(found, 3);
}
END_TEST

/* @return how much the part shines that shines most. */
static float most_of_parts(double ambient, uint64_t seed)
{
    const struct lamp_scene_rules scene = lit_board(NULL, 0, ambient, seed);
    struct board board = look(&scene);
    float most = shine_of(&board, -1, 0);
    forget(&board);
    return most;
}

START_TEST(no_part_of_a_board_shines_in_any_light)
{
    static const double ambient[] = {0.03, 0.1, 0.22, 0.5};
    for (uint64_t k = 0; k < 12; k++) {
        ck_assert_msg(most_of_parts(ambient[k % 4], 20 + k) < 0.5F, "a part of board %d shines",
                      (int)(20 + k));
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_lamp_sheds_its_colour_on_all_sides,
        the_colour_of_a_part_ends_where_the_part_ends,
        parts_close_to_a_lamp_do_not_hide_what_it_sheds,
        a_part_in_the_light_of_a_lamp_beside_it_is_none,
        neutral_ground_about_a_part_is_no_light,
        what_is_mostly_out_of_the_picture_is_not_judged,
        steady_lamps_of_a_brightly_lit_board_are_found,
        most_steady_lamps_that_are_washed_out_are_found,
        a_bright_steady_white_lamp_is_found,
        no_part_of_a_board_shines_in_any_light,
    };
    return suite_run("light_shine", tests, sizeof tests / sizeof *tests);
}
