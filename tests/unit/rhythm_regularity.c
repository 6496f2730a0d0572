/* rhythm_regularity.c - Light left to chance is never told as a rhythm, and a rhythm never as
 * chance. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <stdio.h>

#include "rhythm/regularity.h"
#include "support/irregular.h"
#include "support/read_rhythm.h"
#include "support/suite.h"

#define PER_KIND      200
#define PER_KIND_LONG 40

/* Lengths of a recording that may show no more than five cycles. */
#define BRIEF 12

struct tally {
    unsigned told[LAMP_VERDICT_UNDECIDED + 1];
    unsigned brief; /* Of those, with too few edges to call them irregular. */
    unsigned brief_rhythm;
};

static struct tally read_irregular(enum irregular kind, unsigned wanted, double least_s,
                                   double most_s)
{
    struct tally tally = {{0}, 0, 0};
    for (uint64_t seed = 1; seed <= wanted; seed++) {
        struct chance chance = {seed * 100 + (uint64_t)kind};
        struct irregular_light light = irregular_new(kind, &chance);
        double seconds = least_s * exp(chance_even(&chance) * log(most_s / least_s));
        struct view view = {chance_between(&chance, 0, 2000), 1000 * seconds,
                            chance_between(&chance, 0.5, 10)};
        struct played played = irregular_play(&light, view, &chance);
        size_t count;
        (void)lamp_lengths_all(played.lengths, &count);
        bool is_brief = count <= BRIEF;
        struct lamp_rhythm rhythm = rhythm_of(played);
        bool is_rhythm =
            rhythm.verdict == LAMP_VERDICT_BLINK || rhythm.verdict == LAMP_VERDICT_UNLISTED;
        tally.told[rhythm.verdict]++;
        tally.brief += is_brief;
        tally.brief_rhythm += is_brief && is_rhythm;
        if (is_rhythm) {
            printf("  %s, seed %llu: %s, %zu lengths, confidence %.3f\n", irregular_name[kind],
                   (unsigned long long)seed, lamp_verdict_name(rhythm.verdict), count,
                   rhythm.confidence);
            ck_assert(is_brief && rhythm.confidence < 0.9);
        }
    }
    return tally;
}

static unsigned print_tally(const char *name, const struct tally *tally)
{
    unsigned rhythm = tally->told[LAMP_VERDICT_BLINK] + tally->told[LAMP_VERDICT_UNLISTED];
    printf("%-12s flicker %3u, undecided %3u (%3u of few lengths), told as a rhythm %u\n", name,
           tally->told[LAMP_VERDICT_FLICKER], tally->told[LAMP_VERDICT_UNDECIDED], tally->brief,
           rhythm);
    return rhythm;
}

/* Ten kinds, 200 each: 2000. In a dozen lengths chance may look like two to four slow cycles, once
 * in thousands, and then the confidence says so. */
START_TEST(no_irregular_light_is_told_as_a_rhythm)
{
    unsigned rhythm = 0;
    unsigned brief_rhythm = 0;
    for (int kind = 0; kind < IRREGULAR_COUNT; kind++) {
        struct tally tally = read_irregular((enum irregular)kind, PER_KIND, 3, 30);
        rhythm += print_tally(irregular_name[kind], &tally);
        brief_rhythm += tally.brief_rhythm;
        ck_assert_uint_ge(tally.told[LAMP_VERDICT_FLICKER], (PER_KIND - tally.brief) * 8 / 10);
    }
    printf("told as a rhythm: %u of %d, all of few lengths\n", rhythm, PER_KIND * IRREGULAR_COUNT);
    ck_assert_uint_eq(rhythm, brief_rhythm);
    ck_assert_uint_le(brief_rhythm, 2);
}
END_TEST

START_TEST(long_irregular_light_is_flicker)
{
    for (int kind = 0; kind < IRREGULAR_COUNT; kind++) {
        struct tally tally = read_irregular((enum irregular)kind, PER_KIND_LONG, 30, 120);
        ck_assert_uint_eq(print_tally(irregular_name[kind], &tally), 0);
        ck_assert_uint_ge(tally.told[LAMP_VERDICT_FLICKER], PER_KIND_LONG * 8 / 10);
    }
}
END_TEST

/* Flashes and darks of one timer in an order drawn by chance: classes, and no repeat. */
START_TEST(timed_lengths_in_random_order_are_undecided)
{
    unsigned told = 0;
    for (uint64_t seed = 1; seed <= 300; seed++) {
        struct chance chance = {seed};
        struct view view = {chance_between(&chance, 500, 3000), 15000,
                            chance_between(&chance, 0.5, 6)};
        struct played played = played_new(view, true, &chance);
        while (played_add(&played, played.lit ? 120 * chance_int(&chance, 1, 2)
                                              : 120 * (1 + 2 * chance_int(&chance, 0, 1)))) {
        }
        struct lamp_rhythm rhythm = rhythm_of(played);
        ck_assert_int_ne(rhythm.verdict, LAMP_VERDICT_FLICKER);
        told += rhythm.verdict != LAMP_VERDICT_UNDECIDED;
    }
    ck_assert_uint_le(told, 1);
}
END_TEST

/* Retries that flash two, three or four times by chance: two equal ones in a row are no code yet
 * once others come. */
START_TEST(random_counts_of_flashes_are_undecided)
{
    unsigned told = 0;
    for (uint64_t seed = 1; seed <= 300; seed++) {
        struct chance chance = {seed};
        struct view view = {chance_between(&chance, 500, 3000), 40000,
                            chance_between(&chance, 0.5, 6)};
        struct played played = played_new(view, true, &chance);
        for (bool goes_on = true; goes_on;) {
            int flashes = chance_int(&chance, 2, 4);
            for (int i = 0; i < flashes && goes_on; i++) {
                goes_on =
                    played_add(&played, 150) && played_add(&played, i + 1 < flashes ? 150 : 900);
            }
        }
        told += rhythm_of(played).verdict != LAMP_VERDICT_UNDECIDED;
    }
    printf("random counts told as a code: %u of 300\n", told);
    ck_assert_uint_le(told, 6);
}
END_TEST

static struct lamp_regularity weigh(double tight, double doubtful, double loose, double order)
{
    static struct lamp_classes bands[LAMP_BAND_COUNT];
    bands[LAMP_BAND_TIGHT].evidence = tight;
    bands[LAMP_BAND_DOUBTFUL].evidence = doubtful;
    bands[LAMP_BAND_LOOSE].evidence = loose;
    struct lamp_regularity regularity;
    lamp_regularity_weigh(&(struct lamp_regularity_evidence){.lit = bands,
                                                             .dark = bands,
                                                             .has_order = true,
                                                             .order = order,
                                                             .few = -5,
                                                             .random_order = 0.1},
                          &regularity);
    return regularity;
}

START_TEST(probabilities_sum_to_one_and_follow_the_evidence)
{
    struct lamp_regularity tight = weigh(10, 0, -5, 5);
    struct lamp_regularity loose = weigh(-10, 0, 10, 0);
    struct lamp_regularity random = weigh(10, 0, -5, -5);
    struct lamp_regularity doubtful = weigh(0, 10, 0, 0);
    const struct lamp_regularity all[] = {tight, loose, random, doubtful};
    for (size_t i = 0; i < 4; i++) {
        ck_assert_double_eq_tol(
            all[i].repeating + all[i].random_order + all[i].doubtful + all[i].irregular, 1, 1e-9);
    }
    ck_assert(tight.repeating > 0.95 && loose.irregular > 0.95 && random.random_order > 0.9 &&
              doubtful.doubtful > 0.9);
    ck_assert(tight.nats > 0 && loose.nats < 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        no_irregular_light_is_told_as_a_rhythm,           long_irregular_light_is_flicker,
        timed_lengths_in_random_order_are_undecided,      random_counts_of_flashes_are_undecided,
        probabilities_sum_to_one_and_follow_the_evidence,
    };
    return suite_run("regularity", tests, sizeof tests / sizeof tests[0]);
}
