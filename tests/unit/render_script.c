/* render_script.c - The true light: exact integrals, edges where the wave has them, irregular light
 * as asked. */
/* layers: base light rhythm codebook render */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/render_make.h"
#include "support/suite.h"

/* Lit time from `from_ns` to `to_ns` by walking the edges. */
static double lit_share(const struct lamp_script *script, int64_t from_ns, int64_t to_ns)
{
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    bool lit = lamp_script_starts_lit(script);
    int64_t at_ns = from_ns;
    int64_t lit_ns = 0;
    for (size_t i = 0; i < count && edge[i].t_ns < to_ns; i++) {
        if (edge[i].t_ns > at_ns) {
            lit_ns += lit ? edge[i].t_ns - at_ns : 0;
            at_ns = edge[i].t_ns;
        }
        lit = edge[i].lit;
    }
    lit_ns += lit ? to_ns - at_ns : 0;
    return (double)lit_ns / (double)(to_ns - from_ns);
}

START_TEST(the_mean_over_an_exposure_is_the_exact_integral)
{
    static const int lengths_ms[] = {200, 200, 600, 1800};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 4);
    rules.jitter = 0.1;
    rules.start_phase = 0.3;
    struct lamp_script *script = make_script(&rules);
    for (int64_t from = 0; from < 9 * S; from += 7919 * 997) {
        const int64_t to = from + 33 * MS + from % 1000;
        ck_assert_double_eq_tol(lamp_script_mean(script, from, to), lit_share(script, from, to),
                                1e-9);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(edges_stand_where_the_wave_changes)
{
    static const int lengths_ms[] = {200, 300};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 2);
    rules.start_phase = 0.5; /* 250 ms into the cycle: dark, lit at 250 ms. */
    rules.duration_ns = 1 * S;
    struct lamp_script *script = make_script(&rules);
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    static const int64_t expected_ms[] = {250, 450, 750, 950};
    ck_assert(!lamp_script_starts_lit(script));
    ck_assert_uint_eq(count, 4);
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(edge[i].t_ns, expected_ms[i] * MS);
        ck_assert(edge[i].lit == (i % 2 == 0));
        ck_assert_int_eq(edge[i].sd_ns, 0);
    }
    lamp_script_free(script);
}
END_TEST

/* CiA 303-3 triple flash: 200/200/200/200/200/1000, period 2000 ms (read in restatements of it). */
START_TEST(a_triple_flash_repeats_every_2_s_and_a_fast_clock_shortens_it)
{
    static const int lengths_ms[] = {200, 200, 200, 200, 200, 1000};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 6);
    rules.scale = 1 / 1.1;
    struct lamp_script *script = make_script(&rules);
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    ck_assert_uint_gt(count, 12);
    for (size_t i = 0; i + 6 < count; i++) {
        ck_assert_int_le(llabs(edge[i + 6].t_ns - edge[i].t_ns - llround(2 * S / 1.1)), 6);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(jitter_has_the_sd_asked_for)
{
    static const int lengths_ms[] = {100, 100};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 2);
    rules.jitter = 0.05;
    rules.duration_ns = 600 * S;
    struct lamp_script *script = make_script(&rules);
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    double sum = 0;
    double square = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        const double length = (double)(edge[i + 1].t_ns - edge[i].t_ns) / (100 * MS);
        sum += length;
        square += length * length;
    }
    const double mean = sum / (double)(count - 1);
    ck_assert_double_eq_tol(mean, 1, 0.004);
    ck_assert_double_eq_tol(sqrt(square / (double)(count - 1) - mean * mean), 0.05, 0.003);
    lamp_script_free(script);
}
END_TEST

START_TEST(lateness_only_lengthens)
{
    static const int lengths_ms[] = {100, 100};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 2);
    rules.late_ns = 8 * MS;
    struct lamp_script *script = make_script(&rules);
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    for (size_t i = 0; i + 1 < count; i++) {
        const int64_t length = edge[i + 1].t_ns - edge[i].t_ns;
        ck_assert_int_ge(length, 100 * MS);
        ck_assert_int_le(length, 108 * MS);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(inverted_light_has_the_same_edges_the_other_way)
{
    static const int lengths_ms[] = {200, 1000};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 2);
    rules.start_phase = 0.4;
    struct lamp_script *plain = make_script(&rules);
    rules.is_inverted = true;
    struct lamp_script *inverted = make_script(&rules);
    size_t counts[2];
    const struct lamp_edge *a = lamp_script_edges(plain, &counts[0]);
    const struct lamp_edge *b = lamp_script_edges(inverted, &counts[1]);
    ck_assert_uint_eq(counts[0], counts[1]);
    for (size_t i = 0; i < counts[0]; i++) {
        ck_assert_int_eq(a[i].t_ns, b[i].t_ns);
        ck_assert(a[i].lit != b[i].lit);
    }
    lamp_script_free(plain);
    lamp_script_free(inverted);
}
END_TEST

START_TEST(irregular_edges_alternate_and_have_the_mean_lengths_asked_for)
{
    static const enum lamp_chance chances[] = {LAMP_CHANCE_EXPONENTIAL, LAMP_CHANCE_LOG_NORMAL,
                                               LAMP_CHANCE_BURSTS};
    for (size_t c = 0; c < 3; c++) {
        struct lamp_script_rules rules = lamp_script_rules_default();
        rules.kind = LAMP_SCRIPT_FLICKER;
        rules.chance = chances[c];
        rules.duration_ns = 3000 * S;
        struct lamp_script *script = make_script(&rules);
        size_t count;
        const struct lamp_edge *edge = lamp_script_edges(script, &count);
        int64_t sum[2] = {0};
        for (size_t i = 0; i + 1 < count; i++) {
            ck_assert_int_gt(edge[i + 1].t_ns, edge[i].t_ns);
            ck_assert(edge[i + 1].lit != edge[i].lit);
            sum[edge[i].lit] += edge[i + 1].t_ns - edge[i].t_ns;
        }
        ck_assert_double_eq_tol((double)sum[1] / ((double)count / 2) / MS, 180, 10);
        ck_assert_double_eq_tol((double)sum[0] / ((double)count / 2) / MS, 120, 8);
        lamp_script_free(script);
    }
}
END_TEST

START_TEST(a_sag_dims_within_its_depths_and_has_no_edges)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_SAG;
    struct lamp_script *script = make_script(&rules);
    double least = 1;
    for (int64_t t = 0; t < 10 * S; t += MS) {
        const double level = lamp_script_level(script, t);
        ck_assert_double_ge(level, 1 - rules.depth_most - 1e-9);
        ck_assert_double_le(level, 1);
        least = fmin(least, level);
    }
    size_t count;
    (void)lamp_script_edges(script, &count);
    ck_assert_uint_eq(count, 0);
    ck_assert_double_le(least, 0.75);
    lamp_script_free(script);
}
END_TEST

START_TEST(the_integral_follows_the_ramps_of_a_sag)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_SAG;
    rules.ramp_ns = 40 * MS;
    struct lamp_script *script = make_script(&rules);
    for (int64_t from = 0; from < 2 * S; from += 37 * MS) {
        double sum = 0;
        for (int64_t t = 0; t < 33000; t++) {
            sum += lamp_script_level(script, from + t * 1000 + 500);
        }
        ck_assert_double_eq_tol(lamp_script_mean(script, from, from + 33 * MS), sum / 33000, 1e-6);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(a_fade_is_a_raised_cosine)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_FADE;
    rules.period_ns = 2 * S;
    rules.dark_level = 0.1;
    struct lamp_script *script = make_script(&rules);
    ck_assert_double_eq_tol(lamp_script_mean(script, 0, 10 * S), 0.55, 1e-6);
    for (int64_t t = 0; t < 10 * S; t += 13 * MS) {
        const double expected = 0.55 + 0.45 * cos(2 * acos(-1) * (double)t / (2 * S));
        ck_assert_double_eq_tol(lamp_script_level(script, t), expected, 2e-3);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(the_last_level_holds_after_the_end)
{
    static const int lengths_ms[] = {300, 300};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 2);
    rules.duration_ns = 1 * S; /* 900 ms: lit, dark, lit; dark until the end. */
    struct lamp_script *script = make_script(&rules);
    ck_assert_double_eq(lamp_script_level(script, 5 * S), 0);
    ck_assert_double_eq_tol(lamp_script_mean(script, 800 * MS, 2 * S), 100.0 / 1200, 1e-9);
    ck_assert_double_eq(lamp_script_level(script, -5 * S), 1);
    lamp_script_free(script);
}
END_TEST

START_TEST(the_same_seed_gives_the_same_light_and_another_does_not)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_FLICKER;
    struct lamp_script *a = make_script(&rules);
    struct lamp_script *b = make_script(&rules);
    rules.seed = 2;
    struct lamp_script *c = make_script(&rules);
    size_t counts[3];
    const struct lamp_edge *edges[] = {lamp_script_edges(a, &counts[0]),
                                       lamp_script_edges(b, &counts[1]),
                                       lamp_script_edges(c, &counts[2])};
    ck_assert_uint_eq(counts[0], counts[1]);
    ck_assert_int_eq(memcmp(edges[0], edges[1], counts[0] * sizeof *edges[0]), 0);
    ck_assert_int_ne(edges[0][3].t_ns, edges[2][3].t_ns);
    lamp_script_free(a);
    lamp_script_free(b);
    lamp_script_free(c);
}
END_TEST

START_TEST(rules_out_of_range_are_refused_by_name)
{
    static const int odd_ms[] = {100, 100, 100};
    static const int zero_ms[] = {100, 0};
    struct lamp_script_rules bad[6];
    for (int i = 0; i < 6; i++) {
        bad[i] = lamp_script_rules_default();
    }
    bad[0].duration_ns = 0;
    bad[1] = wave_rules(odd_ms, 3);
    bad[2] = wave_rules(zero_ms, 2);
    bad[3].start_phase = 1;
    bad[4].scale = NAN;
    bad[5].spread = -1;
    static const char *const places[] = {"duration",    "wave",  "wave",
                                         "start phase", "scale", "spread"};
    for (int i = 0; i < 6; i++) {
        struct lamp_error error;
        struct lamp_script *script = NULL;
        ck_assert_int_eq(lamp_script_new(&bad[i], &script, &error), LAMP_BAD_USE);
        ck_assert_str_eq(error.place, places[i]);
        ck_assert_ptr_null(script);
    }
}
END_TEST

START_TEST(light_that_changes_too_often_is_refused)
{
    struct lamp_script_rules rules = wave_rules((const int[]){1, 1}, 2);
    rules.wave.length_ns[0] = rules.wave.length_ns[1] = 10000;
    rules.duration_ns = 60 * S;
    struct lamp_script *script = NULL;
    ck_assert_int_eq(lamp_script_new(&rules, &script, NULL), LAMP_FULL);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        the_mean_over_an_exposure_is_the_exact_integral,
        edges_stand_where_the_wave_changes,
        a_triple_flash_repeats_every_2_s_and_a_fast_clock_shortens_it,
        jitter_has_the_sd_asked_for,
        lateness_only_lengthens,
        inverted_light_has_the_same_edges_the_other_way,
        irregular_edges_alternate_and_have_the_mean_lengths_asked_for,
        a_sag_dims_within_its_depths_and_has_no_edges,
        the_integral_follows_the_ramps_of_a_sag,
        a_fade_is_a_raised_cosine,
        the_last_level_holds_after_the_end,
        the_same_seed_gives_the_same_light_and_another_does_not,
        rules_out_of_range_are_refused_by_name,
        light_that_changes_too_often_is_refused,
    };
    return suite_run("script", tests, sizeof tests / sizeof tests[0]);
}
