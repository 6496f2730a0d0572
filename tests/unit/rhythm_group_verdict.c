/* rhythm_group_verdict.c - What the light's shape, length and rate make of the verdict. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <string.h>

#include "support/irregular.h"
#include "support/read_rhythm.h"
#include "support/suite.h"

static const int64_t second_ns = 1000000000;

static struct lamp_rhythm read_all(const struct lamp_length *lengths, size_t count,
                                   const struct lamp_light_shape *shape)
{
    struct lamp_rhythm_rules rules = lamp_rhythm_rules_default();
    struct lamp_rhythm rhythm;
    lamp_rhythm_read(lengths, count, shape, &rules, &rhythm);
    return rhythm;
}

static struct lamp_light_shape shape_of(enum lamp_shape shape)
{
    return (struct lamp_light_shape){.shape = shape,
                                     .sample_count = 300,
                                     .last_ns = 10 * second_ns,
                                     .rate_hz = 30,
                                     .is_lit = true};
}

static struct lamp_rhythm read_wave(const double *wave, size_t count, double seconds,
                                    const struct lamp_light_shape *shape)
{
    struct chance chance = {7};
    struct played played =
        played_wave(wave, count, 0.01, (struct view){1234, 1000 * seconds, 3}, &chance);
    size_t length_count;
    const struct lamp_length *lengths = lamp_lengths_all(played.lengths, &length_count);
    struct lamp_rhythm rhythm = read_all(lengths, length_count, shape);
    lamp_lengths_free(played.lengths);
    return rhythm;
}

START_TEST(light_without_edges_is_steady_and_surer_the_longer)
{
    for (int lit = 0; lit < 2; lit++) {
        struct lamp_length one = {
            .ns = second_ns, .lit = lit == 1, .cut_before = true, .cut_after = true};
        struct lamp_rhythm brief = read_all(&one, 1, NULL);
        one.ns = 10 * second_ns;
        struct lamp_rhythm rhythm = read_all(&one, 1, NULL);
        ck_assert_int_eq(rhythm.verdict, lit ? LAMP_VERDICT_STEADY_ON : LAMP_VERDICT_STEADY_OFF);
        ck_assert_int_eq(brief.verdict, rhythm.verdict);
        ck_assert_int_eq(rhythm.pattern.kind,
                         lit ? LAMP_PATTERN_STEADY_ON : LAMP_PATTERN_STEADY_OFF);
        ck_assert(brief.confidence < 0.9 && rhythm.confidence > 0.95);
        ck_assert_double_eq(rhythm.edges_per_s, 0);
    }
}
END_TEST

START_TEST(a_constant_shape_says_whether_its_level_is_lit)
{
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_CONSTANT);
    ck_assert_int_eq(read_all(NULL, 0, &shape).verdict, LAMP_VERDICT_STEADY_ON);
    shape.is_lit = false;
    ck_assert_int_eq(read_all(NULL, 0, &shape).verdict, LAMP_VERDICT_STEADY_OFF);
}
END_TEST

START_TEST(nothing_seen_is_undecided)
{
    struct lamp_rhythm rhythm = read_all(NULL, 0, NULL);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_LENGTH);
    ck_assert_double_eq(rhythm.confidence, 0);
}
END_TEST

START_TEST(a_lamp_that_came_on_once_is_undecided)
{
    const struct lamp_length lengths[] = {
        {.ns = 2 * second_ns, .cut_before = true},
        {.start_ns = 2 * second_ns, .ns = 20 * second_ns, .lit = true, .cut_after = true},
    };
    struct lamp_rhythm rhythm = read_all(lengths, 2, NULL);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_LENGTH);
}
END_TEST

START_TEST(lit_before_a_break_and_dark_after_it_is_undecided)
{
    const struct lamp_length lengths[] = {
        {.ns = 5 * second_ns, .lit = true, .cut_before = true, .cut_after = true},
        {.start_ns = 6 * second_ns, .ns = 5 * second_ns, .cut_before = true, .cut_after = true},
    };
    ck_assert_int_eq(read_all(lengths, 2, NULL).verdict, LAMP_VERDICT_UNDECIDED);
}
END_TEST

START_TEST(smooth_light_that_repeats_is_a_fade_whatever_its_edges)
{
    static const double wave[] = {900, 900};
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_SMOOTH);
    ck_assert_int_eq(read_wave(wave, 2, 20, &shape).verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(read_wave(wave, 2, 20, &shape).lack, LAMP_LACK_REPEAT);
    shape.period_s = 1.8;
    ck_assert_int_eq(read_wave(wave, 2, 20, &shape).verdict, LAMP_VERDICT_FADE);
    shape.shape = LAMP_SHAPE_TWO_LEVEL;
    ck_assert_int_eq(read_wave(wave, 2, 20, &shape).verdict, LAMP_VERDICT_BLINK);
}
END_TEST

/* Two cycles: the second flash and the second dark are off by `off` s. */
static enum lamp_verdict read_two_cycles(double off)
{
    const double length_s[] = {0.9, 1.1, 0.9 + off, 1.1 - off};
    struct lamp_length lengths[4];
    int64_t at_ns = 0;
    for (size_t i = 0; i < 4; i++) {
        lengths[i] = (struct lamp_length){.start_ns = at_ns,
                                          .ns = (int64_t)(length_s[i] * (double)second_ns),
                                          .sd_ns = second_ns / 300,
                                          .lit = i % 2 == 0};
        at_ns += lengths[i].ns;
    }
    return read_all(lengths, 4, NULL).verdict;
}

START_TEST(two_slow_cycles_are_a_blink_only_if_they_are_alike)
{
    ck_assert_int_eq(read_two_cycles(0), LAMP_VERDICT_BLINK);
    ck_assert_int_eq(read_two_cycles(0.01), LAMP_VERDICT_BLINK);
    ck_assert_int_eq(read_two_cycles(0.025), LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(read_two_cycles(-0.025), LAMP_VERDICT_UNDECIDED);
}
END_TEST

START_TEST(a_cycle_of_many_lengths_that_comes_back_is_not_flicker)
{
    static const double wave[] = {120, 588, 136, 260, 220, 149, 102, 349, 310, 1135};
    ck_assert_int_ne(read_wave(wave, 10, 7.5, NULL).verdict, LAMP_VERDICT_FLICKER);
    ck_assert_int_ne(read_wave(wave, 10, 9, NULL).verdict, LAMP_VERDICT_FLICKER);
}
END_TEST

START_TEST(a_lamp_too_fast_for_the_frames_is_never_read)
{
    static const double blink[] = {200, 200};
    static const double code[] = {200, 200, 200, 200, 200, 1000};
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_TWO_LEVEL);
    shape.fastest_hz = 0.39 * shape.rate_hz;
    ck_assert_int_eq(read_wave(blink, 2, 20, &shape).verdict, LAMP_VERDICT_BLINK);
    ck_assert_int_eq(read_wave(code, 6, 20, &shape).verdict, LAMP_VERDICT_UNLISTED);
    shape.fastest_hz = 0.41 * shape.rate_hz;
    ck_assert_int_eq(read_wave(blink, 2, 20, &shape).lack, LAMP_LACK_RATE);
    ck_assert_int_eq(read_wave(code, 6, 20, &shape).lack, LAMP_LACK_RATE);
    ck_assert_int_eq(read_wave(code, 6, 20, &shape).verdict, LAMP_VERDICT_UNDECIDED);
}
END_TEST

/* Lit and dark by turns, sd 3 ms: some long ones among many that scatter from 20 to 100 ms. */
static struct lamp_rhythm read_fast(double long_least_ms, double long_most_ms)
{
    enum { COUNT = 90 };
    struct lamp_length lengths[COUNT];
    struct chance chance = {5};
    int64_t at_ns = 0;
    for (size_t i = 0; i < COUNT; i++) {
        const double ms = chance_even(&chance) < 0.3
                              ? chance_between(&chance, long_least_ms, long_most_ms)
                              : chance_between(&chance, 20, 100);
        lengths[i] = (struct lamp_length){.start_ns = at_ns,
                                          .ns = (int64_t)(ms * 1e6),
                                          .sd_ns = 3000000,
                                          .lit = i % 2 == 0,
                                          .cut_before = i == 0,
                                          .cut_after = i + 1 == COUNT};
        at_ns += lengths[i].ns;
    }
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_TWO_LEVEL);
    shape.fastest_hz = 0.5 * shape.rate_hz;
    return read_all(lengths, COUNT, &shape);
}

/* Flashes too short for the frames scatter as the frames fall; the rests between them do not. */
START_TEST(light_too_fast_for_the_frames_is_flicker_only_if_its_long_lengths_scatter)
{
    ck_assert_int_eq(read_fast(150, 900).verdict, LAMP_VERDICT_FLICKER);
    ck_assert_int_eq(read_fast(699, 701).verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(read_fast(699, 701).lack, LAMP_LACK_RATE);
}
END_TEST

START_TEST(uneven_light_needs_fewer_edges_to_be_flicker)
{
    const int64_t ms = 1000000;
    const int64_t ns[] = {900, 60, 2300, 130, 350, 45, 1500, 300, 800};
    struct lamp_length lengths[9];
    int64_t t_ns = 0;
    for (size_t i = 0; i < 9; i++) {
        lengths[i] = (struct lamp_length){.start_ns = t_ns,
                                          .ns = ns[i] * ms,
                                          .sd_ns = 2 * ms,
                                          .lit = i % 2 == 0,
                                          .cut_before = i == 0,
                                          .cut_after = i == 8};
        t_ns += ns[i] * ms;
    }
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_UNEVEN);
    ck_assert_int_eq(read_all(lengths, 9, &shape).verdict, LAMP_VERDICT_FLICKER);
    shape.shape = LAMP_SHAPE_TWO_LEVEL;
    ck_assert_int_eq(read_all(lengths, 9, &shape).verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(read_all(lengths, 9, &shape).lack, LAMP_LACK_LENGTH);
}
END_TEST

/* Lengths of no rhythm, some of them as short as the frames are far apart. */
static struct lamp_rhythm read_quick_chance(enum lamp_cycle_sign cycle)
{
    const int64_t ms = 1000000;
    struct lamp_length lengths[80];
    struct chance chance = {3};
    int64_t t_ns = 0;
    for (size_t i = 0; i < 80; i++) {
        const int64_t ns = llround((25 - 110 * log(chance_even(&chance))) * 1e6);
        lengths[i] = (struct lamp_length){.start_ns = t_ns,
                                          .ns = ns,
                                          .sd_ns = 4 * ms,
                                          .lit = i % 2 == 0,
                                          .cut_before = i == 0,
                                          .cut_after = i == 79};
        t_ns += ns;
    }
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_TWO_LEVEL);
    shape.rate_hz = 30;
    shape.fastest_hz = 14;
    shape.cycle = cycle;
    return read_all(lengths, 80, &shape);
}

START_TEST(light_that_repeats_is_no_flicker_however_irregular_its_edges)
{
    const struct lamp_rhythm rhythm = read_quick_chance(LAMP_CYCLE_FOUND);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_RATE);
    ck_assert_int_eq(read_quick_chance(LAMP_CYCLE_NONE).verdict, LAMP_VERDICT_FLICKER);
}
END_TEST

START_TEST(a_code_in_uneven_light_is_still_a_code)
{
    static const double code[] = {200, 200, 200, 200, 200, 1000};
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_UNEVEN);
    ck_assert_int_eq(read_wave(code, 6, 20, &shape).verdict, LAMP_VERDICT_UNLISTED);
}
END_TEST

START_TEST(a_blink_from_darkness_to_darkness_may_be_a_long_group)
{
    static const double group[] = {200, 200, 200, 200, 200, 200, 200, 200,
                                   200, 200, 200, 200, 200, 200, 200, 3000};
    struct lamp_rhythm rhythm = read_wave(group, 16, 5.5, NULL);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_REPEAT);
}
END_TEST

START_TEST(a_long_blink_with_a_flash_lost_is_a_blink_and_less_sure)
{
    double wave[80];
    for (size_t i = 0; i < 80; i++) {
        wave[i] = 200;
    }
    struct lamp_rhythm whole = read_wave(wave, 80, 30, NULL);
    wave[61] = 600;
    struct lamp_rhythm lost = read_wave(wave, 80, 18, NULL);
    ck_assert_int_eq(whole.verdict, LAMP_VERDICT_BLINK);
    ck_assert(lost.verdict == LAMP_VERDICT_BLINK || lost.verdict == LAMP_VERDICT_UNDECIDED);
    ck_assert_double_lt(lost.confidence, whole.confidence);
}
END_TEST

START_TEST(a_break_between_repeats_joins_nothing)
{
    static const double code[] = {200, 200, 200, 200, 200, 1000};
    struct lamp_lengths *lengths = NULL;
    ck_assert_int_eq(lamp_lengths_new(&lengths), LAMP_OK);
    for (int part = 0; part < 3;
         part++) { /* Each part: a rest, a group, a rest, a group, and cut in the third. */
        double t_ms = part * 10000;
        bool lit = false;
        lamp_lengths_begin(lengths, (int64_t)(t_ms * 1e6), lit);
        t_ms += 900;
        for (size_t i = 0; i < 14; i++) {
            lit = !lit;
            lamp_lengths_push(
                lengths,
                &(struct lamp_edge){.t_ns = (int64_t)(t_ms * 1e6), .sd_ns = 1000000, .lit = lit});
            t_ms += code[i % 6];
        }
        lamp_lengths_end(lengths, (int64_t)((t_ms - 100) * 1e6));
    }
    size_t count;
    const struct lamp_length *all = lamp_lengths_all(lengths, &count);
    struct lamp_rhythm rhythm = read_all(all, count, NULL);
    expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "3 short", "three parts", 0);
    ck_assert_uint_eq(rhythm.repeats_agreeing, 6);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(only_the_newest_lengths_count_and_many_take_no_longer)
{
    static const double first[] = {300, 700};
    static const double then[] = {200, 200, 200, 1000};
    struct chance chance = {1};
    struct played played = played_new((struct view){10, 4000000, 1}, true, &chance);
    for (size_t i = 0; i < 1000; i++) {
        (void)played_add(&played, first[i % 2]);
    }
    for (size_t i = 0; played_add(&played, then[i % 4]) && i < 3000; i++) {
    }
    struct lamp_rhythm rhythm = rhythm_of(played);
    expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "2 short", "newest", 0);
}
END_TEST

START_TEST(every_verdict_has_its_name)
{
    static const char *const names[] = {"steady-on", "steady-off", "blink", "code",
                                        "unlisted",  "flicker",    "fade",  "undecided"};
    for (int verdict = 0; verdict <= LAMP_VERDICT_UNDECIDED; verdict++) {
        ck_assert_str_eq(lamp_verdict_name((enum lamp_verdict)verdict), names[verdict]);
    }
}
END_TEST

/* Lengths of any size, order and damage: the answer stays in its bounds. */
START_TEST(nonsense_is_read_without_harm)
{
    for (uint64_t seed = 1; seed <= 100; seed++) {
        struct chance chance = {seed};
        struct lamp_length lengths[600];
        size_t count = (size_t)chance_int(&chance, 0, 600);
        for (size_t i = 0; i < count; i++) {
            bool is_huge = chance_even(&chance) < 0.02;
            lengths[i] = (struct lamp_length){.start_ns = (int64_t)i,
                                              .ns = is_huge ? INT64_MAX / 2048
                                                            : chance_int(&chance, 0, 1 << 30),
                                              .sd_ns = chance_int(&chance, 0, 1 << 28),
                                              .lit = chance_int(&chance, 0, 1) == 1,
                                              .cut_before = chance_even(&chance) < 0.1,
                                              .cut_after = chance_even(&chance) < 0.1};
        }
        struct lamp_rhythm rhythm = read_all(lengths, count, NULL);
        ck_assert(rhythm.confidence >= 0 && rhythm.confidence < 1);
        ck_assert(isfinite(rhythm.regularity));
        ck_assert(rhythm.pattern.count <= LAMP_SYMBOLS_MAX);
    }
}
END_TEST

/* A VCD may change a signal there and back at one time. */
START_TEST(lengths_of_no_time_are_no_rhythm_and_have_a_finite_rate)
{
    struct lamp_length lengths[40];
    for (size_t i = 0; i < 40; i++) {
        lengths[i] = (struct lamp_length){.lit = i % 2 == 0};
    }
    struct lamp_rhythm rhythm = read_all(lengths, 40, NULL);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_RATE);
    lengths[20].ns = 1000000000; /* now the rate of the others is asked for */
    rhythm = read_all(lengths, 40, NULL);
    ck_assert(isfinite(rhythm.rate_hz));
    ck_assert(rhythm.duty >= 0 && rhythm.duty <= 1);
}
END_TEST

START_TEST(one_moment_is_not_steady)
{
    struct lamp_light_shape shape = shape_of(LAMP_SHAPE_CONSTANT);
    shape.last_ns = shape.first_ns;
    ck_assert_int_eq(read_all(NULL, 0, &shape).verdict, LAMP_VERDICT_UNDECIDED);
    shape.last_ns = shape.first_ns + 20000000000;
    ck_assert_int_ne(read_all(NULL, 0, &shape).verdict, LAMP_VERDICT_UNDECIDED);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        light_without_edges_is_steady_and_surer_the_longer,
        a_constant_shape_says_whether_its_level_is_lit,
        nothing_seen_is_undecided,
        a_lamp_that_came_on_once_is_undecided,
        lit_before_a_break_and_dark_after_it_is_undecided,
        smooth_light_that_repeats_is_a_fade_whatever_its_edges,
        two_slow_cycles_are_a_blink_only_if_they_are_alike,
        a_cycle_of_many_lengths_that_comes_back_is_not_flicker,
        a_lamp_too_fast_for_the_frames_is_never_read,
        light_too_fast_for_the_frames_is_flicker_only_if_its_long_lengths_scatter,
        uneven_light_needs_fewer_edges_to_be_flicker,
        light_that_repeats_is_no_flicker_however_irregular_its_edges,
        a_code_in_uneven_light_is_still_a_code,
        a_blink_from_darkness_to_darkness_may_be_a_long_group,
        a_long_blink_with_a_flash_lost_is_a_blink_and_less_sure,
        a_break_between_repeats_joins_nothing,
        only_the_newest_lengths_count_and_many_take_no_longer,
        every_verdict_has_its_name,
        nonsense_is_read_without_harm,
        lengths_of_no_time_are_no_rhythm_and_have_a_finite_rate,
        one_moment_is_not_steady,
    };
    return suite_run("verdict", tests, sizeof tests / sizeof tests[0]);
}
