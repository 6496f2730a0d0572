/* match_entries.c - Every entry of a book is read back, on fast and slow boards, from any moment
 * on, with flaws. */
/* layers: base light rhythm codebook match */
#include <check.h>

#include "match_support.h"
#include "support/suite.h"

#define SEED 20240517U

static struct lamp_book *book;

static void open_book(void)
{
    book = sim_parse(sim_book_text);
}

static void close_book(void)
{
    lamp_book_free(book);
}

struct tally {
    size_t count;
    size_t right;
    size_t wrong;
    size_t flicker;
    size_t told_code;
};

static void count_reading(const struct lamp_code *truth, const struct sim_rules *rules,
                          struct sim_random *random, struct tally *tally)
{
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = truth->lamp};
    sim_play(&truth->wave, rules, random, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    bool is_right = match.has_entry && match.candidate[0].code == truth;
    tally->count++;
    tally->right += is_right;
    tally->wrong += match.has_entry && !is_right;
    tally->flicker += match.verdict == LAMP_VERDICT_FLICKER;
    tally->told_code += match.verdict == LAMP_VERDICT_CODE;
    if (match.has_entry && !is_right) {
        printf("  seed %u: '%s' told as '%s', %.3f\n", SEED, truth->id, match.candidate[0].code->id,
               match.confidence);
    }
}

/* Every entry with a wave, `times` over; blinks are seen for twice as many of their short cycles.
 */
static struct tally read_all(struct sim_rules rules, size_t times)
{
    struct tally tally = {.count = 0};
    struct sim_random random = sim_seeded(SEED);
    double cycles = rules.cycles;
    for (size_t i = 0; i < book->code_count * times; i++) {
        const struct lamp_code *code = &book->code[i % book->code_count];
        if (code->wave.count > 0) {
            rules.cycles = code->wave.count == 2 ? 2 * cycles : cycles;
            count_reading(code, &rules, &random, &tally);
        }
    }
    return tally;
}

START_TEST(every_entry_is_read_back_at_three_repeats)
{
    struct sim_rules rules = sim_rules_default();
    rules.cycles = 4.05; /* From any moment on, three whole repeats are always in it. */
    struct tally tally = read_all(rules, 60);
    printf("three repeats: %zu readings, %zu right, %zu wrong\n", tally.count, tally.right,
           tally.wrong);
    ck_assert_uint_gt(tally.count, 900);
    ck_assert_uint_eq(tally.wrong, 0);
    ck_assert_double_ge((double)tally.right, 0.99 * (double)tally.count);
}
END_TEST

/* Boards run 10 % fast or slow, each class of lengths is off by up to 10 % more (common practice,
 * no source). */
START_TEST(a_board_may_run_ten_percent_fast_or_slow)
{
    for (int slow = 0; slow < 2; slow++) {
        struct sim_rules rules = sim_rules_default();
        rules.cycles = 4.05;
        rules.scale = slow ? 1.1 : 0.9;
        rules.departure = 0.1;
        rules.sd_s = 0.006;
        struct tally tally = read_all(rules, 40);
        printf("clock %+d %%: %zu readings, %zu right, %zu wrong\n", slow ? 10 : -10, tally.count,
               tally.right, tally.wrong);
        ck_assert_uint_eq(tally.wrong, 0);
        ck_assert_double_ge((double)tally.right, 0.99 * (double)tally.count);
    }
}
END_TEST

/* The deviations that an edger tells may be too small or too large by half: blinks are then left
 * undecided by the rhythm. */
START_TEST(misjudged_deviations_do_not_make_wrong_codes)
{
    static const double told[] = {0.5, 1, 2};
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        struct sim_rules rules = sim_rules_default();
        rules.cycles = 4.05;
        rules.sd_s = 0.010;
        rules.told = told[i];
        struct tally tally = read_all(rules, 30);
        printf("deviations told at %.1f of true: %zu readings, %zu right, %zu wrong\n", told[i],
               tally.count, tally.right, tally.wrong);
        ck_assert_uint_eq(tally.wrong, 0);
        ck_assert_double_ge((double)tally.right, 0.85 * (double)tally.count);
    }
}
END_TEST

START_TEST(lost_flashes_and_glitches_never_make_a_wrong_code)
{
    static const struct {
        double lost;
        double extra;
        double least_right;
    } cases[] = {{0.01, 0, 0.9}, {0.03, 0, 0.7}, {0, 0.01, 0.7}, {0.08, 0.04, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct sim_rules rules = sim_rules_default();
        rules.cycles = 5.05;
        rules.lost = cases[i].lost;
        rules.extra = cases[i].extra;
        struct tally tally = read_all(rules, 60);
        printf(
            "%.0f %% lost, %.0f %% extra: %zu readings, %zu right, %zu wrong, %zu called flicker\n",
            100 * rules.lost, 100 * rules.extra, tally.count, tally.right, tally.wrong,
            tally.flicker);
        ck_assert_uint_eq(tally.wrong, 0);
        ck_assert_double_ge((double)tally.right, cases[i].least_right * (double)tally.count);
    }
}
END_TEST

/* Lengths of `code` cycle by cycle without noise, beginning and ending in its rest; flash `gone` of
 * cycle 1 is left out. */
static void play_clean(const struct lamp_code *code, size_t cycles, size_t gone,
                       struct sim_light *out)
{
    struct sim_edges edges = {.count = 0};
    struct sim_random random = sim_seeded(1);
    struct sim_rules rules = sim_rules_default();
    rules.sd_s = 0.002;
    double t = 0.9;
    for (size_t i = 0; i < cycles * code->wave.count; i++) {
        bool is_gone = i == code->wave.count + 2 * gone || i == code->wave.count + 2 * gone + 1;
        if (!is_gone) {
            sim_edge(&edges, t, i % 2 == 0);
        }
        t += (double)code->wave.length_ns[i % code->wave.count] * 1e-9;
    }
    sim_see(&edges, t, &rules, &random, out);
}

START_TEST(one_lost_flash_in_four_repeats_is_right_or_undecided)
{
    size_t right = 0;
    size_t count = 0;
    for (size_t i = 0; i < book->code_count; i++) {
        const struct lamp_code *code = &book->code[i];
        for (size_t gone = 0; code->wave.count > 2 && gone < code->wave.count / 2; gone++) {
            struct sim_light light;
            struct sim_sighting sighting = {.light = &light, .lamp_name = code->lamp};
            play_clean(code, 4, gone, &light);
            struct lamp_match match =
                sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
            count++;
            right += match.has_entry && match.candidate[0].code == code;
            ck_assert_msg(!match.has_entry || match.candidate[0].code == code,
                          "'%s' without flash %zu told as '%s'", code->id, gone + 1,
                          match.candidate[0].code->id);
            ck_assert_msg(match.verdict == LAMP_VERDICT_CODE ||
                              match.verdict == LAMP_VERDICT_UNDECIDED,
                          "'%s' without flash %zu: verdict %s", code->id, gone + 1,
                          lamp_verdict_name(match.verdict));
        }
    }
    printf("one lost flash in four repeats: %zu readings, %zu right, the others undecided\n", count,
           right);
    ck_assert_uint_gt(2 * right, count);
}
END_TEST

START_TEST(one_whole_repeat_is_a_candidate_but_not_told)
{
    for (size_t i = 0; i < book->code_count; i++) {
        const struct lamp_code *code = &book->code[i];
        if (code->wave.count <= 2) {
            continue;
        }
        struct sim_light light;
        struct sim_sighting sighting = {.light = &light, .lamp_name = code->lamp};
        play_clean(code, 1, 1000, &light);
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        ck_assert_int_eq(match.verdict, LAMP_VERDICT_UNDECIDED);
        ck_assert(!match.has_entry);
        ck_assert_uint_ge(match.candidate_count, 1);
        ck_assert_str_eq(match.candidate[0].code->id, code->id);
    }
}
END_TEST

START_TEST(a_break_in_the_middle_is_bridged)
{
    const struct lamp_code *code = sim_code(book, "five");
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
    play_clean(code, 5, 1000, &light);
    for (size_t i = 24; i + 3 < light.count;
         i++) { /* The view was lost within length 24, and the two after it. */
        light.length[i] = light.length[i + 3];
    }
    light.count -= 3;
    light.length[23].cut_after = true;
    light.length[24].cut_before = true;
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert(!match.has_entry || match.candidate[0].code == code);
    ck_assert_ptr_eq(match.candidate[0].code, code);
}
END_TEST

START_TEST(shares_sum_to_at_most_one_and_come_in_order)
{
    struct sim_random random = sim_seeded(SEED + 1);
    for (size_t i = 0; i < 200; i++) {
        struct sim_light light;
        struct sim_sighting sighting = {.light = &light};
        struct sim_rules rules = sim_rules_default();
        const struct lamp_code *code = &book->code[sim_below(&random, book->code_count)];
        if (code->wave.count == 0) {
            continue;
        }
        rules.cycles = sim_between(&random, 0.3, 5);
        sim_play(&code->wave, &rules, &random, &light);
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        double sum = 0;
        for (size_t c = 0; c < match.candidate_count; c++) {
            ck_assert_double_ge(match.candidate[c].confidence, 0);
            ck_assert(c == 0 || match.candidate[c].confidence <= match.candidate[c - 1].confidence);
            sum += match.candidate[c].confidence;
        }
        ck_assert_double_le(sum, 1 + 1e-9);
        ck_assert(match.confidence >= 0 && match.confidence <= 1);
    }
}
END_TEST

START_TEST(the_scale_told_is_that_of_the_board)
{
    struct sim_random random = sim_seeded(SEED + 2);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
    rules.scale = 1.05;
    sim_play(&sim_code(book, "memory")->wave, &rules, &random, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert(match.has_entry);
    ck_assert_double_eq_tol(match.candidate[0].scale, 1.03,
                            0.03); /* Shared with the classes: between 1 and 1.05. */
}
END_TEST

START_TEST(without_books_the_verdict_is_the_rhythms)
{
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light};
    play_clean(sim_code(book, "four"), 4, 1000, &light);
    struct lamp_match match = sim_match(&sighting, NULL, 0);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_UNLISTED);
    ck_assert_double_eq_tol(match.confidence, sighting.rhythm.confidence, 1e-12);
    ck_assert_uint_eq(match.candidate_count, 0);
    ck_assert(!match.has_entry);
}
END_TEST

START_TEST(no_lengths_and_odd_lengths_do_no_harm)
{
    struct sim_light light = {.count = 0};
    struct sim_sighting sighting = {.light = &light};
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert(!match.has_entry);
    light.count = 6;
    for (size_t i = 0; i < light.count; i++) { /* Empty, negative and unalternating lengths. */
        light.length[i] =
            (struct lamp_length){.ns = i % 3 == 0 ? 0 : -5, .sd_ns = 0, .lit = i % 4 == 0};
    }
    match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert(!match.has_entry);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("match entries");
    tcase_add_checked_fixture(cases, open_book, close_book);
    tcase_add_test(cases, every_entry_is_read_back_at_three_repeats);
    tcase_add_test(cases, a_board_may_run_ten_percent_fast_or_slow);
    tcase_add_test(cases, misjudged_deviations_do_not_make_wrong_codes);
    tcase_add_test(cases, lost_flashes_and_glitches_never_make_a_wrong_code);
    tcase_add_test(cases, one_lost_flash_in_four_repeats_is_right_or_undecided);
    tcase_add_test(cases, one_whole_repeat_is_a_candidate_but_not_told);
    tcase_add_test(cases, a_break_in_the_middle_is_bridged);
    tcase_add_test(cases, shares_sum_to_at_most_one_and_come_in_order);
    tcase_add_test(cases, the_scale_told_is_that_of_the_board);
    tcase_add_test(cases, without_books_the_verdict_is_the_rhythms);
    tcase_add_test(cases, no_lengths_and_odd_lengths_do_no_harm);
    return suite_end();
}
