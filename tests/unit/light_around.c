/* light_around.c - What is before a place is told by its surroundings, and light is not taken for
 * it. */
/* layers: base light */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/around.h"
#include "support/suite.h"

enum { SIDE = 120, MIDDLE = SIDE / 2, RADIUS = 5 };

/* A grey picture in codes. */
struct drawn {
    uint8_t code[SIDE * SIDE];
};

static const struct lamp_spot spot = {.centre = {MIDDLE, MIDDLE}, .radius_px = RADIUS};
static const struct lamp_point here = {0, 0};

/* 0 to 1, the same each time. */
static double chance_of(unsigned cell, unsigned seed)
{
    unsigned mixed = cell + seed * 0x9E3779B9U;
    for (int i = 0; i < 3; i++) {
        mixed = (mixed ^ (mixed >> 15)) * 0x846CA68BU;
    }
    return (double)(mixed >> 16) / 65535;
}

/* Tracks and parts: a grain three pixels wide. */
static void draw_texture(struct drawn *drawn, unsigned seed, double mean, double span)
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        const unsigned cell = (unsigned)(k / SIDE / 3 * SIDE + k % SIDE / 3);
        drawn->code[k] = (uint8_t)(mean + span * (chance_of(cell, seed) - 0.5));
    }
}

static void add_light(struct drawn *drawn, double x, double y, double reach, double codes)
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        const double away = hypot(k % SIDE - x, k / SIDE - y) / reach;
        const double code = drawn->code[k] + codes / pow(1 + away * away, 1.5);
        drawn->code[k] = (uint8_t)fmin(code, 255);
    }
}

static void dim(struct drawn *drawn, double share)
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        drawn->code[k] = (uint8_t)(drawn->code[k] * share);
    }
}

static struct lamp_held held_of(struct drawn *drawn)
{
    struct lamp_held held = {.motion = lamp_motion_none(),
                             .frame = {.bits = 8, .is_full_range = true}};
    held.frame.y = (struct lamp_plane){drawn->code, SIDE, SIDE, SIDE};
    return held;
}

static bool take(struct lamp_around *around, struct drawn *lit, struct drawn *dark)
{
    const struct lamp_held on = held_of(lit);
    const struct lamp_held off = held_of(dark);
    return lamp_around_take(around, &on, &off, &spot, here);
}

static float look(struct lamp_around *around, struct drawn *drawn)
{
    const struct lamp_held held = held_of(drawn);
    return lamp_around_look(around, &held, &spot, here);
}

/* A board whose lamp is lit and dark. */
struct board {
    struct drawn lit, dark;
    struct lamp_around around;
};

static void set_up(struct board *board)
{
    memset(board, 0, sizeof *board);
    draw_texture(&board->dark, 1, 60, 30);
    board->lit = board->dark;
    add_light(&board->lit, MIDDLE, MIDDLE, RADIUS, 200);
    ck_assert(take(&board->around, &board->lit, &board->dark));
    ck_assert(board->around.is_known);
}

START_TEST(a_place_is_clear_lit_and_dark)
{
    static struct board board;
    set_up(&board);
    ck_assert_float_ge(look(&board.around, &board.lit), LAMP_AROUND_CLEAR);
    ck_assert_float_ge(look(&board.around, &board.dark), LAMP_AROUND_CLEAR);
}
END_TEST

START_TEST(a_hand_before_a_place_covers_it)
{
    static struct board board;
    static struct drawn hand;
    set_up(&board);
    draw_texture(&hand, 2, 120, 12);
    ck_assert_float_lt(look(&board.around, &hand), LAMP_AROUND_COVERED);
}
END_TEST

START_TEST(a_shadow_covers_nothing)
{
    static struct board board;
    set_up(&board);
    dim(&board.dark, 0.5);
    ck_assert_float_ge(look(&board.around, &board.dark), LAMP_AROUND_CLEAR);
}
END_TEST

START_TEST(the_light_of_another_lamp_covers_nothing)
{
    static struct board board;
    set_up(&board);
    add_light(&board.dark, MIDDLE + 40, MIDDLE, 20, 180);
    ck_assert_float_ge(look(&board.around, &board.dark), LAMP_AROUND_CLEAR);
}
END_TEST

/* The lamp's own light is all that shows there. */
START_TEST(in_a_dark_room_nothing_is_told)
{
    static struct board board;
    memset(&board, 0, sizeof board);
    draw_texture(&board.dark, 1, 4, 2);
    board.lit = board.dark;
    add_light(&board.lit, MIDDLE, MIDDLE, RADIUS, 200);
    ck_assert(take(&board.around, &board.lit, &board.dark));
    ck_assert(!board.around.is_known);
    ck_assert_float_ge(look(&board.around, &board.dark), 1);
}
END_TEST

START_TEST(a_lamp_that_a_hand_hides_was_not_seen_going_dark)
{
    static struct board board;
    static struct drawn hand;
    memset(&board, 0, sizeof board);
    draw_texture(&board.lit, 1, 60, 30);
    add_light(&board.lit, MIDDLE, MIDDLE, RADIUS, 200);
    draw_texture(&hand, 2, 120, 12);
    ck_assert(!take(&board.around, &board.lit, &hand));
    ck_assert_float_ge(look(&board.around, &board.lit), LAMP_AROUND_CLEAR);
    ck_assert_float_lt(look(&board.around, &hand), LAMP_AROUND_COVERED);
}
END_TEST

/* A board that turns slowly, or a part that drifts in the picture. */
START_TEST(what_changes_slowly_is_followed)
{
    static struct board board;
    static struct drawn now;
    static struct drawn other;
    set_up(&board);
    draw_texture(&other, 3, 60, 30);
    for (int step = 0; step <= 400; step++) {
        for (int k = 0; k < SIDE * SIDE; k++) {
            now.code[k] =
                (uint8_t)(board.dark.code[k] + (other.code[k] - board.dark.code[k]) * step / 400.0);
        }
        ck_assert_float_ge(look(&board.around, &now), LAMP_AROUND_CLEAR);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_place_is_clear_lit_and_dark,   a_hand_before_a_place_covers_it,
        a_shadow_covers_nothing,         the_light_of_another_lamp_covers_nothing,
        in_a_dark_room_nothing_is_told,  a_lamp_that_a_hand_hides_was_not_seen_going_dark,
        what_changes_slowly_is_followed,
    };
    return suite_run("light_around", tests, sizeof tests / sizeof *tests);
}
