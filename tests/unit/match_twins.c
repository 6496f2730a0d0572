/* match_twins.c - One light, several meanings: all are listed, none is picked, unless lamp or
 * colour tells them apart. */
/* layers: base light rhythm codebook match */
#include <check.h>

#include "match_support.h"
#include "support/suite.h"

/* Rows of two fieldbus families and of common lamps, from published patterns (restatements of CiA
 * 303-3, ETG.1300, CIP, PICMG 3.0, SFF-8489; kernel source for the LED triggers). Lengths are
 * nominal there, the tolerances are ours. */
static const char run_text[] =
    "book: run-err\nboard: b\nsource: CiA 303-3 in restatements\n"
    "lamps: {run: {colour: green}, err: {colour: red}}\ncodes:\n"
    "  - {id: stopped, lamp: run, pattern: \"on 200 ms, off 1000 ms\", means: m}\n"
    "  - {id: download, lamp: run, pattern: \"on 200 ms, off 200 ms, on 200 ms, off 200 ms, "
    "on 200 ms, off 1000 ms\", means: m}\n"
    "  - {id: operational, lamp: run, pattern: steady on, means: m}\n"
    "  - {id: warning, lamp: err, pattern: \"on 200 ms, off 1000 ms\", means: m}\n"
    "  - {id: sync, lamp: err, pattern: \"on 200 ms, off 200 ms, on 200 ms, off 200 ms, "
    "on 200 ms, off 1000 ms\", means: m}\n"
    "  - {id: bus-off, lamp: err, pattern: steady on, means: m}\n";

static const char common_text[] =
    "book: common\nboard: b\nsource: kernel source, CIP and SFF-8489 in restatements\n"
    "codes:\n"
    "  - {id: timer, pattern: \"on 500 ms, off 500 ms\", means: m}\n"
    "  - {id: cip-flashing, pattern: \"on 500 ms, off 500 ms\", means: m}\n"
    "  - {id: rebuild, pattern: blink 1 Hz, means: m}\n"
    "  - {id: locate, pattern: blink 4 Hz, means: m}\n"
    "  - {id: bus-fault, pattern: blink 2 Hz, means: m}\n"
    "  - {id: panic, pattern: blink 2.5 Hz, means: m}\n"
    "  - {id: short-blink, pattern: \"on 100 ms, off 900 ms\", means: m}\n"
    "  - {id: brief-flash, pattern: \"on 100 ms, off 1900 ms\", means: m}\n"
    "  - {id: traffic, pattern: flicker, means: m}\n"
    "  - {id: heartbeat, pattern: \"on 70 ms, off 245 ms, on 70 ms, off 875 ms\", means: m}\n"
    "  - {id: heartbeat-busy, pattern: \"on 70 ms, off 145 ms, on 70 ms, off 575 ms\", "
    "means: m}\n";

static struct lamp_book *run;
static struct lamp_book *common;

static void open_books(void)
{
    run = sim_parse(run_text);
    common = sim_parse(common_text);
}

static void close_books(void)
{
    lamp_book_free(run);
    lamp_book_free(common);
}

static struct lamp_match look(const struct lamp_book *book, const char *id, const char *lamp,
                              enum lamp_colour colour)
{
    struct sim_random random = sim_seeded(5);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = lamp, .colour = colour};
    rules.cycles = 8.3;
    sim_play(&sim_code(book, id)->wave, &rules, &random, &light);
    return sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
}

/* A kind without a wave: the rhythm is given. */
static struct lamp_match look_kind(const struct lamp_book *book, enum lamp_verdict verdict,
                                   const char *lamp, enum lamp_colour colour)
{
    struct sim_sighting sighting = {.lamp_name = lamp, .colour = colour};
    sighting.rhythm.verdict = verdict;
    sighting.rhythm.confidence = 0.99;
    return sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
}

static bool lists(const struct lamp_match *match, const char *id)
{
    for (size_t i = 0; i < match->candidate_count; i++) {
        if (strcmp(match->candidate[i].code->id, id) == 0 &&
            match->candidate[i].against[0] == '\0') {
            return true;
        }
    }
    return false;
}

START_TEST(twins_of_a_code_are_undecided_and_both_listed)
{
    struct lamp_match match = look(run, "download", NULL, LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(match.lack, LAMP_LACK_DISTINCTION);
    ck_assert(!match.has_entry);
    ck_assert(lists(&match, "download"));
    ck_assert(lists(&match, "sync"));
    ck_assert_double_eq_tol(match.candidate[0].confidence, match.candidate[1].confidence, 1e-9);
}
END_TEST

START_TEST(colour_tells_twins_apart)
{
    struct lamp_match green = look(run, "download", NULL, LAMP_COLOUR_GREEN);
    ck_assert_int_eq(green.verdict, LAMP_VERDICT_CODE);
    ck_assert_str_eq(green.candidate[0].code->id, "download");
    ck_assert_str_eq(green.candidate[1].code->id, "sync");
    ck_assert_str_eq(green.candidate[1].against, "lamp is green, not red");
    struct lamp_match red = look(run, "download", NULL, LAMP_COLOUR_RED);
    ck_assert_int_eq(red.verdict, LAMP_VERDICT_CODE);
    ck_assert_str_eq(red.candidate[0].code->id, "sync");
}
END_TEST

START_TEST(a_white_core_does_not_tell_twins_apart)
{
    struct lamp_match match = look(run, "download", NULL, LAMP_COLOUR_WHITE);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(match.lack, LAMP_LACK_DISTINCTION);
}
END_TEST

START_TEST(the_name_of_the_lamp_rules_over_its_colour)
{
    struct lamp_match match = look(run, "download", "err", LAMP_COLOUR_GREEN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_CODE);
    ck_assert_str_eq(match.candidate[0].code->id, "sync");
    ck_assert(!lists(&match, "download"));
}
END_TEST

START_TEST(a_name_that_the_book_has_not_restricts_nothing)
{
    struct lamp_match match = look(run, "download", "lamp-1", LAMP_COLOUR_GREEN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_CODE);
    ck_assert_str_eq(match.candidate[0].code->id, "download");
}
END_TEST

START_TEST(a_blink_stays_a_blink_with_its_entry)
{
    struct lamp_match match = look(run, "stopped", "run", LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_BLINK);
    ck_assert(match.has_entry);
    ck_assert_str_eq(match.candidate[0].code->id, "stopped");
}
END_TEST

START_TEST(twins_of_a_blink_are_listed_and_none_is_told)
{
    struct lamp_match match = look(common, "timer", NULL, LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_BLINK);
    ck_assert(!match.has_entry);
    ck_assert(lists(&match, "timer"));
    ck_assert(lists(&match, "cip-flashing"));
    ck_assert(lists(&match, "rebuild"));
    ck_assert(!lists(&match, "locate"));
}
END_TEST

START_TEST(near_rates_are_told_apart)
{
    static const char *const ids[] = {"locate", "bus-fault", "panic", "short-blink", "brief-flash"};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        struct lamp_match match = look(common, ids[i], NULL, LAMP_COLOUR_UNKNOWN);
        ck_assert_int_eq(match.verdict, LAMP_VERDICT_BLINK);
        ck_assert_str_eq(match.candidate[0].code->id, ids[i]);
    }
}
END_TEST

/* Heartbeat at loads 0 and 1: periods from the kernel's formula (primary text). One is the other 33
 * % faster. */
START_TEST(heartbeats_of_different_load_are_told_apart)
{
    static const char *const ids[] = {"heartbeat", "heartbeat-busy"};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        struct lamp_match match = look(common, ids[i], NULL, LAMP_COLOUR_UNKNOWN);
        ck_assert_str_eq(match.candidate[0].code->id, ids[i]);
        ck_assert(match.verdict == LAMP_VERDICT_CODE || match.verdict == LAMP_VERDICT_UNDECIDED);
    }
}
END_TEST

START_TEST(a_steady_lamp_has_its_entry_if_only_one_fits)
{
    struct lamp_match match = look_kind(run, LAMP_VERDICT_STEADY_ON, "err", LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_STEADY_ON);
    ck_assert(match.has_entry);
    ck_assert_str_eq(match.candidate[0].code->id, "bus-off");
    match = look_kind(run, LAMP_VERDICT_STEADY_ON, NULL, LAMP_COLOUR_UNKNOWN);
    ck_assert(!match.has_entry);
    ck_assert_uint_eq(match.candidate_count, 2);
    match = look_kind(run, LAMP_VERDICT_STEADY_ON, NULL, LAMP_COLOUR_RED);
    ck_assert(match.has_entry);
    ck_assert_str_eq(match.candidate[0].code->id, "bus-off");
    match = look_kind(run, LAMP_VERDICT_STEADY_ON, NULL, LAMP_COLOUR_BLUE);
    ck_assert(!match.has_entry);
}
END_TEST

START_TEST(flicker_has_only_flicker_entries)
{
    struct lamp_match match = look_kind(common, LAMP_VERDICT_FLICKER, NULL, LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_FLICKER);
    ck_assert(match.has_entry);
    ck_assert_uint_eq(match.candidate_count, 1);
    ck_assert_str_eq(match.candidate[0].code->id, "traffic");
    match = look_kind(run, LAMP_VERDICT_FLICKER, NULL, LAMP_COLOUR_UNKNOWN);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_FLICKER);
    ck_assert_uint_eq(match.candidate_count, 0);
}
END_TEST

/* However well the lengths fit, light that was not read as flashes is no code. */
START_TEST(a_fade_or_a_lamp_too_fast_is_never_a_code)
{
    struct sim_random random = sim_seeded(6);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    rules.cycles = 8;
    sim_play(&sim_code(run, "download")->wave, &rules, &random, &light);
    static const struct {
        enum lamp_verdict verdict;
        enum lamp_lack lack;
    } cases[] = {{LAMP_VERDICT_FADE, LAMP_LACK_NOTHING},
                 {LAMP_VERDICT_FLICKER, LAMP_LACK_NOTHING},
                 {LAMP_VERDICT_UNDECIDED, LAMP_LACK_RATE},
                 {LAMP_VERDICT_UNDECIDED, LAMP_LACK_LIGHT}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct lamp_rhythm rhythm = {
            .verdict = cases[i].verdict, .lack = cases[i].lack, .confidence = 0.9};
        const struct lamp_evidence evidence = {.length = light.length,
                                               .length_count = light.count,
                                               .rhythm = &rhythm,
                                               .lamp_name = "run"};
        const struct lamp_match_rules match_rules = lamp_match_rules_default();
        struct lamp_match match;
        lamp_match(&evidence, (const struct lamp_book *const *)&run, 1, &match_rules, &match);
        ck_assert_int_ne(match.verdict, LAMP_VERDICT_CODE);
        ck_assert(!match.has_entry);
    }
}
END_TEST

/* A printed single flash of a real device is 200/1400 against the nominal 200/1000: the count is
 * the reliable feature. */
START_TEST(a_single_flash_with_a_long_dark_is_still_one)
{
    const struct lamp_wave printed = {.count = 2, .length_ns = {200000000, 1400000000}};
    struct sim_random random = sim_seeded(7);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "run"};
    rules.cycles = 9;
    sim_play(&printed, &rules, &random, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&run, 1);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_BLINK);
    ck_assert_str_eq(match.candidate[0].code->id, "stopped");
    ck_assert_str_eq(match.candidate[0].against, "");
}
END_TEST

START_TEST(two_books_are_weighed_together)
{
    const struct lamp_book *books[] = {run, common};
    struct sim_random random = sim_seeded(8);
    struct sim_rules rules = sim_rules_default();
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "run"};
    rules.cycles = 5;
    sim_play(&sim_code(run, "download")->wave, &rules, &random, &light);
    struct lamp_match match = sim_match(&sighting, books, 2);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_CODE);
    ck_assert_ptr_eq(match.candidate[0].book, run);
    ck_assert_str_eq(match.candidate[0].code->id, "download");
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("match twins");
    tcase_add_checked_fixture(cases, open_books, close_books);
    tcase_add_test(cases, twins_of_a_code_are_undecided_and_both_listed);
    tcase_add_test(cases, colour_tells_twins_apart);
    tcase_add_test(cases, a_white_core_does_not_tell_twins_apart);
    tcase_add_test(cases, the_name_of_the_lamp_rules_over_its_colour);
    tcase_add_test(cases, a_name_that_the_book_has_not_restricts_nothing);
    tcase_add_test(cases, a_blink_stays_a_blink_with_its_entry);
    tcase_add_test(cases, twins_of_a_blink_are_listed_and_none_is_told);
    tcase_add_test(cases, near_rates_are_told_apart);
    tcase_add_test(cases, heartbeats_of_different_load_are_told_apart);
    tcase_add_test(cases, a_steady_lamp_has_its_entry_if_only_one_fits);
    tcase_add_test(cases, flicker_has_only_flicker_entries);
    tcase_add_test(cases, a_fade_or_a_lamp_too_fast_is_never_a_code);
    tcase_add_test(cases, a_single_flash_with_a_long_dark_is_still_one);
    tcase_add_test(cases, two_books_are_weighed_together);
    return suite_end();
}
