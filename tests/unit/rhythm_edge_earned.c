/* rhythm_edge_earned.c - A lamp is steady only where noise, drift or ripple explain all its light.
 */
/* layers: base light rhythm codebook render */
#include "lampread/group.h"
#include "support/edge_read.h"
#include "support/lengths.h"
#include "support/suite.h"

enum { ROOM = 2000, TRACES = 60 };

static struct lamp_sample sample[ROOM];
static struct edge_reading reading;

/* Film a lamp that is lit for `duty` of each cycle, at 30 frames a second. */
static size_t film_square(double cycle_s, double duty, double base, double gain, double noise,
                          size_t seed)
{
    struct chance chance = {.state = seed + 1};
    const double exposed = 0.2 + 0.8 * spread(seed * 7);
    const double phase = spread(seed);
    const size_t count = 180 + 10 * (seed % 20);
    for (size_t i = 0; i < count; i++) {
        double lit = 0;
        for (int part = 0; part < 32; part++) {
            const double t_s = ((double)i + exposed * (part + 0.5) / 32) / 30;
            lit += fmod(t_s / cycle_s + phase, 1) < duty;
        }
        sample[i] =
            (struct lamp_sample){.t_ns = llround((double)i * 1e9 / 30),
                                 .level = base + gain * lit / 32 + noise * chance_normal(&chance)};
    }
    return count;
}

/* Film one level with the ripple of mains light, a sine or a rectified one. */
static size_t film_ripple(double hz, double share, bool is_rectified, size_t seed)
{
    struct chance chance = {.state = seed + 1};
    const size_t count = 180 + 10 * (seed % 20);
    for (size_t i = 0; i < count; i++) {
        const double turn = 3.141592653589793 * hz * (double)i / 30 + spread(seed);
        const double wave = is_rectified ? fabs(sin(turn)) : (1 + sin(2 * turn)) / 2;
        sample[i] = (struct lamp_sample){.t_ns = llround((double)i * 1e9 / 30),
                                         .level = 0.6 * (1 - share * wave) +
                                                  0.004 * chance_normal(&chance)};
    }
    return count;
}

START_TEST(few_flashes_of_a_lamp_without_noise_are_edges)
{
    for (size_t seed = 0; seed < TRACES; seed++) {
        const double cycle_s = seed % 2 == 0 ? 1.93 : 2;
        const size_t count =
            film_square(cycle_s, 0.05, 0, 0.55, 0.0001 + 0.0004 * spread(seed), seed);
        read_samples(sample, count, &reading);
        const double seconds = (double)sample[count - 1].t_ns / 1e9;
        ck_assert_double_eq_tol((double)reading.count, 2 * seconds / cycle_s, 2);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
        ck_assert_double_eq_tol(reading.shape.lit_level, 0.55, 0.02);
    }
}
END_TEST

START_TEST(a_shallow_lamp_with_two_clean_levels_blinks)
{
    for (size_t seed = 0; seed < TRACES; seed++) {
        const double hz = 3 + 1.5 * spread(seed * 3);
        const double base = 0.47 - 0.2 * (double)(seed % 2);
        const size_t count = film_square(1 / hz, 0.54, base, 0.24, 0.01, seed);
        read_samples(sample, count, &reading);
        const double seconds = (double)sample[count - 1].t_ns / 1e9;
        ck_assert_double_eq_tol((double)reading.count, 2 * hz * seconds, 3);
        ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
    }
}
END_TEST

START_TEST(ripple_has_no_edges_whatever_its_wave)
{
    for (size_t seed = 0; seed < TRACES; seed++) {
        const double hz = 3 + 8 * spread(seed * 3);
        const size_t count = film_ripple(hz, 0.15 + 0.15 * spread(seed * 5), seed % 2 == 0, seed);
        read_samples(sample, count, &reading);
        ck_assert_msg(reading.count == 0, "trace %zu: %.1f Hz, %zu edges", seed, hz, reading.count);
    }
}
END_TEST

/* Levels of all depths, each for a while: what a supply that sags makes of a lamp. */
static size_t film_sag(size_t seed)
{
    struct chance chance = {.state = seed + 1};
    double level = 0;
    for (size_t i = 0; i < 300; i++) {
        if (i == 0 || chance_even(&chance) < 0.2) {
            level = 0.12 + 0.24 * chance_even(&chance);
        }
        sample[i] = (struct lamp_sample){.t_ns = llround((double)i * 1e9 / 30),
                                         .level = level + 0.008 * chance_normal(&chance)};
    }
    return 300;
}

START_TEST(light_at_all_levels_is_never_steady)
{
    const struct lamp_rhythm_rules rules = lamp_rhythm_rules_default();
    size_t edgeless = 0;
    for (size_t seed = 0; seed < 5 * TRACES; seed++) {
        read_samples(sample, film_sag(seed), &reading);
        ck_assert_int_ne(reading.shape.shape, LAMP_SHAPE_CONSTANT);
        if (reading.count > 0) {
            continue;
        }
        struct lamp_rhythm rhythm;
        lamp_rhythm_read(NULL, 0, &reading.shape, &rules, &rhythm);
        ck_assert_int_ne(rhythm.verdict, LAMP_VERDICT_STEADY_ON);
        edgeless++;
    }
    ck_assert_uint_gt(edgeless, 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        few_flashes_of_a_lamp_without_noise_are_edges,
        a_shallow_lamp_with_two_clean_levels_blinks,
        ripple_has_no_edges_whatever_its_wave,
        light_at_all_levels_is_never_steady,
    };
    return suite_run("edge-earned", tests, sizeof tests / sizeof *tests);
}
