/* rhythm_group_codes.c - Codes that no book lists are read right, or not at all, wherever they are
 * cut. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <stdio.h>
#include <string.h>

#include "support/random_code.h"
#include "support/read_rhythm.h"
#include "support/suite.h"

struct tally {
    unsigned right;
    unsigned wrong; /* Another pattern, told as read. */
    unsigned blink;
    unsigned flicker;
    unsigned undecided;
    unsigned agreeing; /* Another pattern with two or more repeats agreeing, told or not. */
};

static void count_one(const struct random_code *code, struct played played, uint64_t seed,
                      struct tally *tally)
{
    struct lamp_rhythm rhythm = rhythm_of(played);
    bool is_right = lamp_pattern_equal(&rhythm.pattern, &code->pattern);
    bool is_told = rhythm.verdict == LAMP_VERDICT_UNLISTED;
    tally->right += is_told && is_right;
    tally->wrong += is_told && !is_right;
    tally->blink += rhythm.verdict == LAMP_VERDICT_BLINK;
    tally->flicker += rhythm.verdict == LAMP_VERDICT_FLICKER;
    tally->undecided += rhythm.verdict == LAMP_VERDICT_UNDECIDED;
    tally->agreeing += !is_right && rhythm.repeats_agreeing > 1;
    if (is_told && !is_right) {
        char truth[LAMP_NOTATION_MAX];
        char told[LAMP_NOTATION_MAX];
        lamp_pattern_format(&code->pattern, truth);
        lamp_pattern_format(&rhythm.pattern, told);
        printf("  seed %llu: \"%s\" read as \"%s\", confidence %.3f\n", (unsigned long long)seed,
               truth, told, rhythm.confidence);
    }
}

static void print_tally(const char *what, const struct tally *tally)
{
    printf("%s: right %u, wrong %u, blink %u, flicker %u, undecided %u; wrong with repeats "
           "agreeing %u\n",
           what, tally->right, tally->wrong, tally->blink, tally->flicker, tally->undecided,
           tally->agreeing);
}

/* Cycles seen from any phase; one more than `repeats` so that this many are whole. */
static struct tally read_codes(unsigned count, int repeats, double most_jitter, double most_sd_ms)
{
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= count; seed++) {
        struct chance chance = {seed * 10 + (uint64_t)repeats};
        struct random_code code = random_code_new(&chance);
        double cycle_ms = wave_ms(code.wave, code.count);
        struct view view = {cycle_ms * chance_between(&chance, 1, 2), cycle_ms * (repeats + 1),
                            chance_between(&chance, 0.5, most_sd_ms)};
        double jitter = chance_between(&chance, 0, most_jitter);
        count_one(&code, played_wave(code.wave, code.count, jitter, view, &chance), seed, &tally);
    }
    return tally;
}

START_TEST(a_thousand_unlisted_codes_are_read_right)
{
    struct tally tally = read_codes(1000, 3, 0.03, 8);
    print_tally("3 repeats, jitter to 3 %", &tally);
    ck_assert_uint_ge(tally.right, 990);
    ck_assert_uint_eq(tally.wrong + tally.blink + tally.flicker + tally.agreeing, 0);
}
END_TEST

START_TEST(more_repeats_are_read_no_worse)
{
    for (int repeats = 4; repeats <= 6; repeats++) {
        struct tally tally = read_codes(300, repeats, 0.05, 10);
        print_tally("4 to 6 repeats, jitter to 5 %", &tally);
        ck_assert_uint_ge(tally.right, 298);
        ck_assert_uint_eq(tally.wrong + tally.blink + tally.flicker + tally.agreeing, 0);
    }
}
END_TEST

START_TEST(two_repeats_are_read_right_or_not_at_all)
{
    struct tally tally = read_codes(500, 2, 0.03, 8);
    print_tally("2 repeats", &tally);
    ck_assert_uint_ge(tally.right, 350);
    ck_assert_uint_eq(tally.wrong + tally.blink + tally.flicker + tally.agreeing, 0);
}
END_TEST

/* A window may fall inside one long group, where the light is a blink and nothing else; and a code
 * whose first groups are alike may be cut so that only those are seen. Neither can be known; both
 * are rare. */
START_TEST(a_code_cut_anywhere_is_hardly_ever_another_code)
{
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= 4000; seed++) {
        struct chance chance = {seed * 7};
        struct random_code code = random_code_new(&chance);
        double cycle_ms = wave_ms(code.wave, code.count);
        struct view view = {cycle_ms * chance_between(&chance, 1, 2),
                            cycle_ms * chance_between(&chance, 0.15, 3.2),
                            chance_between(&chance, 0.5, 8)};
        count_one(&code, played_wave(code.wave, code.count, 0.02, view, &chance), seed, &tally);
    }
    print_tally("cut anywhere, 0.15 to 3.2 cycles", &tally);
    ck_assert_uint_le(tally.wrong, 2);
    ck_assert_uint_eq(tally.flicker, 0);
    ck_assert_uint_le(tally.blink, 60);
    ck_assert_uint_gt(tally.right, 500);
}
END_TEST

/* Flashes or gaps that were lost, one length in a hundred: of a code of ten flashes, every fifth
 * repeat. */
static struct played lose_some(const struct random_code *code, struct view view,
                               struct chance *chance)
{
    struct played played = played_new(view, true, chance);
    double held = 0;
    for (size_t i = 0, joined = 0;; i = (i + 1) % code->count) {
        held += code->wave[i];
        bool is_lost = code->wave[i] < 1.9 * code->wave[0] && chance_even(chance) < 0.01;
        joined = joined > 0 ? joined - 1 : is_lost ? 2 : 0;
        if (joined == 0 && !played_add(&played, held)) {
            return played;
        }
        held = joined == 0 ? 0 : held;
    }
}

START_TEST(lost_flashes_make_a_code_undecided_but_seldom_another_and_never_chance)
{
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= 1000; seed++) {
        struct chance chance = {seed * 13};
        struct random_code code = random_code_new(&chance);
        double cycle_ms = wave_ms(code.wave, code.count);
        struct view view = {cycle_ms * chance_between(&chance, 1, 2), cycle_ms * 6,
                            chance_between(&chance, 0.5, 8)};
        count_one(&code, lose_some(&code, view, &chance), seed, &tally);
    }
    print_tally("one length in a hundred lost, 6 cycles", &tally);
    ck_assert_uint_le(tally.wrong, 3);
    ck_assert_uint_eq(tally.flicker, 0);
    ck_assert_uint_ge(tally.right, 600);
}
END_TEST

START_TEST(two_groups_parted_by_rests_alone_are_a_cycle_of_two)
{
    static const double wave[] = {200, 200, 200, 1200, 200, 200, 200,
                                  200, 200, 200, 200,  200, 200, 1200};
    for (uint64_t seed = 1; seed <= 50; seed++) {
        struct chance chance = {seed};
        struct view view = {5000 + chance_between(&chance, 0, 4600), 4 * 4600, 3};
        struct lamp_rhythm rhythm = rhythm_of(played_wave(wave, 14, 0.02, view, &chance));
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "2 short, pause, 5 short", "2 and 5", seed);
        ck_assert_int_eq(rhythm.timing.pause_ns, rhythm.timing.rest_ns);
    }
}
END_TEST

START_TEST(four_digits_are_read)
{
    static const int digits[] = {3, 1, 9, 5};
    double wave[40];
    size_t count = 0;
    for (int d = 0; d < 4; d++) {
        for (int i = 0; i < digits[d]; i++) {
            wave[count++] = 150;
            wave[count++] = 150;
        }
        wave[count - 1] = d < 3 ? 600 : 2000;
    }
    for (uint64_t seed = 1; seed <= 50; seed++) {
        struct chance chance = {seed};
        double cycle_ms = wave_ms(wave, count);
        struct view view = {cycle_ms * chance_between(&chance, 1, 2), 4 * cycle_ms, 4};
        struct lamp_rhythm rhythm = rhythm_of(played_wave(wave, count, 0.02, view, &chance));
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED,
                      "3 short, pause, 1 short, pause, 9 short, pause, 5 short", "four digits",
                      seed);
    }
}
END_TEST

/* What one book calls two long flashes is, seen dark for lit, two long darks: the classes must come
 * out the same. */
START_TEST(light_turned_inside_out_has_the_same_classes)
{
    static const double wave[] = {200, 600, 600, 200, 600, 200, 200, 200};
    struct chance chance = {3};
    struct chance same = {3};
    struct view view = {3000, 16000, 2};
    struct played lit = played_wave(wave, 8, 0, view, &chance);
    struct played dark = played_new(view, false, &same);
    for (size_t i = 0; played_add(&dark, wave[i]) || !dark.is_ended; i = (i + 1) % 8) {
    }
    struct lamp_rhythm a = rhythm_of(lit);
    struct lamp_rhythm b = rhythm_of(dark);
    ck_assert_int_eq(a.verdict, LAMP_VERDICT_UNLISTED);
    ck_assert_int_eq(b.verdict, LAMP_VERDICT_UNLISTED);
    ck_assert_double_eq_tol((double)a.timing.short_ns, (double)b.timing.gap_ns, 8e6);
    ck_assert_double_eq_tol((double)a.timing.long_ns, (double)b.timing.rest_ns, 8e6);
    ck_assert_double_eq_tol((double)b.timing.short_ns, (double)a.timing.gap_ns, 8e6);
    ck_assert_double_eq_tol((double)b.timing.long_ns, (double)a.timing.rest_ns, 8e6);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_thousand_unlisted_codes_are_read_right,
        more_repeats_are_read_no_worse,
        two_repeats_are_read_right_or_not_at_all,
        a_code_cut_anywhere_is_hardly_ever_another_code,
        lost_flashes_make_a_code_undecided_but_seldom_another_and_never_chance,
        two_groups_parted_by_rests_alone_are_a_cycle_of_two,
        four_digits_are_read,
        light_turned_inside_out_has_the_same_classes,
    };
    return suite_run("codes", tests, sizeof tests / sizeof tests[0]);
}
