/* rhythm_edge_rules.c - What holds for any trace: order, windows, inversion, odd samples, glitches,
 * gaps. */
/* layers: base light rhythm codebook render */
#include "support/edge_read.h"
#include "support/suite.h"

static struct lamp_sample sample[EDGE_ROOM];
static struct lamp_sample other[EDGE_ROOM];
static struct edge_reading reading;
static struct edge_reading second;

static const int code_ms[] = {600, 200, 600, 700, 200, 200, 200, 200, 200, 1800};

static struct lamp_script_rules code_rules(size_t seed, int64_t duration_ns)
{
    struct lamp_script_rules rules = wave_rules(code_ms, sizeof code_ms / sizeof *code_ms);
    rules.duration_ns = duration_ns;
    rules.start_phase = spread(seed);
    rules.scale = 0.95 + 0.1 * spread(3 * seed + 1);
    return rules;
}

static struct lamp_tracer_rules camera_rules(size_t seed, int64_t duration_ns)
{
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.seed = seed + 1;
    rules.shutter.duration_ns = duration_ns;
    rules.shutter.exposure_ns = (int64_t)(3 + seed % 30) * MS;
    rules.tells_exposure = seed % 2 == 0;
    return rules;
}

static size_t take_code(size_t seed, int64_t duration_ns)
{
    const struct lamp_script_rules script_rules = code_rules(seed, duration_ns);
    const struct lamp_tracer_rules rules = camera_rules(seed, duration_ns);
    struct lamp_script *script = make_script(&script_rules);
    const size_t count = take_samples(&rules, script, sample, EDGE_ROOM);
    lamp_script_free(script);
    return count;
}

START_TEST(inverted_light_has_the_same_edges_the_other_way)
{
    for (size_t seed = 0; seed < 30; seed++) {
        const size_t count = take_code(seed, 12 * S);
        for (size_t i = 0; i < count; i++) {
            other[i] = sample[i];
            other[i].level = 0.5 - sample[i].level;
        }
        read_samples(sample, count, &reading);
        read_samples(other, count, &second);
        ck_assert_uint_eq(reading.count, second.count);
        ck_assert(reading.starts_lit != second.starts_lit);
        for (size_t i = 0; i < reading.count; i++) {
            ck_assert(reading.edge[i].lit != second.edge[i].lit);
            ck_assert_int_le(llabs(reading.edge[i].t_ns - second.edge[i].t_ns), 2 * MS);
        }
    }
}
END_TEST

START_TEST(levels_may_have_any_scale)
{
    const size_t count = take_code(4, 12 * S);
    read_samples(sample, count, &reading);
    static const double scales[] = {0.05, 8, 4095};
    for (size_t k = 0; k < sizeof scales / sizeof *scales; k++) {
        for (size_t i = 0; i < count; i++) {
            other[i] = sample[i];
            other[i].level *= scales[k];
        }
        read_samples(other, count, &second);
        ck_assert_uint_eq(reading.count, second.count);
        for (size_t i = 0; i < reading.count; i++) {
            ck_assert_int_le(llabs(reading.edge[i].t_ns - second.edge[i].t_ns), MS);
        }
    }
}
END_TEST

/* 333 s at 30/s are 10 000 samples: eleven windows. */
START_TEST(edges_run_on_across_windows)
{
    for (size_t seed = 0; seed < 6; seed++) {
        const struct lamp_script_rules script = code_rules(seed, 340 * S);
        struct lamp_tracer_rules rules = camera_rules(seed, 334 * S);
        rules.shutter.drop_share = 0.02;
        struct edge_score score = {.missed = 0};
        play_and_score(&script, &rules, &reading, &score);
        ck_assert_uint_gt(score.on_count + score.off_count, 600);
        ck_assert_uint_eq(score.missed, 0);
        ck_assert_uint_eq(score.extra, 0);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
    }
}
END_TEST

START_TEST(edges_come_while_a_long_trace_is_pushed)
{
    const size_t count = take_code(2, 200 * S);
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_edger *edger = NULL;
    ck_assert_int_eq(lamp_edger_new(&rules, &edger), LAMP_OK);
    reading.count = 0;
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(lamp_edger_push(edger, &sample[i]), LAMP_OK);
        take_edges(edger, &reading);
        /* What is not yet decided is less than one window. */
        const int64_t behind_ns =
            sample[i].t_ns - (reading.count > 0 ? reading.edge[reading.count - 1].t_ns : 0);
        ck_assert_int_le(behind_ns, (LAMP_EDGER_WINDOW + 100) * (S / 30));
    }
    ck_assert_uint_gt(reading.count, 200);
    lamp_edger_free(edger);
}
END_TEST

START_TEST(pushing_goes_on_after_a_flush)
{
    for (size_t seed = 0; seed < 8; seed++) {
        const size_t count = take_code(seed, 60 * S);
        read_samples(sample, count, &reading);
        const struct lamp_edger_rules rules = lamp_edger_rules_default();
        struct lamp_edger *edger = NULL;
        ck_assert_int_eq(lamp_edger_new(&rules, &edger), LAMP_OK);
        second.count = 0;
        for (size_t i = 0; i < count; i++) {
            ck_assert_int_eq(lamp_edger_push(edger, &sample[i]), LAMP_OK);
            if (i % 150 == 149) {
                ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
                ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
            }
            take_edges(edger, &second);
        }
        ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
        take_edges(edger, &second);
        second.starts_lit = lamp_edger_starts_lit(edger);
        check_order(&second);
        /* A flush decides with what there is: an edge in its last samples may come out otherwise.
         */
        ck_assert_uint_le(second.count, reading.count + 4);
        ck_assert_uint_ge(second.count + 4, reading.count);
        lamp_edger_free(edger);
    }
}
END_TEST

START_TEST(a_reset_edger_is_as_new)
{
    const size_t count = take_code(5, 20 * S);
    read_samples(sample, count, &reading);
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_edger *edger = NULL;
    ck_assert_int_eq(lamp_edger_new(&rules, &edger), LAMP_OK);
    for (int round = 0; round < 2; round++) {
        for (size_t i = 0; i < count; i++) {
            ck_assert_int_eq(lamp_edger_push(edger, &sample[i]), LAMP_OK);
        }
        ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
        second.count = 0;
        take_edges(edger, &second);
        ck_assert_uint_eq(second.count, reading.count);
        ck_assert_mem_eq(&second.edge[3], &reading.edge[3], sizeof reading.edge[3]);
        lamp_edger_reset(edger);
        struct lamp_edge edge;
        ck_assert(!lamp_edger_next(edger, &edge));
    }
    lamp_edger_free(edger);
    lamp_edger_free(NULL);
}
END_TEST

START_TEST(tiny_traces_have_no_edges)
{
    const struct lamp_sample tiny[] = {{0, 0, 0.5}, {33 * MS, 0, 0.0}, {66 * MS, 0, 0.5}};
    for (size_t count = 0; count <= 3; count++) {
        read_samples(tiny, count, &reading);
        ck_assert_uint_eq(reading.count, 0);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_CONSTANT);
        ck_assert_uint_eq(reading.shape.sample_count, count);
        ck_assert_int_eq(reading.shape.last_ns,
                         count == 0 ? 0 : (count == 1 ? 0 : (int64_t)count * 33 * MS));
        ck_assert(!isnan(reading.shape.lit_level) && !isnan(reading.shape.percent_flicker));
    }
}
END_TEST

START_TEST(samples_that_are_no_numbers_or_late_are_dropped)
{
    const size_t count = take_code(6, 12 * S);
    read_samples(sample, count, &reading);
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        other[n++] = sample[i];
        if (i % 7 == 3) {
            other[n] = sample[i];
            other[n++].level = 0.9; /* Same time again. */
            other[n] = sample[i];
            other[n].t_ns += 5 * MS;
            other[n++].level = NAN;
        }
    }
    read_samples(other, n, &second);
    ck_assert_uint_eq(second.shape.sample_count, count);
    ck_assert_uint_eq(second.count, reading.count);
    ck_assert_mem_eq(second.edge, reading.edge, reading.count * sizeof *reading.edge);
}
END_TEST

START_TEST(one_huge_sample_does_not_hide_the_edges)
{
    static const double huge[] = {1e300, INFINITY, -INFINITY, 5, -5};
    for (size_t k = 0; k < sizeof huge / sizeof *huge; k++) {
        const size_t count = take_code(8, 12 * S);
        read_samples(sample, count, &reading);
        sample[count / 2].level = huge[k];
        read_samples(sample, count, &second);
        check_order(&second);
        ck_assert_uint_le(second.count, reading.count + 2);
        ck_assert_uint_ge(second.count + 2, reading.count);
    }
}
END_TEST

START_TEST(a_shallow_bad_frame_is_no_flash)
{
    for (size_t seed = 0; seed < 100; seed++) {
        const size_t count = take_code(seed, 12 * S);
        read_samples(sample, count, &reading);
        sample[count / 3 + seed % 40].level += seed % 2 == 0 ? 0.04 : -0.04;
        read_samples(sample, count, &second);
        ck_assert_uint_eq(second.count, reading.count);
    }
}
END_TEST

START_TEST(a_glitch_shorter_than_the_rule_is_dropped)
{
    static const int lengths_ms[] = {300, 80, 220, 400};
    struct lamp_script_rules script_rules = wave_rules(lengths_ms, 4);
    script_rules.start_phase = 0.1;
    struct lamp_script *script = make_script(&script_rules);
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.rate_hz = 120;
    rules.shutter.exposure_ns = 2 * MS;
    const size_t count = take_samples(&rules, script, sample, EDGE_ROOM);
    struct lamp_edger_rules edger_rules = lamp_edger_rules_default();
    read_with(&edger_rules, sample, count, &reading);
    ck_assert_uint_eq(reading.shape.glitch_count, 0);
    edger_rules.least_length_ns = 120 * MS;
    read_with(&edger_rules, sample, count, &second);
    check_order(&second);
    ck_assert_uint_ge(second.shape.glitch_count, 9);
    ck_assert_uint_eq(second.count + 2 * second.shape.glitch_count, reading.count);
    for (size_t i = 1; i < second.count; i++) {
        ck_assert_int_ge(second.edge[i].t_ns - second.edge[i - 1].t_ns, 120 * MS);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(gaps_in_the_samples_are_counted_and_widen_the_sd)
{
    const size_t count = take_code(10, 12 * S);
    read_samples(sample, count, &reading);
    ck_assert_uint_eq(reading.shape.gap_count, 0);
    ck_assert_double_eq_tol(reading.shape.rate_hz, 30, 0.01);
    /* Take away the two samples around one edge. */
    const struct lamp_edge *edge = &reading.edge[reading.count / 2];
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        const int64_t off_ns = sample[i].t_ns - edge->t_ns;
        if (off_ns < -66 * MS || off_ns > 66 * MS) {
            other[n++] = sample[i];
        }
    }
    read_samples(other, n, &second);
    ck_assert_uint_eq(second.count, reading.count);
    ck_assert_uint_eq(second.shape.gap_count, 1);
    const struct lamp_edge *wide = &second.edge[reading.count / 2];
    ck_assert_int_ge(wide->sd_ns, 25 * MS);
    ck_assert_int_le(llabs(wide->t_ns - edge->t_ns), 3 * wide->sd_ns);
}
END_TEST

START_TEST(a_code_after_a_minute_of_dark_is_found)
{
    static const int lengths_ms[] = {200, 200, 200, 62000};
    for (size_t seed = 0; seed < 6; seed++) {
        struct lamp_script_rules script = wave_rules(lengths_ms, 4);
        script.duration_ns = 80 * S;
        script.start_phase = 0.03 + 0.01 * (double)seed;
        struct lamp_tracer_rules rules = camera_rules(seed, 70 * S);
        rules.shutter.rate_hz = seed % 2 == 0 ? 30 : 120;
        rules.shutter.exposure_ns = 4 * MS;
        struct edge_score score = {.missed = 0};
        play_and_score(&script, &rules, &reading, &score);
        ck_assert_uint_eq(score.missed, 0);
        ck_assert_uint_eq(score.extra, 0);
        ck_assert_uint_eq(reading.count, 4);
        ck_assert(!reading.starts_lit);
    }
}
END_TEST

/* A photodiode: a thousand samples a second, each gathered over all its time. */
START_TEST(a_photodiode_is_read_as_a_camera_is)
{
    const struct lamp_script_rules script = code_rules(7, 20 * S);
    struct lamp_tracer_rules rules = camera_rules(7, 19 * S);
    rules.shutter.rate_hz = 1000;
    rules.shutter.exposure_ns = MS;
    struct edge_score score = {.missed = 0};
    play_and_score(&script, &rules, &reading, &score);
    ck_assert_uint_gt(score.on_count, 15);
    ck_assert_uint_eq(score.missed, 0);
    ck_assert_uint_eq(score.extra, 0);
    ck_assert_double_lt(score_sd_s(&score), 0.0002);
}
END_TEST

/* Of 33.3 ms frames exposed all along, a flash of 30 ms is one or two part-lit ones; breaks
 * likewise. */
START_TEST(a_flash_shorter_than_a_frame_is_found)
{
    static const int lengths_ms[] = {30, 1000, 300, 1000};
    for (size_t seed = 0; seed < 40; seed++) {
        struct lamp_script_rules script = wave_rules(lengths_ms, 4);
        script.duration_ns = 14 * S;
        script.start_phase = spread(seed);
        script.scale = 0.97 + 0.06 * spread(seed * 5 + 1);
        script.is_inverted = seed % 2 == 1;
        struct lamp_tracer_rules rules = camera_rules(seed, 13 * S);
        rules.shutter.exposure_ns = 33 * MS;
        struct edge_score score = {.missed = 0};
        play_and_score(&script, &rules, &reading, &score);
        ck_assert_uint_eq(score.missed, 0);
        ck_assert_uint_eq(score.extra, 0);
        for (size_t i = 1; i < reading.count; i++) {
            const int64_t ns = reading.edge[i].t_ns - reading.edge[i - 1].t_ns;
            ck_assert(ns > 100 * MS || (ns > 15 * MS && ns < 45 * MS));
        }
    }
}
END_TEST

/* As a camera's exposure may, but not softly, or not as the recording begins. */
START_TEST(a_lamp_that_dims_at_once_or_later_has_an_edge)
{
    enum { COUNT = 180 };
    for (int is_late = 0; is_late < 2; is_late++) {
        for (int i = 0; i < COUNT; i++) {
            const double since = i - (is_late != 0 ? 90 : 30);
            const double left = is_late != 0 ? exp(-fmax(since, 0) / 10) : since < 0;
            const double noise = 0.002 * (spread((size_t)i) - 0.5);
            sample[i] =
                (struct lamp_sample){.t_ns = i * (S / 30), .level = 0.35 + 0.15 * left + noise};
        }
        read_samples(sample, COUNT, &reading);
        ck_assert_uint_eq(reading.count, 1);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        inverted_light_has_the_same_edges_the_other_way,
        levels_may_have_any_scale,
        edges_run_on_across_windows,
        edges_come_while_a_long_trace_is_pushed,
        pushing_goes_on_after_a_flush,
        a_reset_edger_is_as_new,
        tiny_traces_have_no_edges,
        samples_that_are_no_numbers_or_late_are_dropped,
        one_huge_sample_does_not_hide_the_edges,
        a_shallow_bad_frame_is_no_flash,
        a_glitch_shorter_than_the_rule_is_dropped,
        gaps_in_the_samples_are_counted_and_widen_the_sd,
        a_code_after_a_minute_of_dark_is_found,
        a_photodiode_is_read_as_a_camera_is,
        a_flash_shorter_than_a_frame_is_found,
        a_lamp_that_dims_at_once_or_later_has_an_edge,
    };
    return suite_run("edge-rules", tests, sizeof tests / sizeof tests[0]);
}
