/* rhythm_group_published.c - Published patterns are read as what they are, from any phase. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <string.h>

#include "support/read_rhythm.h"
#include "support/suite.h"

/* A published pattern: lengths in ms, lit first. `pattern` is NULL for a blink, whose rate and duty
 * are its own. */
struct published {
    const char *name;
    const char *source;
    const char *pattern;
    size_t count;
    double wave[20];
};

static const struct published table[] = {
    /* CiA 303-3, ETG.1300, EPSG DS 301: one family, in restatements of them. */
    {"flickering", "CiA 303-3", NULL, 2, {50, 50}},
    {"blinking", "CiA 303-3", NULL, 2, {200, 200}},
    {"single flash", "CiA 303-3", NULL, 2, {200, 1000}},
    {"single flash in ticks of 50 ms", "CiA 303-3", NULL, 2, {200, 1400}},
    {"double flash", "CiA 303-3", "2 short", 4, {200, 200, 200, 1000}},
    {"triple flash", "CiA 303-3", "3 short", 6, {200, 200, 200, 200, 200, 1000}},
    {"quadruple flash", "CiA 303-3", "4 short", 8, {200, 200, 200, 200, 200, 200, 200, 1000}},
    /* SFF-8489 IBPI in restatements; duty 50 % assumed. */
    {"locate", "SFF-8489", NULL, 2, {125, 125}},
    {"rebuild", "SFF-8489", NULL, 2, {500, 500}},
    /* Indicator rates, in restatements of the standards. */
    {"normal flashing", "IEC 60073", NULL, 2, {250, 250}},
    {"slow flashing", "IEC 60073", NULL, 2, {850, 850}},
    {"brief flash", "IEEE P1621 draft", NULL, 2, {100, 1900}},
    {"flashing", "CIP", NULL, 2, {500, 500}},
    {"bus fault", "PROFINET", NULL, 2, {250, 250}},
    {"short blink", "PICMG 3.0", NULL, 2, {100, 900}},
    {"long blink", "PICMG 3.0", NULL, 2, {900, 100}},
    {"direction indicator", "UN Reg. 48", NULL, 2, {333, 333}},
    /* IALA R0110, INT 1, in restatements. A cycle without a rest is told long flashes first. */
    {"Mo(A) 7 s", "IALA R0110", "1 short 1 long", 4, {500, 500, 1500, 4500}},
    {"Iso 10 s", "IALA R0110", NULL, 2, {5000, 5000}},
    {"Oc(2+1) 12 s", "IALA R0110", "2 long 1 short", 6, {1000, 1000, 4000, 1000, 4000, 1000}},
    {"Q(6)+LFl 15 s",
     "IALA R0110",
     "6 short 1 long",
     14,
     {500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 2000, 7000}},
    /* Linux LED triggers and U-Boot: kernel and loader source. */
    {"timer", "Linux", NULL, 2, {500, 500}},
    {"heartbeat, load 0", "Linux", "2 short", 4, {70, 245, 70, 875}},
    {"heartbeat, load 1", "Linux", "2 short", 4, {70, 145, 70, 575}},
    {"heartbeat, load 5", "Linux", "2 short", 4, {70, 57, 70, 313}},
    {"activity, idle", "Linux", NULL, 2, {10, 990}},
    {"activity, busy", "Linux", NULL, 2, {90, 10}},
    {"panic", "Linux", NULL, 2, {200, 200}},
    {"disk, sustained", "Linux", NULL, 2, {30, 30}},
    {"netdev, sustained", "Linux", NULL, 2, {50, 50}},
};

static const size_t table_count = sizeof table / sizeof table[0];

static void check_one(const struct published *row, int repeats, double edge_sd_ms, uint64_t seed)
{
    struct chance chance = {seed};
    double cycle_ms = wave_ms(row->wave, row->count);
    struct view view = {cycle_ms * chance_between(&chance, 1, 2), cycle_ms * (repeats + 1),
                        edge_sd_ms};
    struct lamp_rhythm rhythm = rhythm_of(played_wave(row->wave, row->count, 0.01, view, &chance));
    if (row->pattern != NULL) {
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, row->pattern, row->name, seed);
        ck_assert_uint_ge(rhythm.repeats_agreeing, 2);
        ck_assert_int_eq(rhythm.lack, LAMP_LACK_NOTHING);
        return;
    }
    expect_rhythm(&rhythm, LAMP_VERDICT_BLINK, NULL, row->name, seed);
    ck_assert_double_eq_tol(rhythm.rate_hz * cycle_ms / 1000, 1,
                            0.02 + edge_sd_ms / cycle_ms / repeats);
    ck_assert_double_eq_tol(rhythm.duty, row->wave[0] / cycle_ms, 0.02 + 2 * edge_sd_ms / cycle_ms);
}

START_TEST(every_published_pattern_is_read_from_any_phase)
{
    for (size_t i = 0; i < table_count; i++) {
        for (int repeats = 4; repeats <= 6; repeats++) {
            for (uint64_t seed = 1; seed <= 10; seed++) {
                check_one(&table[i], repeats, fmin(0.5, table[i].wave[1] / 100), seed);
            }
        }
    }
}
END_TEST

/* With edges known to 5 ms, lengths to 7 ms: what is short against that takes more cycles. */
START_TEST(a_camera_reads_them_from_a_recording_of_ten_seconds)
{
    for (size_t i = 0; i < table_count; i++) {
        double cycle_ms = wave_ms(table[i].wave, table[i].count);
        int repeats = cycle_ms < 2000 ? (int)(10000 / cycle_ms) : 5;
        bool is_too_fast =
            table[i].wave[0] < 50 && cycle_ms < 500; /* 30 ms against 7 ms is noise for a while. */
        for (uint64_t seed = 1; seed <= 10 && !is_too_fast; seed++) {
            check_one(&table[i], repeats, table[i].wave[1] < 20 ? 2.0 : 5.0, seed);
        }
    }
}
END_TEST

START_TEST(two_whole_repeats_are_enough_for_a_group_of_four)
{
    static const double wave[] = {200, 200, 200, 200, 200, 200, 200, 1000};
    struct chance chance = {1};
    struct view view = {7 * 200 + 100, 2 * 2400 + 1000, 1};
    struct lamp_rhythm rhythm = rhythm_of(played_wave(wave, 8, 0.01, view, &chance));
    expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "4 short", "two repeats", 1);
    ck_assert_uint_eq(rhythm.repeats_agreeing, 2);
}
END_TEST

START_TEST(timing_is_the_mean_of_all_repeats_and_finer_than_one_of_them)
{
    static const double wave[] = {600, 200, 200, 200, 200, 700, 200, 1800};
    double square = 0;
    for (uint64_t seed = 1; seed <= 50; seed++) {
        struct chance chance = {seed};
        struct view view = {5000, 10 * 4100, 5};
        struct lamp_rhythm rhythm = rhythm_of(played_wave(wave, 8, 0, view, &chance));
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "1 long 2 short, pause, 1 short", "timing",
                      seed);
        double off[] = {
            (double)rhythm.timing.short_ns / 1e6 - 200, (double)rhythm.timing.long_ns / 1e6 - 600,
            (double)rhythm.timing.gap_ns / 1e6 - 200, (double)rhythm.timing.pause_ns / 1e6 - 700,
            (double)rhythm.timing.rest_ns / 1e6 - 1800};
        for (size_t i = 0; i < 5; i++) {
            ck_assert_double_le(fabs(off[i]), 10);
            square += off[i] * off[i] / 5 / 50;
        }
        ck_assert(rhythm.timing_sd.short_ns > 0 && rhythm.timing_sd.rest_ns < 30000000);
    }
    ck_assert_double_le(sqrt(square), 3); /* One length has 7.1 ms. */
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        every_published_pattern_is_read_from_any_phase,
        a_camera_reads_them_from_a_recording_of_ten_seconds,
        two_whole_repeats_are_enough_for_a_group_of_four,
        timing_is_the_mean_of_all_repeats_and_finer_than_one_of_them,
    };
    return suite_run("published", tests, sizeof tests / sizeof tests[0]);
}
