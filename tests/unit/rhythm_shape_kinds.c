/* rhythm_shape_kinds.c - What kind of light it is: two levels, smooth, uneven, constant; and its
 * flicker figures. */
/* layers: base light rhythm codebook render */
#include "support/edge_read.h"
#include "support/suite.h"

enum { TRACES = 40, ROOM = 4000 };

static struct lamp_sample sample[ROOM];
static struct edge_reading reading;

/* One lamp's light at a time, 0..1. */
struct light {
    const char *name;
    double (*at)(double t_s, double period_s);
    double period_s;
    double base; /* Level added to the light. */
    double gain;
    enum lamp_shape shape;
    double found_s; /* Period to be told; 0: none asked. */
};

static double turn_of(double t_s, double period_s)
{
    return t_s / period_s - floor(t_s / period_s);
}

static double sine(double t_s, double period_s)
{
    return 0.5 - 0.5 * cos(2 * 3.141592653589793 * t_s / period_s);
}

static double triangle(double t_s, double period_s)
{
    return fabs(2 * turn_of(t_s, period_s) - 1);
}

static double sawtooth(double t_s, double period_s)
{
    return turn_of(t_s, period_s);
}

/* A swell, then a pause twice as long. */
static double breath(double t_s, double period_s)
{
    const double turn = turn_of(t_s, period_s);
    return turn < 1.0 / 3 ? sine(3 * turn, 1) : 0;
}

static double square(double t_s, double period_s)
{
    return turn_of(t_s, period_s) < 0.5 ? 1 : 0;
}

/* On and off, but the light takes a tenth of the period to come and go. */
static double trapezoid(double t_s, double period_s)
{
    const double turn = turn_of(t_s, period_s);
    return fmin(fmax(fmin(turn * 10, (0.6 - turn) * 10), 0), 1);
}

/* Off, half and full light, in no order. */
static double staircase(double t_s, double period_s)
{
    const uint64_t step = (uint64_t)(t_s / period_s) + 1;
    return (double)((step * 2654435761U >> 9) % 3) / 2;
}

/* Straight ramps between levels in no order. */
static double ramps(double t_s, double period_s)
{
    const uint64_t step = (uint64_t)(t_s / period_s);
    const double from = spread((size_t)(step * 3 + step * step % 7));
    const double to = spread((size_t)((step + 1) * 3 + (step + 1) * (step + 1) % 7));
    return from + (to - from) * turn_of(t_s, period_s);
}

/* One shadow that passes over a lit lamp. */
static double shadow(double t_s, double period_s)
{
    const double off = (t_s - period_s) / 0.4;
    return 1 - 0.4 * exp(-off * off / 2);
}

/* A lamp that fingers cover by turns; they reflect a little of it, and shadow what is about it. */
static double covered(double t_s, double period_s)
{
    const double cover = sine(t_s, period_s);
    return (0.6 + 0.4 * square(t_s, 0.9)) * (1 - 0.9 * cover) - 0.2 * sine(t_s, 0.61 * period_s);
}

static const struct light lights[] = {
    {"sine at 2 Hz", sine, 0.5, 0, 0.5, LAMP_SHAPE_SMOOTH, 0.5},
    {"sine at 1 Hz", sine, 1, 0, 0.5, LAMP_SHAPE_SMOOTH, 1},
    {"sine of 3 s", sine, 3, 0, 0.5, LAMP_SHAPE_SMOOTH, 3},
    {"sine of 6 s, never dark", sine, 6, 0.1, 0.4, LAMP_SHAPE_SMOOTH, 6},
    {"sine of 8 s", sine, 8, 0, 0.5, LAMP_SHAPE_SMOOTH, 8},
    {"triangle of 2 s", triangle, 2, 0, 0.5, LAMP_SHAPE_SMOOTH, 2},
    {"sawtooth of 2 s", sawtooth, 2, 0, 0.5, LAMP_SHAPE_SMOOTH, 2},
    {"sawtooth of 10 s", sawtooth, 10, 0, 0.5, LAMP_SHAPE_SMOOTH, 0},
    {"breath of 1 s, every 3 s", breath, 3, 0, 0.5, LAMP_SHAPE_SMOOTH, 3},
    {"ramps in no order", ramps, 1.1, 0, 0.5, LAMP_SHAPE_SMOOTH, 0},
    {"square at 2 Hz", square, 0.5, 0, 0.5, LAMP_SHAPE_TWO_LEVEL, 0},
    {"square at 8 Hz", square, 0.125, 0, 0.5, LAMP_SHAPE_TWO_LEVEL, 0},
    {"square at 0.2 Hz", square, 5, 0, 0.5, LAMP_SHAPE_TWO_LEVEL, 0},
    {"bright and dim", square, 1, 0.35, 0.15, LAMP_SHAPE_TWO_LEVEL, 0},
    {"trapezoid at 1 Hz", trapezoid, 1, 0, 0.5, LAMP_SHAPE_TWO_LEVEL, 0},
    {"off, half, full", staircase, 0.35, 0, 0.5, LAMP_SHAPE_UNEVEN, 0},
    {"one shadow", shadow, 5, 0, 0.5, LAMP_SHAPE_CONSTANT, 0},
    {"slow drift", sine, 20, 0.3, 0.2, LAMP_SHAPE_CONSTANT, 0},
    {"residue of mains ripple", sine, 0.107, 0.5, 0.05, LAMP_SHAPE_CONSTANT, 0},
    {"alias of a dimmed lamp", sine, 0.143, 0.4, 0.08, LAMP_SHAPE_CONSTANT, 0},
};

/* A small generator of our own, so that nothing here hangs on the renderer's. */
static double draw_normal(uint64_t *state)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) {
        *state = *state * 6364136223846793005U + 1442695040888963407U;
        sum += (double)(*state >> 11) / 9007199254740992.0;
    }
    return sum;
}

/* Film a light at about 30/s, each frame exposed for `exposed` of its interval. */
static size_t film(const struct light *light, size_t seed, double exposed)
{
    const double interval_s = 1 / (29.5 + spread(seed));
    const double phase_s =
        light->shape == LAMP_SHAPE_CONSTANT ? 0 : 100 + spread(seed) * light->period_s;
    const size_t count = (size_t)((15 + 10 * spread(seed * 3)) / interval_s);
    uint64_t state = seed + 1;
    for (size_t i = 0; i < count && i < ROOM; i++) {
        const double t_s = (double)i * interval_s;
        double sum = 0;
        for (int part = 0; part < 16; part++) {
            sum += light->at(phase_s + t_s + exposed * interval_s * (part + 0.5) / 16,
                             light->period_s) /
                   16;
        }
        sample[i].t_ns = llround(t_s * 1e9);
        sample[i].exposure_ns = 0;
        sample[i].level = light->base + light->gain * sum + 0.005 * draw_normal(&state);
    }
    return count;
}

START_TEST(light_is_told_by_its_shape)
{
    const struct light *light = &lights[_i];
    for (size_t seed = 0; seed < TRACES; seed++) {
        const double exposed = 0.1 + 0.9 * spread(seed * 11);
        read_samples(sample, film(light, seed, exposed), &reading);
        ck_assert_msg(reading.shape.shape == light->shape, "%s, trace %zu: shape %d", light->name,
                      seed, (int)reading.shape.shape);
        if (light->found_s > 0) {
            ck_assert_double_eq_tol(reading.shape.period_s, light->found_s, 0.03 * light->found_s);
        }
        if (light->shape != LAMP_SHAPE_SMOOTH) {
            ck_assert_double_eq(reading.shape.period_s, 0);
        }
    }
}
END_TEST

/* Now and then nothing but the hand is seen. */
START_TEST(flashes_under_a_hand_are_seldom_smooth)
{
    static const struct light hand = {"hand", covered, 5, 0.1, 0.5, LAMP_SHAPE_UNEVEN, 0};
    size_t smooth = 0;
    for (size_t seed = 0; seed < TRACES; seed++) {
        read_samples(sample, film(&hand, seed, 0.5), &reading);
        smooth += reading.shape.shape == LAMP_SHAPE_SMOOTH;
    }
    ck_assert_uint_le(smooth, TRACES / 4);
}
END_TEST

START_TEST(soft_edges_are_counted_and_read_as_edges)
{
    const struct light *light = &lights[14];
    ck_assert_str_eq(light->name, "trapezoid at 1 Hz");
    for (size_t seed = 0; seed < TRACES; seed++) {
        const size_t count = film(light, seed, 0.5);
        read_samples(sample, count, &reading);
        check_order(&reading);
        const double seconds = (double)sample[count - 1].t_ns / 1e9;
        ck_assert_double_eq_tol((double)reading.count, 2 * seconds, 2);
        ck_assert_double_gt(reading.shape.soft_share, 0.8);
        /* The first one may have begun before the trace. */
        for (size_t i = 3; i < reading.count; i++) {
            ck_assert_int_le(llabs(reading.edge[i].t_ns - reading.edge[i - 2].t_ns - S), 15 * MS);
        }
    }
    read_samples(sample, film(&lights[10], 1, 0.5), &reading);
    ck_assert_double_lt(reading.shape.soft_share, 0.05);
}
END_TEST

/* What a codec leaves of the frame before smears edges over two or three frames: no edges come of
 * it. */
START_TEST(a_smear_makes_no_edges)
{
    const struct light light = {"square", square, 1, 0, 0.5, LAMP_SHAPE_TWO_LEVEL, 0};
    for (size_t seed = 0; seed < TRACES; seed++) {
        const size_t count = film(&light, seed, 0.5);
        for (size_t i = 1; i < count; i++) {
            sample[i].level = 0.3 * sample[i - 1].level + 0.7 * sample[i].level;
        }
        read_samples(sample, count, &reading);
        const double seconds = (double)sample[count - 1].t_ns / 1e9;
        ck_assert_double_eq_tol((double)reading.count, 2 * seconds, 2);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
    }
}
END_TEST

static void play(const struct lamp_script_rules *script_rules, size_t seed)
{
    struct lamp_script *script = make_script(script_rules);
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.seed = seed + 1;
    rules.shutter.exposure_ns = (int64_t)(4 + seed % 28) * MS;
    rules.shutter.duration_ns = 14 * S;
    rules.tells_exposure = seed % 2 == 0;
    const size_t count = take_samples(&rules, script, sample, ROOM);
    lamp_script_free(script);
    read_samples(sample, count, &reading);
    check_order(&reading);
}

/* A supply that sags: dips of all depths. Short ones may pass for a lamp that goes quite dark for
 * less than a frame. */
START_TEST(a_sagging_supply_is_uneven)
{
    size_t uneven = 0;
    size_t starts_lit = 0;
    for (size_t seed = 0; seed < 60; seed++) {
        struct lamp_script_rules rules = lamp_script_rules_default();
        rules.kind = LAMP_SCRIPT_SAG;
        rules.duration_ns = 15 * S;
        rules.depth_least = seed % 2 == 0 ? 0.15 : 0.25;
        rules.depth_most = seed % 2 == 0 ? 0.4 : 0.85;
        rules.seed = seed + 1;
        play(&rules, seed);
        uneven += reading.shape.shape == LAMP_SHAPE_UNEVEN;
        ck_assert_int_ne(reading.shape.shape, LAMP_SHAPE_CONSTANT);
        ck_assert_int_ne(reading.shape.shape, LAMP_SHAPE_SMOOTH);
        ck_assert_uint_ge(reading.count, 20);
        starts_lit += reading.starts_lit;
    }
    ck_assert_uint_ge(uneven, 54);
    /* A first length may be over before the first frame. */
    ck_assert_uint_ge(starts_lit, 56);
}
END_TEST

START_TEST(a_lamp_that_goes_on_and_off_irregularly_has_two_levels)
{
    for (size_t seed = 0; seed < 60; seed++) {
        struct lamp_script_rules rules = lamp_script_rules_default();
        rules.kind = LAMP_SCRIPT_FLICKER;
        rules.chance = (enum lamp_chance)(seed % 3);
        rules.duration_ns = 15 * S;
        rules.seed = seed + 1;
        play(&rules, seed);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
        ck_assert_uint_ge(reading.count, 25);
    }
}
END_TEST

/* Auto exposure that takes 40 % of the light of long flashes away does not make a code uneven. */
START_TEST(auto_exposure_does_not_make_light_uneven)
{
    static const int lengths_ms[] = {600, 200, 600, 700, 200, 200, 200, 200, 200, 1800};
    for (size_t seed = 0; seed < TRACES; seed++) {
        struct lamp_script_rules script_rules = wave_rules(lengths_ms, 10);
        script_rules.start_phase = spread(seed);
        script_rules.duration_ns = 15 * S;
        struct lamp_tracer_rules rules = lamp_tracer_rules_default();
        rules.pumping = 0.4;
        rules.shutter.seed = seed + 1;
        rules.shutter.duration_ns = 14 * S;
        struct edge_score score = {.missed = 0};
        play_and_score(&script_rules, &rules, &reading, &score);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
        ck_assert_uint_eq(score.missed + score.extra, 0);
    }
}
END_TEST

/*
 * Percent flicker (CIE International Lighting Vocabulary) and flicker index (IEC 60050 845-22-094)
 * of known waves, by arithmetic: a square of duty d from level a to b, a raised sine, a triangle
 * from 0.
 */
START_TEST(flicker_figures_are_those_of_known_waves)
{
    for (size_t seed = 0; seed < 10; seed++) {
        read_samples(sample, film(&lights[10], seed, 0.5), &reading);
        ck_assert_double_eq_tol(reading.shape.percent_flicker, 100, 1);
        ck_assert_double_eq_tol(reading.shape.flicker_index, 0.5, 0.04);
        read_samples(sample, film(&lights[13], seed, 0.5), &reading);
        ck_assert_double_eq_tol(reading.shape.percent_flicker, 100 * 0.15 / 0.85, 1);
        ck_assert_double_eq_tol(reading.shape.flicker_index, 0.5 * 0.15 / 2 / 0.425, 0.01);
        read_samples(sample, film(&lights[2], seed, 0.5), &reading);
        ck_assert_double_eq_tol(reading.shape.percent_flicker, 100, 2);
        ck_assert_double_eq_tol(reading.shape.flicker_index, 1 / 3.141592653589793, 0.02);
        read_samples(sample, film(&lights[5], seed, 0.5), &reading);
        ck_assert_double_eq_tol(reading.shape.percent_flicker, 100, 4);
        ck_assert_double_eq_tol(reading.shape.flicker_index, 0.25, 0.02);
    }
}
END_TEST

START_TEST(noise_alone_hardly_flickers)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    play(&rules, 3);
    ck_assert_double_lt(reading.shape.percent_flicker, 1.5);
    ck_assert_double_lt(reading.shape.flicker_index, 0.01);
    ck_assert_double_eq_tol(reading.shape.noise, sqrt(0.003 * 0.003 + 0.01 * 0.01 * 0.5), 0.001);
    ck_assert_double_eq_tol(reading.shape.lit_level, 0.5, 0.01);
}
END_TEST

START_TEST(the_fastest_rate_is_that_of_the_quickest_stretch)
{
    static const int lengths_ms[] = {100, 100, 100, 100, 100, 100, 100, 900};
    struct lamp_script_rules rules = wave_rules(lengths_ms, 8);
    rules.duration_ns = 15 * S;
    play(&rules, 1);
    ck_assert_double_eq_tol(reading.shape.fastest_hz, 5, 0.5);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        flashes_under_a_hand_are_seldom_smooth,
        soft_edges_are_counted_and_read_as_edges,
        a_smear_makes_no_edges,
        a_sagging_supply_is_uneven,
        a_lamp_that_goes_on_and_off_irregularly_has_two_levels,
        auto_exposure_does_not_make_light_uneven,
        flicker_figures_are_those_of_known_waves,
        noise_alone_hardly_flickers,
        the_fastest_rate_is_that_of_the_quickest_stretch,
    };
    const int failed =
        suite_run_rows("shape-table", light_is_told_by_its_shape, sizeof lights / sizeof *lights);
    return suite_run("shape-kinds", tests, sizeof tests / sizeof tests[0]) != 0 || failed != 0;
}
