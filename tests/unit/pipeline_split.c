/* pipeline_split.c - A two-colour lamp is two lamps in one place; a lamp of mixed colour is one. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/split.h"

#include "support/suite.h"
#include "unit/pipeline_support.h"

static const int64_t even_ms[] = {500};

/* The four strands of a place. */
struct made_place {
    struct made_strand strand[LAMP_CHANNEL_COUNT];
    struct lamp_unison unison;
};

static void decide(struct made_place *place, struct lamp_split *out)
{
    struct lamp_strand_view view[LAMP_CHANNEL_COUNT];
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        view[i] = place->strand[i].view;
    }
    lamp_split_decide(view, &place->unison, out);
}

static void make_dark(struct made_place *place)
{
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        make_constant(&place->strand[i], 0);
    }
}

START_TEST(a_green_lamp_is_one_lamp_read_by_all_its_light)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_ALL], true, even_ms, 1, 20);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
    ck_assert_int_eq(split.part[0].strand, LAMP_CHANNEL_ALL);
}
END_TEST

START_TEST(a_white_lamp_whose_channels_go_together_is_one_lamp)
{
    struct made_place place = {.unison = {.count = 0}};
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        make_strand(&place.strand[i], true, even_ms, 1, 20);
        place.strand[i].view.shape.lit_level = 0.3 + 0.1 * (double)i;
    }
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
}
END_TEST

/* The case of CiA 303-3: red and green by turns, whose sum hardly changes. */
START_TEST(red_and_green_by_turns_are_two_lamps_though_their_sum_is_steady)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], false, even_ms, 1, 20);
    make_constant(&place.strand[LAMP_CHANNEL_ALL], 0.17);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 2);
    for (size_t i = 0; i < 2; i++) {
        const struct lamp_part *part = &split.part[i];
        ck_assert(part->strand == LAMP_CHANNEL_RED || part->strand == LAMP_CHANNEL_GREEN);
        ck_assert(part->has_channel[part->strand]);
        ck_assert(!part->has_channel[LAMP_CHANNEL_BLUE]);
    }
    ck_assert_int_ne(split.part[0].strand, split.part[1].strand);
}
END_TEST

START_TEST(red_and_green_at_different_rates_are_two_lamps)
{
    const int64_t fast_ms[] = {200, 350};
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, fast_ms, 2, 40);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 2);
}
END_TEST

START_TEST(red_green_and_blue_each_at_its_own_time_are_three_lamps)
{
    const int64_t ms[3][2] = {{5000, 1000}, {1000, 1000}, {300, 700}};
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    for (size_t i = 0; i < 3; i++) {
        make_strand(&place.strand[i], true, ms[i], 2, 20);
    }
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 3);
}
END_TEST

START_TEST(yellow_and_blue_are_told_by_their_pairs_of_channels)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_BLUE], false, even_ms, 1, 20);
    place.strand[LAMP_CHANNEL_GREEN].view.shape.lit_level = 0.4;
    place.strand[LAMP_CHANNEL_BLUE].view.shape.lit_level = 0.3;
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 2);
    ck_assert(split.part[0].has_channel[LAMP_CHANNEL_RED] &&
              split.part[0].has_channel[LAMP_CHANNEL_GREEN]);
    ck_assert(split.part[1].has_channel[LAMP_CHANNEL_BLUE]);
}
END_TEST

/* Light that dips to all depths crosses the levels of each colour at other times. */
START_TEST(colours_that_dip_together_are_one_lamp_though_their_edges_differ)
{
    const int64_t other_ms[] = {230, 410};
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, other_ms, 2, 20);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 2);
    for (int i = 0; i < 100; i++) {
        const double level[3] = {0.1 * (i % 7), 0.08 * (i % 7) + 0.001 * (i % 3), 0};
        lamp_unison_push(&place.unison, level);
    }
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
}
END_TEST

START_TEST(unison_is_the_correlation_of_two_colours)
{
    struct lamp_unison unison = {.count = 0};
    ck_assert_double_eq_tol(lamp_unison_of(&unison, 0, 1), 0, 1e-12);
    /* Checked by hand: x = 1 2 3 4, y = 2 1 4 3 have r = 0.6; z = -x has r = -1. */
    const double x[] = {1, 2, 3, 4};
    const double y[] = {2, 1, 4, 3};
    for (int i = 0; i < 4; i++) {
        const double level[3] = {x[i], y[i], -x[i]};
        lamp_unison_push(&unison, level);
    }
    ck_assert_double_eq_tol(lamp_unison_of(&unison, 0, 1), 0.6, 1e-12);
    ck_assert_double_eq_tol(lamp_unison_of(&unison, 0, 2), -1, 1e-12);
    ck_assert_double_eq_tol(lamp_unison_of(&unison, 1, 1), 1, 1e-12);
}
END_TEST

START_TEST(a_weak_channel_is_left_over_crosstalk)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], false, even_ms, 1, 20);
    place.strand[LAMP_CHANNEL_GREEN].view.shape.lit_level = 0.1;
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
}
END_TEST

START_TEST(a_noisy_channel_is_no_lamp)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_strand(&place.strand[LAMP_CHANNEL_RED], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], false, even_ms, 1, 20);
    place.strand[LAMP_CHANNEL_GREEN].view.shape.noise = 0.2;
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
}
END_TEST

START_TEST(red_that_stays_on_while_green_blinks_is_a_second_lamp)
{
    struct made_place place = {.unison = {.count = 0}};
    make_dark(&place);
    make_constant(&place.strand[LAMP_CHANNEL_RED], 0.4);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, even_ms, 1, 20);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 2);
    ck_assert_int_eq(split.part[1].strand, LAMP_CHANNEL_RED);
}
END_TEST

START_TEST(a_lens_that_is_pale_in_room_light_is_no_second_lamp)
{
    struct made_place place = {.unison = {.count = 0}};
    make_constant(&place.strand[LAMP_CHANNEL_RED], 0.3);
    make_constant(&place.strand[LAMP_CHANNEL_BLUE], 0.25);
    make_strand(&place.strand[LAMP_CHANNEL_GREEN], true, even_ms, 1, 20);
    make_strand(&place.strand[LAMP_CHANNEL_ALL], true, even_ms, 1, 20);
    struct lamp_split split;
    decide(&place, &split);
    ck_assert_uint_eq(split.count, 1);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {a_green_lamp_is_one_lamp_read_by_all_its_light,
                                  a_white_lamp_whose_channels_go_together_is_one_lamp,
                                  red_and_green_by_turns_are_two_lamps_though_their_sum_is_steady,
                                  red_and_green_at_different_rates_are_two_lamps,
                                  red_green_and_blue_each_at_its_own_time_are_three_lamps,
                                  yellow_and_blue_are_told_by_their_pairs_of_channels,
                                  colours_that_dip_together_are_one_lamp_though_their_edges_differ,
                                  unison_is_the_correlation_of_two_colours,
                                  a_weak_channel_is_left_over_crosstalk,
                                  a_noisy_channel_is_no_lamp,
                                  red_that_stays_on_while_green_blinks_is_a_second_lamp,
                                  a_lens_that_is_pale_in_room_light_is_no_second_lamp};
    return suite_run("split", tests, sizeof tests / sizeof tests[0]);
}
