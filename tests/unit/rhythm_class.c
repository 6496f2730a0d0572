/* rhythm_class.c - Lengths fall into the classes they came from, and into none where there are
 * none. */
/* layers: base rhythm codebook light */
#include <check.h>

#include "rhythm/class.h"
#include "support/lengths.h"
#include "support/suite.h"

static const struct lamp_class_rules rules = {.jitter = 0.03, .most = 4};

/* `count` lengths about each of `means`, by turns. */
static struct lamp_measures about(const double *means, size_t mean_count, size_t count,
                                  double spread, struct chance *chance)
{
    struct lamp_measures measures = {.count = mean_count * count};
    for (size_t i = 0; i < measures.count; i++) {
        measures.ns[i] = means[i % mean_count] * 1e6 * exp(spread * chance_normal(chance));
        measures.sd_ns[i] = 1e6;
    }
    return measures;
}

static enum lamp_band best_band(const struct lamp_classes *bands)
{
    enum lamp_band best = LAMP_BAND_TIGHT;
    for (int band = 0; band < LAMP_BAND_COUNT; band++) {
        best = bands[band].evidence > bands[best].evidence ? (enum lamp_band)band : best;
    }
    return best;
}

START_TEST(as_many_classes_are_found_as_there_are)
{
    static const double means[] = {100, 300, 700, 2100};
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    for (size_t kinds = 1; kinds <= 4; kinds++) {
        for (uint64_t seed = 0; seed < 50; seed++) {
            struct chance chance = {seed};
            struct lamp_measures measures = about(means, kinds, 6, 0.02, &chance);
            lamp_classes_find(&measures, &rules, bands);
            ck_assert_msg(
                best_band(bands) == LAMP_BAND_TIGHT && bands[0].count == kinds && bands[0].odd == 0,
                "%zu kinds, seed %llu: %zu found", kinds, (unsigned long long)seed, bands[0].count);
            for (size_t i = 0; i < measures.count; i++) {
                ck_assert_int_eq(bands[0].of[i], (int)(i % kinds));
            }
        }
    }
}
END_TEST

START_TEST(one_class_that_scatters_is_never_told_as_two)
{
    static const double means[] = {200};
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    for (uint64_t seed = 0; seed < 300; seed++) {
        struct chance chance = {seed};
        struct lamp_measures measures =
            about(means, 1, 40, chance_between(&chance, 0.01, 0.08), &chance);
        lamp_classes_find(&measures, &rules, bands);
        for (size_t k = 1; k < bands[0].count; k++) {
            ck_assert_msg(bands[0].members[k] < 2, "seed %llu", (unsigned long long)seed);
        }
    }
}
END_TEST

/* Chance may make a sample look steadier or wilder than it is: a few in a hundred may. */
START_TEST(scatter_of_four_percent_is_tight_and_of_twenty_five_loose)
{
    static const double means[] = {150, 900};
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    unsigned not_tight = 0;
    unsigned not_loose = 0;
    for (uint64_t seed = 0; seed < 100; seed++) {
        struct chance chance = {seed};
        struct lamp_measures measures = about(means, 2, 12, 0.04, &chance);
        lamp_classes_find(&measures, &rules, bands);
        not_tight += best_band(bands) != LAMP_BAND_TIGHT;
        ck_assert_int_ne(best_band(bands), LAMP_BAND_LOOSE);
        measures = about(means, 2, 12, 0.25, &chance);
        lamp_classes_find(&measures, &rules, bands);
        not_loose += best_band(bands) != LAMP_BAND_LOOSE;
        ck_assert_int_ne(best_band(bands), LAMP_BAND_TIGHT);
    }
    ck_assert_uint_le(not_tight, 5);
    ck_assert_uint_le(not_loose, 5);
}
END_TEST

START_TEST(one_length_that_fits_nowhere_is_odd_or_alone)
{
    static const double means[] = {200};
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    struct chance chance = {5};
    struct lamp_measures measures = about(means, 1, 20, 0.02, &chance);
    measures.ns[7] = 330e6;
    lamp_classes_find(&measures, &rules, bands);
    ck_assert_int_eq(best_band(bands), LAMP_BAND_TIGHT);
    ck_assert_int_ne(bands[0].of[7], bands[0].of[8]);
    ck_assert_uint_eq(bands[0].members[0], 19);
}
END_TEST

START_TEST(noise_as_it_is_told_does_not_make_lengths_loose)
{
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    unsigned loose = 0;
    for (uint64_t seed = 0; seed < 200; seed++) {
        struct chance chance = {seed};
        struct lamp_measures measures = {.count = 60};
        for (size_t i = 0; i < measures.count; i++) {
            measures.ns[i] = 40e6 + 8e6 * chance_normal(&chance);
            measures.ns[i] = measures.ns[i] > 1e6 ? measures.ns[i] : 1e6;
            measures.sd_ns[i] = 8e6;
        }
        lamp_classes_find(&measures, &rules, bands);
        loose += best_band(bands) == LAMP_BAND_LOOSE;
    }
    ck_assert_uint_le(loose, 2);
}
END_TEST

START_TEST(a_mean_is_the_mean_of_its_members)
{
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    struct lamp_measures measures = {
        .count = 4, .ns = {100e6, 102e6, 400e6, 408e6}, .sd_ns = {1e6, 1e6, 1e6, 1e6}};
    lamp_classes_find(&measures, &rules, bands);
    ck_assert_uint_eq(bands[0].count, 2);
    ck_assert_double_eq_tol(exp(bands[0].mean[0]), 101e6, 1);
    ck_assert_double_eq_tol(exp(bands[0].mean[1]), 404e6, 1);
}
END_TEST

START_TEST(no_lengths_and_equal_lengths_without_noise_are_no_trouble)
{
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    static struct lamp_measures measures;
    lamp_classes_find(&measures, &rules, bands);
    ck_assert_uint_eq(bands[0].count, 0);
    measures.count = LAMP_ROW_MAX;
    for (size_t i = 0; i < measures.count; i++) {
        measures.ns[i] = 2e8;
    }
    lamp_classes_find(&measures, &rules, bands);
    ck_assert_uint_eq(bands[0].count, 1);
    ck_assert(isfinite(bands[0].evidence));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        as_many_classes_are_found_as_there_are,
        one_class_that_scatters_is_never_told_as_two,
        scatter_of_four_percent_is_tight_and_of_twenty_five_loose,
        one_length_that_fits_nowhere_is_odd_or_alone,
        noise_as_it_is_told_does_not_make_lengths_loose,
        a_mean_is_the_mean_of_its_members,
        no_lengths_and_equal_lengths_without_noise_are_no_trouble,
    };
    return suite_run("class", tests, sizeof tests / sizeof tests[0]);
}
