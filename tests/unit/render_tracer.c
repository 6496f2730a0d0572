/* render_tracer.c - Samples: true exposures, noise and losses as asked, flicker figures of known
 * waves. */
/* layers: base light rhythm codebook render */
#include <check.h>
#include <math.h>
#include <string.h>

#include "support/render_make.h"
#include "support/suite.h"

enum { ROOM = 40000 };

static struct lamp_sample sample[ROOM];

static struct lamp_script *steady(int64_t duration_ns)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.duration_ns = duration_ns;
    return make_script(&rules);
}

/* (max - min) / (max + min) in percent: CIE International Lighting Vocabulary. */
static double percent_flicker(size_t count)
{
    double least = sample[0].level;
    double most = sample[0].level;
    for (size_t i = 1; i < count; i++) {
        least = fmin(least, sample[i].level);
        most = fmax(most, sample[i].level);
    }
    return 100 * (most - least) / (most + least);
}

/* Area above the mean over total area: IEC 60050 845-22-094. */
static double flicker_index(size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += sample[i].level;
    }
    double above = 0;
    for (size_t i = 0; i < count; i++) {
        above += fmax(0, sample[i].level - sum / (double)count);
    }
    return above / sum;
}

/* Duty d: percent flicker 100 and index 1 - d, by arithmetic. */
START_TEST(a_square_wave_of_duty_d_has_percent_flicker_100_and_index_1_minus_d)
{
    for (int duty = 10; duty <= 90; duty += 10) {
        const int lengths_ms[] = {duty * 10, 1000 - duty * 10};
        struct lamp_script_rules wave = wave_rules(lengths_ms, 2);
        struct lamp_script *script = make_script(&wave);
        struct lamp_tracer_rules rules = clean_rules();
        rules.shutter.rate_hz = 1000;
        rules.shutter.exposure_ns = 1 * MS;
        const size_t count = take_samples(&rules, script, sample, ROOM);
        ck_assert_uint_eq(count, 10000);
        ck_assert_double_eq_tol(percent_flicker(count), 100, 1e-9);
        ck_assert_double_eq_tol(flicker_index(count), 1 - duty / 100.0, 1e-9);
        lamp_script_free(script);
    }
}
END_TEST

/* A raised cosine: percent flicker 100, index 1/pi, by arithmetic. */
START_TEST(a_raised_cosine_has_index_one_over_pi)
{
    struct lamp_script_rules fade = lamp_script_rules_default();
    fade.kind = LAMP_SCRIPT_FADE;
    fade.period_ns = 1 * S;
    struct lamp_script *script = make_script(&fade);
    struct lamp_tracer_rules rules = clean_rules();
    rules.shutter.rate_hz = 1000;
    rules.shutter.exposure_ns = 1 * MS;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    ck_assert_double_eq_tol(flicker_index(count), 1 / acos(-1), 1e-3);
    ck_assert_double_eq_tol(percent_flicker(count), 100, 0.1);
    lamp_script_free(script);
}
END_TEST

START_TEST(a_sample_is_the_mean_light_over_its_true_exposure)
{
    static const int lengths_ms[] = {170, 230};
    struct lamp_script_rules wave = wave_rules(lengths_ms, 2);
    struct lamp_script *script = make_script(&wave);
    struct lamp_tracer_rules rules = clean_rules();
    rules.shutter.late_share = 0.3;
    rules.shutter.jitter = 0.1;
    rules.shutter.drop_share = 0.1;
    rules.gain = 0.4;
    rules.offset = 0.02;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    size_t part_lit = 0;
    for (size_t i = 0; i < count; i++) {
        const double light =
            lamp_script_mean(script, sample[i].t_ns, sample[i].t_ns + sample[i].exposure_ns);
        ck_assert_double_eq_tol(sample[i].level, 0.02 + 0.4 * light, 1e-12);
        part_lit += light > 0.01 && light < 0.99;
    }
    ck_assert_uint_gt(part_lit, 3);
    lamp_script_free(script);
}
END_TEST

START_TEST(noise_has_the_sd_asked_for_and_grows_with_light)
{
    struct lamp_script *script = steady(1200 * S);
    for (int i = 0; i < 3; i++) {
        struct lamp_tracer_rules rules = lamp_tracer_rules_default();
        rules.shutter.duration_ns = 1000 * S;
        rules.gain = 0.1 + 0.35 * i;
        rules.read_noise = 0.004;
        rules.shot_noise = 0.02;
        const size_t count = take_samples(&rules, script, sample, ROOM);
        double square = 0;
        for (size_t k = 0; k < count; k++) {
            square += (sample[k].level - rules.gain) * (sample[k].level - rules.gain);
        }
        const double expected = sqrt(0.004 * 0.004 + 0.02 * 0.02 * rules.gain);
        ck_assert_double_eq_tol(sqrt(square / (double)count) / expected, 1, 0.02);
    }
    lamp_script_free(script);
}
END_TEST

/* 30 000 frames at 4 %: sd of the share 0.0011. */
START_TEST(the_share_of_lost_frames_is_as_asked)
{
    struct lamp_script *script = steady(1000 * S);
    struct lamp_tracer_rules rules = clean_rules();
    rules.shutter.duration_ns = 1000 * S;
    rules.shutter.drop_share = 0.04;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    ck_assert_double_eq_tol(1 - (double)count / 30000, 0.04, 0.005);
    lamp_script_free(script);
}
END_TEST

START_TEST(the_share_of_late_frames_is_as_asked)
{
    struct lamp_script *script = steady(1000 * S);
    struct lamp_tracer_rules rules = clean_rules();
    rules.shutter.duration_ns = 1000 * S;
    rules.shutter.late_share = 0.1;
    rules.shutter.exposure_ns = 2 * MS; /* Short: a late frame never delays the next. */
    const size_t count = take_samples(&rules, script, sample, ROOM);
    size_t late = 0;
    for (size_t i = 0; i < count; i++) {
        const double frames = (double)sample[i].t_ns * 30 / S;
        late += fabs(frames - round(frames)) > 1e-6;
    }
    ck_assert_double_eq_tol((double)late / (double)count, 0.1, 0.01);
    lamp_script_free(script);
}
END_TEST

START_TEST(stamps_increase_and_exposures_never_overlap_whatever_goes_wrong)
{
    struct lamp_shutter_rules rules = lamp_shutter_rules_default();
    rules.jitter = 1;
    rules.late_share = 1;
    rules.sway = 0.9;
    rules.stamp_sd_ns = 100 * MS;
    rules.exposure_ns = 30 * MS;
    rules.duration_ns = 100 * S;
    struct lamp_shutter *shutter = NULL;
    ck_assert_int_eq(lamp_shutter_new(&rules, &shutter, NULL), LAMP_OK);
    struct lamp_shutter_time last;
    struct lamp_shutter_time time;
    ck_assert(lamp_shutter_next(shutter, &last));
    int count = 1;
    while (lamp_shutter_next(shutter, &time)) {
        ck_assert_int_gt(time.t_ns, last.t_ns);
        ck_assert_int_ge(time.start_ns, last.start_ns + last.exposure_ns);
        ck_assert_uint_gt(time.index, last.index);
        last = time;
        count++;
    }
    ck_assert_int_gt(count, 1000);
    lamp_shutter_free(shutter);
}
END_TEST

START_TEST(a_swaying_rate_keeps_its_mean)
{
    struct lamp_shutter_rules rules = lamp_shutter_rules_default();
    rules.sway = 0.3;
    rules.duration_ns = 70 * S;
    struct lamp_shutter *shutter = NULL;
    ck_assert_int_eq(lamp_shutter_new(&rules, &shutter, NULL), LAMP_OK);
    struct lamp_shutter_time time;
    int64_t last_ns = 0;
    int64_t least = INT64_MAX;
    int64_t most = 0;
    int count = 0;
    for (; lamp_shutter_next(shutter, &time); count++) {
        if (count > 0) {
            least = time.t_ns - last_ns < least ? time.t_ns - last_ns : least;
            most = time.t_ns - last_ns > most ? time.t_ns - last_ns : most;
        }
        last_ns = time.t_ns;
    }
    ck_assert_double_eq_tol((double)least / MS, 33.33 * 0.7, 0.2);
    ck_assert_double_eq_tol((double)most / MS, 33.33 * 1.3, 0.2);
    ck_assert_int_gt(count, 1900);
    ck_assert_int_lt(count, 2300);
    lamp_shutter_free(shutter);
}
END_TEST

/* Aliases |f - n fs|: 100 Hz stands still at 25 frames/s and shows as 10 Hz at 30, by arithmetic.
 */
START_TEST(mains_ripple_aliases_as_arithmetic_says)
{
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules rules = clean_rules();
    rules.ripple = 0.05;
    rules.shutter.exposure_ns = 4 * MS;
    rules.shutter.rate_hz = 25;
    size_t count = take_samples(&rules, script, sample, ROOM);
    for (size_t i = 1; i < count; i++) {
        ck_assert_double_eq_tol(sample[i].level, sample[0].level, 1e-6);
    }
    rules.shutter.rate_hz = 30;
    count = take_samples(&rules, script, sample, ROOM);
    double swing = 0;
    for (size_t i = 3; i < count; i++) {
        ck_assert_double_eq_tol(sample[i].level, sample[i - 3].level, 1e-6);
        swing = fmax(swing, fabs(sample[i].level - sample[i - 1].level));
    }
    ck_assert_double_gt(swing, 0.02);
    lamp_script_free(script);
}
END_TEST

/* An exposure of a whole number of ripples sees none of it. */
START_TEST(an_exposure_of_10_ms_hides_100_hz)
{
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules rules = clean_rules();
    rules.ripple = 0.2;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    for (size_t i = 0; i < count; i++) {
        ck_assert_double_eq_tol(sample[i].level, 0.5, 1e-6);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(auto_exposure_takes_its_share_with_its_time_constant)
{
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules rules = clean_rules();
    rules.pumping = 0.2;
    rules.pumping_ns = 400 * MS;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    ck_assert_double_eq_tol(sample[0].level, 0.5, 1e-9);
    ck_assert_double_eq_tol(sample[12].level, 0.5 * (1 - 0.2 * (1 - exp(-11.0 / 12))), 0.003);
    ck_assert_double_eq_tol(sample[count - 1].level, 0.4, 1e-4);
    lamp_script_free(script);
}
END_TEST

START_TEST(levels_stop_at_the_ceiling_and_exposure_can_be_hidden)
{
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.gain = 3;
    rules.tells_exposure = false;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    for (size_t i = 0; i < count; i++) {
        ck_assert_double_eq(sample[i].level, 1);
        ck_assert_int_eq(sample[i].exposure_ns, 0);
    }
    lamp_script_free(script);
}
END_TEST

START_TEST(the_same_seed_gives_the_same_samples_and_another_does_not)
{
    static struct lamp_sample again[ROOM];
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.drop_share = 0.1;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    ck_assert_uint_eq(take_samples(&rules, script, again, ROOM), count);
    ck_assert_int_eq(memcmp(sample, again, count * sizeof *sample), 0);
    rules.shutter.seed = 2;
    (void)take_samples(&rules, script, again, ROOM);
    ck_assert_double_ne(sample[5].level, again[5].level);
    lamp_script_free(script);
}
END_TEST

START_TEST(rules_out_of_range_are_refused_by_name)
{
    struct lamp_script *script = steady(10 * S);
    struct lamp_tracer_rules bad[4];
    for (int i = 0; i < 4; i++) {
        bad[i] = lamp_tracer_rules_default();
    }
    bad[0].gain = 0;
    bad[1].shutter.rate_hz = 0;
    bad[2].shutter.drop_share = NAN;
    bad[3].pumping = 1;
    static const char *const places[] = {"gain", "rate", "dropped share", "pumping"};
    for (int i = 0; i < 4; i++) {
        struct lamp_error error;
        struct lamp_tracer *tracer = NULL;
        ck_assert_int_eq(lamp_tracer_new(&bad[i], script, &tracer, &error), LAMP_BAD_USE);
        ck_assert_str_eq(error.place, places[i]);
    }
    lamp_script_free(script);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_square_wave_of_duty_d_has_percent_flicker_100_and_index_1_minus_d,
        a_raised_cosine_has_index_one_over_pi,
        a_sample_is_the_mean_light_over_its_true_exposure,
        noise_has_the_sd_asked_for_and_grows_with_light,
        the_share_of_lost_frames_is_as_asked,
        the_share_of_late_frames_is_as_asked,
        stamps_increase_and_exposures_never_overlap_whatever_goes_wrong,
        a_swaying_rate_keeps_its_mean,
        mains_ripple_aliases_as_arithmetic_says,
        an_exposure_of_10_ms_hides_100_hz,
        auto_exposure_takes_its_share_with_its_time_constant,
        levels_stop_at_the_ceiling_and_exposure_can_be_hidden,
        the_same_seed_gives_the_same_samples_and_another_does_not,
        rules_out_of_range_are_refused_by_name,
    };
    return suite_run("tracer", tests, sizeof tests / sizeof tests[0]);
}
