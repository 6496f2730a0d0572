/* pipeline_select.c - Lamps are kept, their reflections and what is no lamp are not; names are
 * never shared. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/select.h"

#include <string.h>

#include "pipeline/naming.h"
#include "support/suite.h"
#include "unit/pipeline_support.h"

static const int64_t blink_ms[] = {200, 300};
static const int64_t other_ms[] = {410, 370};

static struct lamp_sighting sighting_of(const struct made_strand *made, enum lamp_verdict verdict,
                                        int x_px, double brightness)
{
    static size_t place;
    return (struct lamp_sighting){.view = made->view,
                                  .rhythm = {.verdict = verdict},
                                  .has_region = true,
                                  .region = {x_px, 50, 10, 10},
                                  .place = place++,
                                  .likeness = 0.9F,
                                  .shine = 0.9F,
                                  .colour = LAMP_COLOUR_GREEN,
                                  .brightness = brightness};
}

START_TEST(what_is_told_comes_first_then_the_undecided_then_the_steady_each_by_brightness)
{
    struct made_strand blink;
    struct made_strand other;
    struct made_strand steady;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    make_constant(&steady, 0.9);
    struct lamp_sighting all[] = {sighting_of(&steady, LAMP_VERDICT_STEADY_ON, 400, 0.9),
                                  sighting_of(&other, LAMP_VERDICT_UNDECIDED, 600, 0.7),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.2),
                                  sighting_of(&other, LAMP_VERDICT_BLINK, 200, 0.5)};
    const int order_px[] = {200, 10, 600, 400};
    ck_assert_uint_eq(lamp_select(all, 4), 4);
    for (size_t i = 0; i < 4; i++) {
        ck_assert_int_eq(all[i].region.x_px, order_px[i]);
    }
}
END_TEST

START_TEST(a_reflection_belongs_to_its_lamp)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 300, 0.1),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    ck_assert_uint_eq(lamp_select(all, 2), 1);
    ck_assert_int_eq(all[0].region.x_px, 10);
    ck_assert_int_eq(all[1].left_out, LAMP_LEFT_OUT_REFLECTION);
}
END_TEST

/* In a part that shines close by; the lamp itself is driven white and measured by its rim. */
START_TEST(a_small_image_beside_a_lamp_belongs_to_it_though_it_seems_as_bright)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 25, 0.24),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.22)};
    all[0].region.w_px = 4;
    all[0].core = 0.6F;
    all[1].core = 1;
    ck_assert_uint_eq(lamp_select(all, 2), 1);
    ck_assert_int_eq(all[0].region.x_px, 10);
}
END_TEST

START_TEST(a_lamp_driven_white_is_no_image_of_the_larger_part_that_it_lights_up)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 25, 0.24),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.22)};
    all[0].region.w_px = 4;
    all[0].core = 1;
    all[1].core = 0.6F;
    (void)lamp_select(all, 2);
    ck_assert_int_eq(all[0].region.x_px, 25);
}
END_TEST

START_TEST(a_lamp_seen_again_after_a_break_is_told_once)
{
    struct made_strand blink;
    struct made_strand again;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&again, true, blink_ms, 2, 3);
    for (size_t i = 0; i < 3; i++) {
        again.length[i].start_ns += 10000 * MS;
    }
    struct lamp_sighting all[] = {sighting_of(&again, LAMP_VERDICT_UNDECIDED, 11, 0.6),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.5)};
    ck_assert_uint_eq(lamp_select(all, 2), 1);
    ck_assert_int_eq(all[0].region.x_px, 10);
}
END_TEST

START_TEST(two_lamps_in_one_place_at_one_time_are_both_told)
{
    struct made_strand blink;
    struct made_strand other;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&other, LAMP_VERDICT_UNDECIDED, 11, 0.6),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.5)};
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

/* Half of its edges are lost or moved. */
START_TEST(a_poor_image_of_a_lamp_is_no_lamp_of_its_own)
{
    static const int64_t poor_ms[] = {200, 300, 200, 800};
    struct made_strand blink;
    struct made_strand poor;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&poor, true, poor_ms, 4, 12);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.5),
                                  sighting_of(&poor, LAMP_VERDICT_UNDECIDED, 25, 0.4)};
    all[0].core = all[1].core = 1;
    ck_assert_uint_eq(lamp_select(all, 2), 1);
    ck_assert_int_eq(all[0].region.x_px, 10);
}
END_TEST

START_TEST(a_small_lamp_beside_another_that_blinks_otherwise_is_told)
{
    struct made_strand blink;
    struct made_strand other;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&other, LAMP_VERDICT_BLINK, 25, 0.24),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.22)};
    all[0].region.w_px = 4;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

START_TEST(a_small_lamp_that_blinks_with_another_far_away_is_told)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 300, 0.24),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.22)};
    all[0].region.w_px = 4;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

START_TEST(two_equal_lamps_that_blink_together_are_both_told)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 300, 0.7),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

START_TEST(a_weak_lamp_of_another_colour_is_no_reflection)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 300, 0.1),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    all[0].colour = LAMP_COLOUR_RED;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
    all[1].colour = LAMP_COLOUR_WHITE;
    all[0].left_out = LAMP_LEFT_OUT_NOT;
    ck_assert_uint_eq(lamp_select(all, 2), 1);
}
END_TEST

START_TEST(one_place_found_twice_is_one_lamp)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 12, 0.75),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    ck_assert_uint_eq(lamp_select(all, 2), 1);
    ck_assert_int_eq(all[0].region.x_px, 10);
}
END_TEST

START_TEST(two_colours_of_one_place_are_both_told)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.1),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    all[0].place = all[1].place;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

START_TEST(the_mixture_of_a_two_colour_lamp_found_again_is_no_third_lamp)
{
    struct made_strand blink;
    struct made_strand other;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.4),
                                  sighting_of(&other, LAMP_VERDICT_BLINK, 10, 0.3),
                                  sighting_of(&other, LAMP_VERDICT_FLICKER, 14, 0.8)};
    all[1].place = all[0].place;
    all[0].parts = all[1].parts = 2;
    all[2].parts = 1;
    ck_assert_uint_eq(lamp_select(all, 3), 2);
    ck_assert_uint_eq(all[0].parts, 2);
    ck_assert_uint_eq(all[1].parts, 2);
}
END_TEST

START_TEST(what_is_far_more_than_light_told_apart_is_no_mixture_with_it)
{
    struct made_strand blink;
    struct made_strand other;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.1),
                                  sighting_of(&other, LAMP_VERDICT_BLINK, 14, 0.8)};
    all[0].parts = 2;
    all[1].parts = 1;
    all[1].region.w_px = all[1].region.h_px = 30;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

START_TEST(irregular_change_that_does_not_look_like_a_lamp_is_a_hand)
{
    struct made_strand other;
    make_strand(&other, true, other_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&other, LAMP_VERDICT_FLICKER, 10, 0.8)};
    all[0].likeness = all[0].shine = 0.3F;
    ck_assert_uint_eq(lamp_select(all, 1), 0);
    all[0].likeness = all[0].shine = 0.8F;
    ck_assert_uint_eq(lamp_select(all, 1), 1);
}
END_TEST

START_TEST(irregular_change_dimmer_than_white_parts_is_a_hand_and_a_dim_rhythm_a_lamp)
{
    struct made_strand made;
    make_strand(&made, true, blink_ms, 2, 20);
    const enum lamp_verdict irregular[] = {LAMP_VERDICT_FLICKER, LAMP_VERDICT_FADE,
                                           LAMP_VERDICT_UNDECIDED};
    for (size_t i = 0; i < sizeof irregular / sizeof *irregular; i++) {
        struct lamp_sighting one = sighting_of(&made, irregular[i], 10, 0.2);
        one.view.shape =
            (struct lamp_light_shape){.shape = LAMP_SHAPE_TWO_LEVEL, .percent_flicker = 90};
        one.over_white = 0.3F;
        ck_assert_uint_eq(lamp_select(&one, 1), 0);
        one.over_white = 0.9F;
        ck_assert_uint_eq(lamp_select(&one, 1), 1);
        one.over_white = 0.65F; /* as skin in bright light, or a dim lamp */
        ck_assert_uint_eq(lamp_select(&one, 1), irregular[i] == LAMP_VERDICT_UNDECIDED);
        one.view.shape.soft_share = 0.7; /* as what moves */
        ck_assert_uint_eq(lamp_select(&one, 1), 0);
        one.over_white = 0; /* not known */
        ck_assert_uint_eq(lamp_select(&one, 1), 1);
    }
    struct lamp_sighting blink = sighting_of(&made, LAMP_VERDICT_BLINK, 10, 0.2);
    blink.over_white = 0.3F;
    ck_assert_uint_eq(lamp_select(&blink, 1), 1);
}
END_TEST

START_TEST(weak_irregular_change_beside_a_strong_lamp_has_to_shine_and_be_driven)
{
    struct made_strand blink;
    struct made_strand other;
    make_strand(&blink, true, blink_ms, 2, 20);
    make_strand(&other, true, other_ms, 2, 20);
    static const struct {
        float shine;
        float core;
        size_t lamps;
    } cases[] = {{0.1F, 0.9F, 1}, {0.8F, 0.5F, 1}, {0.8F, 0.9F, 2}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8),
                                      sighting_of(&other, LAMP_VERDICT_FLICKER, 300, 0.03)};
        all[1].colour = LAMP_COLOUR_RED;
        all[1].view.shape.percent_flicker = 60;
        all[1].shine = cases[i].shine;
        all[1].core = cases[i].core;
        ck_assert_uint_eq(lamp_select(all, 2), cases[i].lamps);
    }
}
END_TEST

START_TEST(irregular_change_by_a_few_percent_has_to_shine_as_a_steady_lamp_does)
{
    struct made_strand made;
    make_strand(&made, true, other_ms, 2, 20);
    struct lamp_sighting one = sighting_of(&made, LAMP_VERDICT_FLICKER, 10, 0.8);
    one.view.has_shape = true;
    one.shine = 0.1F;
    one.view.shape.percent_flicker = 7; /* as a pin of gold in a shaking picture */
    ck_assert_uint_eq(lamp_select(&one, 1), 0);
    one.shine = 0.8F;
    ck_assert_uint_eq(lamp_select(&one, 1), 1);
    one.shine = 0.1F;
    one.view.shape.percent_flicker = 30;
    ck_assert_uint_eq(lamp_select(&one, 1), 1);
    one.view.count = 1; /* as a shadow that passes */
    ck_assert_uint_eq(lamp_select(&one, 1), 0);
    one.view.count = made.view.count;
    one.rhythm.verdict = LAMP_VERDICT_BLINK;
    one.view.shape.percent_flicker = 7;
    ck_assert_uint_eq(lamp_select(&one, 1), 1);
}
END_TEST

START_TEST(steady_glare_is_no_lamp_unless_it_is_pointed_at)
{
    struct made_strand steady;
    make_constant(&steady, 0.9);
    struct lamp_sighting all[] = {sighting_of(&steady, LAMP_VERDICT_STEADY_ON, 10, 0.9)};
    all[0].likeness = all[0].shine = 0.4F;
    ck_assert_uint_eq(lamp_select(all, 1), 0);
    all[0].is_pointed = true;
    ck_assert_uint_eq(lamp_select(all, 1), 1);
}
END_TEST

START_TEST(darkness_is_told_only_where_the_user_pointed)
{
    struct made_strand dark;
    make_constant(&dark, 0);
    struct lamp_sighting all[] = {sighting_of(&dark, LAMP_VERDICT_STEADY_OFF, 10, 0)};
    ck_assert_uint_eq(lamp_select(all, 1), 0);
    all[0].is_pointed = true;
    ck_assert_uint_eq(lamp_select(all, 1), 1);
}
END_TEST

START_TEST(a_pointed_lamp_is_never_taken_for_the_light_of_another)
{
    struct made_strand blink;
    make_strand(&blink, true, blink_ms, 2, 20);
    struct lamp_sighting all[] = {sighting_of(&blink, LAMP_VERDICT_BLINK, 300, 0.1),
                                  sighting_of(&blink, LAMP_VERDICT_BLINK, 10, 0.8)};
    all[0].is_pointed = true;
    ck_assert_uint_eq(lamp_select(all, 2), 2);
}
END_TEST

/* ---- names ---- */

static const struct lamp_book_lamp lamps[] = {{.name = "power", .colour = LAMP_COLOUR_RED},
                                              {.name = "status", .colour = LAMP_COLOUR_GREEN}};
static const struct lamp_book book = {.id = "tern-t2", .lamp_count = 2, .lamp = lamps};
static const struct lamp_book *const books[] = {&book, &book};

START_TEST(a_lamp_is_called_as_the_book_calls_the_only_one_of_its_colour)
{
    struct lamp_sighting all[2] = {{.colour = LAMP_COLOUR_GREEN}, {.colour = LAMP_COLOUR_BLUE}};
    char name[2][LAMP_NAME_MAX];
    lamp_name_all(all, 2, books, 1, name);
    ck_assert_str_eq(name[0], "status");
    ck_assert_str_eq(name[1], "lamp-2");
}
END_TEST

START_TEST(two_lamps_of_one_colour_take_no_name_from_the_book)
{
    struct lamp_sighting all[2] = {{.colour = LAMP_COLOUR_GREEN}, {.colour = LAMP_COLOUR_GREEN}};
    char name[2][LAMP_NAME_MAX];
    lamp_name_all(all, 2, books, 1, name);
    ck_assert_str_eq(name[0], "lamp-1");
    ck_assert_str_eq(name[1], "lamp-2");
}
END_TEST

START_TEST(two_books_give_no_names)
{
    struct lamp_sighting all[1] = {{.colour = LAMP_COLOUR_GREEN}};
    char name[1][LAMP_NAME_MAX];
    lamp_name_all(all, 1, books, 2, name);
    ck_assert_str_eq(name[0], "lamp-1");
}
END_TEST

START_TEST(the_users_name_stands_and_is_not_given_again)
{
    struct lamp_sighting all[2] = {{.colour = LAMP_COLOUR_GREEN},
                                   {.colour = LAMP_COLOUR_RED, .name = "status"}};
    char name[2][LAMP_NAME_MAX];
    lamp_name_all(all, 2, books, 1, name);
    ck_assert_str_eq(name[0], "lamp-1");
    ck_assert_str_eq(name[1], "status");
}
END_TEST

START_TEST(two_lamps_in_one_pointed_place_are_told_apart_by_colour)
{
    const char *given = "bus";
    struct lamp_sighting all[2] = {{.colour = LAMP_COLOUR_GREEN, .name = given},
                                   {.colour = LAMP_COLOUR_RED, .name = given}};
    char name[2][LAMP_NAME_MAX];
    lamp_name_all(all, 2, NULL, 0, name);
    ck_assert_str_eq(name[0], "bus-green");
    ck_assert_str_eq(name[1], "bus-red");
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        what_is_told_comes_first_then_the_undecided_then_the_steady_each_by_brightness,
        a_reflection_belongs_to_its_lamp,
        a_small_image_beside_a_lamp_belongs_to_it_though_it_seems_as_bright,
        a_lamp_driven_white_is_no_image_of_the_larger_part_that_it_lights_up,
        a_poor_image_of_a_lamp_is_no_lamp_of_its_own,
        a_lamp_seen_again_after_a_break_is_told_once,
        two_lamps_in_one_place_at_one_time_are_both_told,
        a_small_lamp_beside_another_that_blinks_otherwise_is_told,
        a_small_lamp_that_blinks_with_another_far_away_is_told,
        two_equal_lamps_that_blink_together_are_both_told,
        a_weak_lamp_of_another_colour_is_no_reflection,
        one_place_found_twice_is_one_lamp,
        two_colours_of_one_place_are_both_told,
        the_mixture_of_a_two_colour_lamp_found_again_is_no_third_lamp,
        what_is_far_more_than_light_told_apart_is_no_mixture_with_it,
        irregular_change_that_does_not_look_like_a_lamp_is_a_hand,
        irregular_change_dimmer_than_white_parts_is_a_hand_and_a_dim_rhythm_a_lamp,
        weak_irregular_change_beside_a_strong_lamp_has_to_shine_and_be_driven,
        irregular_change_by_a_few_percent_has_to_shine_as_a_steady_lamp_does,
        steady_glare_is_no_lamp_unless_it_is_pointed_at,
        darkness_is_told_only_where_the_user_pointed,
        a_pointed_lamp_is_never_taken_for_the_light_of_another,
        a_lamp_is_called_as_the_book_calls_the_only_one_of_its_colour,
        two_lamps_of_one_colour_take_no_name_from_the_book,
        two_books_give_no_names,
        the_users_name_stands_and_is_not_given_again,
        two_lamps_in_one_pointed_place_are_told_apart_by_colour};
    return suite_run("select", tests, sizeof tests / sizeof tests[0]);
}
