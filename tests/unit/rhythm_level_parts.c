/* rhythm_level_parts.c - The parts of an edger, each by itself: tally, period, path, crossings,
 * exposure. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "rhythm/crossing.h"
#include "rhythm/level.h"
#include "rhythm/period.h"
#include "rhythm/place.h"
#include "rhythm/tally.h"
#include "rhythm/window.h"
#include "support/suite.h"

#define MS INT64_C(1000000)

static struct lamp_window window;

/* Fill the window, a sample every `interval_ms`. */
static void fill(const double *level, size_t count, int interval_ms, int exposure_ms)
{
    memset(&window, 0, sizeof window);
    for (size_t i = 0; i < count; i++) {
        const struct lamp_sample sample = {(int64_t)i * interval_ms * MS, exposure_ms * MS,
                                           level[i]};
        lamp_window_add(&window, &sample);
    }
    lamp_window_prepare(&window);
}

START_TEST(a_tally_keeps_quantiles_as_its_range_grows)
{
    static struct lamp_tally tally;
    memset(&tally, 0, sizeof tally);
    for (int i = 0; i <= 1000; i++) {
        lamp_tally_add(&tally, (double)i / 1000, 1);
    }
    ck_assert_double_eq_tol(lamp_tally_quantile(&tally, 0.5), 0.5, 0.004);
    ck_assert_double_eq_tol(lamp_tally_quantile(&tally, 0.99), 0.99, 0.004);
    ck_assert_double_eq_tol(lamp_tally_index(&tally), 0.25, 0.004);
    lamp_tally_add(&tally, -1, 1);
    ck_assert_double_eq_tol(lamp_tally_quantile(&tally, 0), -1, 0.004);
}
END_TEST

START_TEST(an_empty_tally_says_nothing)
{
    static const struct lamp_tally tally;
    ck_assert_double_eq(lamp_tally_quantile(&tally, 0.5), 0);
    ck_assert_double_eq(lamp_tally_index(&tally), 0);
}
END_TEST

START_TEST(a_quantile_is_a_value_in_order)
{
    double values[] = {5, 1, 4, 2, 3};
    ck_assert_double_eq(lamp_quantile(values, 5, 0), 1);
    ck_assert_double_eq(lamp_quantile(values, 5, 0.5), 3);
    ck_assert_double_eq(lamp_quantile(values, 5, 1), 5);
    ck_assert_double_eq(lamp_quantile(values, 0, 0.5), 0);
}
END_TEST

START_TEST(a_window_works_out_its_spans)
{
    static const double level[] = {0, 1, 0, 1};
    fill(level, 4, 40, 10);
    ck_assert_double_eq_tol(window.interval_s, 0.040, 1e-12);
    ck_assert_double_eq_tol(window.exposure_s, 0.010, 1e-12);
    ck_assert_double_eq_tol(window.t_s[3], 0.120, 1e-12);
    ck_assert_double_eq_tol(window.span_s[3], 0.040, 1e-12);
    ck_assert_double_lt(window.stamp_sd_s, 1e-12);
    window.decided = 2;
    lamp_window_drop(&window, 2);
    ck_assert_uint_eq(window.count, 2);
    ck_assert_uint_eq(window.decided, 0);
    ck_assert_int_eq(window.t_ns[0], 80 * MS);
}
END_TEST

START_TEST(a_period_is_found_only_where_there_is_one)
{
    static double level[600];
    for (size_t i = 0; i < 600; i++) {
        level[i] = 0.5 + 0.4 * sin(2 * 3.141592653589793 * (double)i * 0.033 / 1.7);
    }
    fill(level, 600, 33, 0);
    double strength;
    ck_assert_double_eq_tol(lamp_period_find(&window, &strength), 1.7, 0.01);
    ck_assert_double_gt(strength, 0.9);
    for (size_t i = 0; i < 600; i++) {
        level[i] = (double)i;
    }
    fill(level, 600, 33, 0);
    ck_assert_double_eq(lamp_period_find(&window, &strength), 0);
    fill(level, 3, 33, 0);
    ck_assert_double_eq(lamp_period_find(&window, &strength), 0);
}
END_TEST

static const struct lamp_light_model model = {.dark_sd = 0.02,
                                              .lit_sd = 0.02,
                                              .range = 1,
                                              .step = 1,
                                              .edge_share = 0.1,
                                              .exposed = 0.5,
                                              .pulse_share = 0.1,
                                              .soft_share = 0.05,
                                              .stray_share = 0.01};

/* Levels 0 and 1, known; `kinds` is what they are to be seen as: one letter a sample. */
static void check_path(const double *level, size_t count, const char *kinds)
{
    static const char letter[] = "DL/\\^vUS";
    fill(level, count, 33, 0);
    for (size_t i = 0; i < count; i++) {
        window.dark[i] = 0;
        window.lit[i] = 1;
    }
    (void)lamp_path_find(&window, &model);
    char seen[64] = "";
    for (size_t i = 0; i < count; i++) {
        seen[i] = letter[window.kind[i]];
    }
    ck_assert_str_eq(seen, kinds);
}

START_TEST(a_path_tells_part_lit_samples_flashes_and_soft_edges)
{
    check_path((const double[]){0, 0, 0, 1, 1, 1, 0, 0}, 8, "DDDLLLDD");
    check_path((const double[]){0, 0, 0.4, 1, 1, 0.7, 0, 0}, 8, "DD/LL\\DD");
    check_path((const double[]){0, 0, 0, 0.5, 0, 0, 0, 0}, 8, "DDD^DDDD");
    check_path((const double[]){1, 1, 1, 0.5, 1, 1, 1, 1}, 8, "LLLvLLLL");
    check_path((const double[]){0, 0, 0.2, 0.4, 0.6, 0.8, 1, 1}, 8, "DDUUUULL");
    check_path((const double[]){0, 0, 0.08, 0, 0, 0, 0, 0}, 8, "DDDDDDDD");
}
END_TEST

START_TEST(crossings_follow_the_kinds)
{
    check_path((const double[]){0, 0, 0.4, 1, 1, 0, 0, 0.5, 0, 0}, 10, "DD/LLDD^DD");
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    ck_assert_uint_eq(lamp_crossings_at(&window, 1, at), 0);
    ck_assert_uint_eq(lamp_crossings_at(&window, 2, at), 1);
    ck_assert_int_eq(at[0].how, LAMP_CROSSING_WITHIN);
    ck_assert(at[0].lit);
    ck_assert_uint_eq(lamp_crossings_at(&window, 5, at), 1);
    ck_assert_int_eq(at[0].how, LAMP_CROSSING_BETWEEN);
    ck_assert(!at[0].lit);
    ck_assert_uint_eq(lamp_crossings_at(&window, 7, at), 2);
    ck_assert_int_eq(at[1].how, LAMP_CROSSING_PULSE);
    lamp_crossings_prune(&window, &model, 0.6);
    ck_assert_int_eq(window.kind[7], LAMP_KIND_DARK);
    ck_assert_int_eq(window.kind[3], LAMP_KIND_LIT);
}
END_TEST

/* Exposed 20 of 33 ms from 66 ms on, 0.4 of it lit: on at 66 + 20 * 0.6 = 78 ms; 0.7: off at 165 +
 * 14 = 179 ms. */
START_TEST(an_edge_lies_where_the_lit_share_says)
{
    check_path((const double[]){0, 0, 0.4, 1, 1, 0.7, 0, 0}, 8, "DD/LL\\DD");
    const struct lamp_levels levels = {.has_two = true,
                                       .dark = 0,
                                       .lit = 1,
                                       .dark_is_sure = true,
                                       .lit_is_sure = true,
                                       .model = model};
    const struct lamp_exposure exposure = {.exposure_s = 0.020};
    struct lamp_place place;
    lamp_edge_place(&window, &levels, &exposure,
                    &(struct lamp_crossing){2, 2, LAMP_CROSSING_WITHIN, true}, &place);
    ck_assert_double_eq_tol(place.t_s, 0.078, 1e-4);
    ck_assert_double_lt(place.sd_s, 0.001);
    lamp_edge_place(&window, &levels, &exposure,
                    &(struct lamp_crossing){5, 5, LAMP_CROSSING_WITHIN, false}, &place);
    ck_assert_double_eq_tol(place.t_s, 0.179, 1e-4);
}
END_TEST

/* Between exposures: from 66 + 20 to 99 ms, the middle 92.5 ms and the sd 13 / root 12 = 3.75 ms.
 */
START_TEST(an_edge_between_exposures_may_be_anywhere_there)
{
    check_path((const double[]){0, 0, 0, 1, 1, 1, 1, 1}, 8, "DDDLLLLL");
    const struct lamp_levels levels = {.has_two = true,
                                       .dark = 0,
                                       .lit = 1,
                                       .dark_is_sure = true,
                                       .lit_is_sure = true,
                                       .model = model};
    const struct lamp_exposure exposure = {.exposure_s = 0.020};
    struct lamp_place place;
    lamp_edge_place(&window, &levels, &exposure,
                    &(struct lamp_crossing){2, 3, LAMP_CROSSING_BETWEEN, true}, &place);
    ck_assert_double_eq_tol(place.t_s, 0.0925, 5e-4);
    ck_assert_double_eq_tol(place.sd_s, 0.00375, 8e-4);
}
END_TEST

/* Each edge leaves a sample partly lit, and each fourth such sample is lost: what is left still
 * says that the camera exposes all the time. */
START_TEST(the_exposure_is_told_from_the_edges_that_no_lost_sample_hides)
{
    enum { BLOCK = 9, SAMPLES = 40 * BLOCK };
    memset(&window, 0, sizeof window);
    for (int i = 0; i < SAMPLES; i++) {
        const int edge = i / BLOCK;
        const bool is_part = i % BLOCK == 0 && edge > 0;
        const double part = 0.1 + 0.8 * (edge * 7 % 10) / 10;
        const double noise = (i * 7 % 5 - 2) * 0.002;
        const struct lamp_sample sample = {i * 33 * MS, 0,
                                           noise + (is_part ? part : edge % 2 == 0)};
        if (!is_part || edge % 4 != 0) {
            lamp_window_add(&window, &sample);
        }
    }
    lamp_window_prepare(&window);
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_levels levels;
    lamp_levels_fit(&window, &rules, NULL, &levels);
    struct lamp_exposure exposure = {.exposure_s = 0};
    lamp_exposure_learn(&exposure, &window, &levels);
    ck_assert_double_gt(exposure.exposure_s, 0.9 * 0.033);
    ck_assert_double_lt(exposure.sd_s, 0.1 * 0.033);
}
END_TEST

START_TEST(two_levels_are_learnt_from_the_samples)
{
    static double level[300];
    for (size_t i = 0; i < 300; i++) {
        level[i] = (i / 9 % 2 == 0 ? 0.62 : 0.11) + (double)(i * 7 % 5) * 0.002;
    }
    fill(level, 300, 33, 5);
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_levels levels;
    lamp_levels_fit(&window, &rules, NULL, &levels);
    ck_assert(levels.has_two);
    ck_assert_double_eq_tol(levels.lit, 0.624, 0.004);
    ck_assert_double_eq_tol(levels.dark, 0.114, 0.004);
    ck_assert(levels.lit_is_sure && levels.dark_is_sure);
    ck_assert_double_gt(levels.evidence, 100);
    lamp_levels_take_one(&window, &rules, &levels);
    ck_assert(!levels.has_two);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_tally_keeps_quantiles_as_its_range_grows,
        an_empty_tally_says_nothing,
        a_quantile_is_a_value_in_order,
        a_window_works_out_its_spans,
        a_period_is_found_only_where_there_is_one,
        a_path_tells_part_lit_samples_flashes_and_soft_edges,
        crossings_follow_the_kinds,
        an_edge_lies_where_the_lit_share_says,
        an_edge_between_exposures_may_be_anywhere_there,
        the_exposure_is_told_from_the_edges_that_no_lost_sample_hides,
        two_levels_are_learnt_from_the_samples,
    };
    return suite_run("level-parts", tests, sizeof tests / sizeof *tests);
}
