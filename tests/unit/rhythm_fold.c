/* rhythm_fold.c - Light too fast for its samples repeats, irregular light does not. */
/* layers: base light rhythm codebook render */
#include "support/edge_read.h"
#include "support/lengths.h"
#include "support/suite.h"

/* How light is filmed. */
struct film {
    double rate_hz;
    int64_t exposure_ns;
    int64_t duration_ns;
    double lost;
    double late;
};

static const struct film phone = {30, 8 * MS, 15000 * MS, 0.03, 0.03};

static enum lamp_cycle_sign look(const struct lamp_script_rules *script_rules,
                                 const struct film *film)
{
    static struct lamp_sample sample[EDGE_ROOM];
    struct lamp_script_rules played = *script_rules;
    played.duration_ns = film->duration_ns + 1000 * MS;
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.rate_hz = film->rate_hz;
    rules.shutter.exposure_ns = film->exposure_ns;
    rules.shutter.duration_ns = film->duration_ns;
    rules.shutter.drop_share = film->lost;
    rules.shutter.late_share = film->late;
    rules.shutter.seed = script_rules->seed;
    struct lamp_script *script = make_script(&played);
    const size_t count = take_samples(&rules, script, sample, EDGE_ROOM);
    lamp_script_free(script);
    const struct lamp_edger_rules edger_rules = lamp_edger_rules_default();
    struct lamp_edger *edger = NULL;
    ck_assert_int_eq(lamp_edger_new(&edger_rules, &edger), LAMP_OK);
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(lamp_edger_push(edger, &sample[i]), LAMP_OK);
    }
    ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
    const enum lamp_cycle_sign sign = lamp_edger_find_cycle(edger);
    lamp_edger_free(edger);
    return sign;
}

static struct lamp_script_rules blink_rules(double hz)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_WAVE;
    rules.wave.count = 2;
    rules.wave.length_ns[0] = llround(0.4e9 / hz);
    rules.wave.length_ns[1] = llround(0.6e9 / hz);
    return rules;
}

START_TEST(a_blink_faster_than_the_frames_repeats)
{
    static const double hz[] = {13.3, 17.9, 23.4, 36.1, 46.7, 57.3, 70.9};
    for (size_t i = 0; i < sizeof hz / sizeof *hz; i++) {
        const struct lamp_script_rules rules = blink_rules(hz[i]);
        ck_assert_msg(look(&rules, &phone) == LAMP_CYCLE_FOUND, "%g Hz", hz[i]);
    }
}
END_TEST

/* Rectified mains (IEC 60038: 50 and 60 Hz), on frames that come unevenly. */
START_TEST(the_ripple_of_a_supply_from_the_mains_repeats)
{
    struct film film = {30, 3 * MS, 15000 * MS, 0, 0.6};
    for (int hz = 100; hz <= 120; hz += 20) {
        const struct lamp_script_rules rules = blink_rules(hz);
        ck_assert_msg(look(&rules, &film) == LAMP_CYCLE_FOUND, "%d Hz", hz);
    }
}
END_TEST

START_TEST(a_code_of_flashes_too_short_to_count_repeats)
{
    static const int nine[] = {25, 20, 25, 20, 25, 20, 25, 20, 25,
                               20, 25, 20, 25, 20, 25, 20, 25, 512};
    static const int groups[] = {23, 21, 23, 21, 23, 78, 23, 21, 23, 322};
    const struct lamp_script_rules first = wave_rules(nine, sizeof nine / sizeof *nine);
    const struct lamp_script_rules second = wave_rules(groups, sizeof groups / sizeof *groups);
    ck_assert_int_eq(look(&first, &phone), LAMP_CYCLE_FOUND);
    ck_assert_int_eq(look(&second, &phone), LAMP_CYCLE_FOUND);
}
END_TEST

START_TEST(irregular_light_does_not)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_FLICKER;
    size_t found = 0;
    for (rules.seed = 1; rules.seed <= 45; rules.seed++) {
        rules.chance = (enum lamp_chance)(rules.seed % 3);
        rules.lit_mean_ns = (40 + 10 * (int64_t)(rules.seed % 20)) * MS;
        rules.dark_mean_ns = (30 + 15 * (int64_t)(rules.seed % 11)) * MS;
        found += look(&rules, &phone) != LAMP_CYCLE_NONE;
    }
    ck_assert_uint_le(found, 1);
}
END_TEST

START_TEST(a_few_seconds_say_nothing)
{
    const struct lamp_script_rules rules = blink_rules(46.7);
    struct film film = phone;
    film.duration_ns = 3000 * MS;
    ck_assert_int_eq(look(&rules, &film), LAMP_CYCLE_UNKNOWN);
}
END_TEST

/* At 1 000 samples a second a window holds two seconds: edges say all there is to say. */
START_TEST(a_quick_sensor_has_no_need_of_it)
{
    const struct lamp_script_rules rules = blink_rules(46.7);
    const struct film film = {1000, MS / 10, 5000 * MS, 0, 0};
    ck_assert_int_eq(look(&rules, &film), LAMP_CYCLE_UNKNOWN);
}
END_TEST

START_TEST(light_without_change_has_no_cycle)
{
    const struct lamp_script_rules rules = lamp_script_rules_default();
    ck_assert_int_ne(look(&rules, &phone), LAMP_CYCLE_FOUND);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_blink_faster_than_the_frames_repeats,
        the_ripple_of_a_supply_from_the_mains_repeats,
        a_code_of_flashes_too_short_to_count_repeats,
        irregular_light_does_not,
        a_few_seconds_say_nothing,
        a_quick_sensor_has_no_need_of_it,
        light_without_change_has_no_cycle,
    };
    return suite_run("fold", tests, sizeof tests / sizeof tests[0]);
}
