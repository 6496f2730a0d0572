/* match_nothing.c - Irregular light and codes that no book lists are never told as a code of the
 * book. */
/* layers: base light rhythm codebook match */
#include <check.h>
#include <time.h>

#include "match_support.h"
#include "support/suite.h"

#define SEED 777U
#define RUNS 1000

static struct lamp_book *book;

static void open_book(void)
{
    book = sim_parse(sim_book_text);
}

static void close_book(void)
{
    lamp_book_free(book);
}

static bool is_told(const struct lamp_match *match)
{
    return match->verdict == LAMP_VERDICT_CODE || match->has_entry;
}

START_TEST(no_irregular_light_is_told_as_a_code)
{
    struct sim_random random = sim_seeded(SEED);
    size_t verdicts[LAMP_VERDICT_UNDECIDED + 1] = {0};
    for (size_t i = 0; i < RUNS; i++) {
        struct sim_light light;
        struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
        struct sim_rules rules = sim_rules_default();
        sim_irregular(4 + sim_below(&random, 90), &rules, &random, &light);
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        verdicts[match.verdict]++;
        ck_assert_msg(!is_told(&match), "seed %u, run %zu: told '%s'", SEED, i,
                      match.candidate[0].code->id);
    }
    printf(
        "irregular light: %d runs, 0 told, %zu flicker, %zu undecided, %zu unlisted, %zu blink\n",
        RUNS, verdicts[LAMP_VERDICT_FLICKER], verdicts[LAMP_VERDICT_UNDECIDED],
        verdicts[LAMP_VERDICT_UNLISTED], verdicts[LAMP_VERDICT_BLINK]);
}
END_TEST

/* Even if the rhythm took irregular light for groups that repeat, no entry may be told. */
START_TEST(irregular_light_is_no_code_even_if_the_rhythm_errs)
{
    struct sim_random random = sim_seeded(SEED + 1);
    for (size_t i = 0; i < RUNS; i++) {
        struct sim_light light;
        struct sim_rules rules = sim_rules_default();
        sim_irregular(4 + sim_below(&random, 90), &rules, &random, &light);
        const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNLISTED, .confidence = 0.9};
        const struct lamp_evidence evidence = {.length = light.length,
                                               .length_count = light.count,
                                               .rhythm = &rhythm,
                                               .lamp_name = "status"};
        const struct lamp_match_rules match_rules = lamp_match_rules_default();
        struct lamp_match match;
        lamp_match(&evidence, (const struct lamp_book *const *)&book, 1, &match_rules, &match);
        ck_assert_msg(!is_told(&match), "seed %u, run %zu: told '%s'", SEED + 1, i,
                      match.candidate[0].code->id);
    }
}
END_TEST

static size_t count_told(struct sim_random *random, double cycles, double lost, bool is_helped)
{
    size_t told = 0;
    for (size_t i = 0; i < RUNS; i++) {
        struct lamp_wave wave;
        struct sim_light light;
        struct sim_rules rules = sim_rules_default();
        sim_unlisted(book, random, &wave);
        rules.scale = sim_between(random, 0.9, 1.1);
        rules.departure = 0.05;
        rules.cycles = cycles;
        rules.lost = lost;
        sim_play(&wave, &rules, random, &light);
        struct sim_sighting sighting = {.light = is_helped ? &light : NULL, .lamp_name = "status"};
        struct lamp_match match;
        if (is_helped) {
            match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        } else {
            const struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNLISTED, .confidence = 0.9};
            const struct lamp_evidence evidence = {.length = light.length,
                                                   .length_count = light.count,
                                                   .rhythm = &rhythm,
                                                   .lamp_name = "status"};
            const struct lamp_match_rules match_rules = lamp_match_rules_default();
            lamp_match(&evidence, (const struct lamp_book *const *)&book, 1, &match_rules, &match);
        }
        told += is_told(&match);
        if (is_told(&match)) {
            printf("  run %zu of %.1f cycles: unlisted told as '%s', %.3f\n", i, cycles,
                   match.candidate[0].code->id, match.confidence);
        }
    }
    return told;
}

START_TEST(no_unlisted_code_is_told)
{
    static const double cycles[] = {0.7, 1.4, 2.1, 2.6, 3.2, 4.5, 7};
    struct sim_random random = sim_seeded(SEED + 2);
    for (size_t i = 0; i < sizeof cycles / sizeof cycles[0]; i++) {
        size_t told = count_told(&random, cycles[i], 0, true);
        printf("unlisted codes, %.1f cycles: %d runs, %zu told\n", cycles[i], RUNS, told);
        ck_assert_uint_eq(told, 0);
    }
}
END_TEST

START_TEST(no_unlisted_code_is_told_with_flashes_lost)
{
    static const double cycles[] = {2.6, 4.5};
    struct sim_random random = sim_seeded(SEED + 3);
    for (size_t i = 0; i < sizeof cycles / sizeof cycles[0]; i++) {
        size_t told = count_told(&random, cycles[i], 0.04, true);
        printf("unlisted codes with 4 %% of flashes lost, %.1f cycles: %d runs, %zu told\n",
               cycles[i], RUNS, told);
        ck_assert_uint_eq(told, 0);
    }
}
END_TEST

/* Likelihood alone, with a rhythm that says no more than that groups repeat. */
START_TEST(no_unlisted_code_is_told_without_the_rhythms_help)
{
    static const double cycles[] = {2.6, 4.5};
    struct sim_random random = sim_seeded(SEED + 4);
    for (size_t i = 0; i < sizeof cycles / sizeof cycles[0]; i++) {
        size_t told = count_told(&random, cycles[i], 0, false);
        printf("unlisted codes, likelihood alone, %.1f cycles: %d runs, %zu told\n", cycles[i],
               RUNS, told);
        ck_assert_uint_eq(told, 0);
    }
}
END_TEST

/* The nearest unlisted codes there are: one flash more or less than an entry, same lengths. */
START_TEST(one_flash_more_or_less_is_never_told)
{
    struct sim_random random = sim_seeded(SEED + 5);
    size_t unlisted = 0;
    size_t count = 0;
    for (unsigned flashes = 1; flashes < 12; flashes++) {
        struct lamp_pattern pattern = {.kind = LAMP_PATTERN_GROUPS, .count = flashes};
        struct lamp_wave wave;
        ck_assert_int_eq(lamp_pattern_play(&pattern, &book->timing, &wave, NULL), LAMP_OK);
        for (size_t i = 0; i < 100 && !sim_is_listed(book, &wave) && flashes > 1; i++) {
            struct sim_light light;
            struct sim_rules rules = sim_rules_default();
            struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
            rules.scale = sim_between(&random, 0.9, 1.1);
            rules.cycles = sim_between(&random, 2, 6);
            sim_play(&wave, &rules, &random, &light);
            struct lamp_match match =
                sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
            ck_assert(!is_told(&match));
            count++;
            unlisted += match.verdict == LAMP_VERDICT_UNLISTED;
        }
    }
    printf("one flash more or less: %zu runs, 0 told, %zu unlisted\n", count, unlisted);
    ck_assert_uint_gt(count, 300);
    ck_assert_uint_gt(2 * unlisted, count);
}
END_TEST

/* Flashes, gaps and rests just as the book has them, but every group has another number than the
 * one before. */
START_TEST(groups_of_changing_counts_are_never_told)
{
    struct sim_random random = sim_seeded(SEED + 7);
    size_t flicker = 0;
    for (size_t i = 0; i < RUNS; i++) {
        struct sim_edges edges = {.count = 0};
        struct sim_light light;
        struct sim_rules rules = sim_rules_default();
        struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
        double t = 0.3;
        size_t before = 0;
        for (size_t group = 0; group < 3 + i % 6; group++) {
            size_t flashes = 1 + sim_below(&random, 8);
            flashes += flashes == before;
            for (size_t k = 0; k < flashes; k++) {
                sim_edge(&edges, t, true);
                sim_edge(&edges, t + 0.2, false);
                t += 0.4;
            }
            t += 1.6;
            before = flashes;
        }
        sim_see(&edges, t, &rules, &random, &light);
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        ck_assert_msg(!is_told(&match), "seed %u, run %zu: told '%s', %.3f", SEED + 7, i,
                      match.candidate[0].code->id, match.confidence);
        flicker += match.verdict == LAMP_VERDICT_FLICKER;
    }
    printf("groups of changing counts: %d runs, 0 told, %zu flicker\n", RUNS, flicker);
}
END_TEST

/* Printed; only that it ends in good time is checked, with much to spare. */
START_TEST(four_hundred_entries_are_weighed_in_a_moment)
{
    static char text[65536];
    size_t used = (size_t)snprintf(
        text, sizeof text,
        "book: big\nboard: b\nsource: s\ntiming: {short: 200 ms, long: 600 ms, gap: 200 ms, "
        "pause: 700 ms, rest: 1800 ms}\ncodes:\n");
    for (unsigned i = 0; i < 400; i++) {
        used += (size_t)snprintf(
            text + used, sizeof text - used,
            "  - {id: c%u, pattern: \"%u short, pause, %u long %u short\", means: m}\n", i,
            1 + i % 10, 1 + i / 10 % 5, 1 + i / 50);
    }
    struct lamp_book *big = sim_parse(text);
    struct sim_random random = sim_seeded(SEED + 6);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    rules.cycles = 20;
    sim_play(&big->code[123].wave, &rules, &random, &light);
    light.count = light.count > 512 ? 512 : light.count;
    struct sim_sighting sighting = {.light = &light};
    double seconds[5];
    for (size_t i = 0; i < 5; i++) {
        clock_t begin = clock();
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&big, 1);
        seconds[i] = (double)(clock() - begin) / CLOCKS_PER_SEC;
        ck_assert_ptr_eq(match.candidate[0].code, &big->code[123]);
    }
    printf("400 entries, %zu lengths: %.3f s\n", light.count, seconds[2]);
    ck_assert_double_lt(seconds[2], 10);
    lamp_book_free(big);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("match nothing");
    tcase_set_timeout(cases, 600);
    tcase_add_checked_fixture(cases, open_book, close_book);
    tcase_add_test(cases, no_irregular_light_is_told_as_a_code);
    tcase_add_test(cases, irregular_light_is_no_code_even_if_the_rhythm_errs);
    tcase_add_test(cases, no_unlisted_code_is_told);
    tcase_add_test(cases, no_unlisted_code_is_told_with_flashes_lost);
    tcase_add_test(cases, no_unlisted_code_is_told_without_the_rhythms_help);
    tcase_add_test(cases, one_flash_more_or_less_is_never_told);
    tcase_add_test(cases, groups_of_changing_counts_are_never_told);
    tcase_add_test(cases, four_hundred_entries_are_weighed_in_a_moment);
    return suite_end();
}
