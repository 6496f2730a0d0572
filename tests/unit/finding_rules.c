/* finding_rules.c - Lamps and readings together point at faults, and at no more than they support.
 */
/* layers: base light rhythm codebook finding */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/finding.h"
#include "support/suite.h"

static const char book_text[] =
    "book: demo\nboard: Demo (invented)\nsource: invented for tests\n"
    "lamps: {power: {colour: red, shows: 3.3 V rail}, status: {colour: green, shows: processor}}\n"
    "codes:\n"
    "  - {id: rail-down, lamp: power, pattern: steady off, means: m}\n"
    "  - {id: stopped, lamp: status, pattern: \"on 200 ms, off 1000 ms\", means: m}\n"
    "findings:\n"
    "  - when: {status: flicker}\n"
    "    suspect: [something on the board]\n"
    "    check: [look]\n"
    "  - when: {power: steady-on, status: flicker, storage: none}\n"
    "    suspect: [core supply of the demo]\n"
    "    check: [measure it]\n"
    "    caution: [it is hot]\n"
    "  - when: {status: stopped, current: \"> 0.4 A\"}\n"
    "    suspect: [stopped and hungry]\n"
    "  - when: {current: \"0.1 A .. 0.2 A\"}\n"
    "    suspect: [middling current]\n";

#define LAMPS_MAX 4
#define GIVEN_MAX 4

/* A bench: verdicts of named lamps, readings, a book or none. */
struct bench {
    struct lamp_match match[LAMPS_MAX];
    struct lamp_lamp_state lamp[LAMPS_MAX];
    size_t lamp_count;
    struct lamp_given given[GIVEN_MAX];
    size_t given_count;
    struct lamp_book *book;
    struct lamp_finding finding[LAMP_FINDINGS_MAX];
    size_t count;
};

static void see(struct bench *bench, const char *name, enum lamp_verdict verdict)
{
    size_t at = bench->lamp_count++;
    bench->match[at] = (struct lamp_match){.verdict = verdict, .confidence = 0.99};
    bench->lamp[at] = (struct lamp_lamp_state){.name = name, .match = &bench->match[at]};
}

static void give(struct bench *bench, const char *text)
{
    ck_assert_int_eq(lamp_given_parse(text, &bench->given[bench->given_count++], NULL), LAMP_OK);
}

static void open_book(struct bench *bench)
{
    struct lamp_error error = {.sentence = ""};
    ck_assert_msg(lamp_book_parse(book_text, strlen(book_text), "demo", &bench->book, &error) ==
                      LAMP_OK,
                  "%s", error.sentence);
}

static void find(struct bench *bench)
{
    bench->count = lamp_findings_make(
        bench->lamp, bench->lamp_count, bench->given, bench->given_count,
        (const struct lamp_book *const *)&bench->book, bench->book != NULL ? 1 : 0, bench->finding);
    for (size_t i = 0; i < bench->count; i++) { /* What holds of every finding. */
        ck_assert_uint_gt(bench->finding[i].suspect.count, 0);
        ck_assert_uint_gt(bench->finding[i].caution.count, 0);
        ck_assert_uint_gt(bench->finding[i].because_count, 0);
    }
}

static const struct lamp_finding *suspecting(const struct bench *bench, const char *part)
{
    for (size_t i = 0; i < bench->count; i++) {
        for (size_t s = 0; s < bench->finding[i].suspect.count; s++) {
            if (strstr(bench->finding[i].suspect.at[s], part) != NULL) {
                return &bench->finding[i];
            }
        }
    }
    return NULL;
}

static bool because(const struct lamp_finding *finding, const char *part)
{
    for (size_t i = 0; finding != NULL && i < finding->because_count; i++) {
        if (strstr(finding->because[i], part) != NULL) {
            return true;
        }
    }
    return false;
}

static void close_bench(struct bench *bench)
{
    lamp_book_free(bench->book);
}

START_TEST(a_rule_of_the_book_fires_when_all_its_conditions_hold)
{
    struct bench bench = {.lamp_count = 0};
    open_book(&bench);
    see(&bench, "power", LAMP_VERDICT_STEADY_ON);
    see(&bench, "status", LAMP_VERDICT_FLICKER);
    give(&bench, "storage=none");
    find(&bench);
    ck_assert_uint_ge(bench.count, 2);
    ck_assert_str_eq(bench.finding[0].suspect.at[0],
                     "core supply of the demo"); /* Three conditions go before one. */
    ck_assert_str_eq(bench.finding[0].caution.at[0], "it is hot");
    ck_assert_str_eq(bench.finding[0].because[0], "power lamp is lit throughout");
    ck_assert_str_eq(bench.finding[0].because[1], "status lamp flickers with no rhythm");
    ck_assert_str_eq(bench.finding[0].because[2], "storage: none");
    ck_assert_str_eq(bench.finding[1].suspect.at[0], "something on the board");
    ck_assert_uint_eq(bench.finding[1].caution.count, lamp_cautions().count);
    close_bench(&bench);
}
END_TEST

START_TEST(an_absent_reading_or_lamp_fires_no_rule)
{
    struct bench bench = {.lamp_count = 0};
    open_book(&bench);
    see(&bench, "status", LAMP_VERDICT_FLICKER);
    give(&bench, "storage=none");
    find(&bench);
    ck_assert_ptr_null(suspecting(&bench, "core supply of the demo"));
    bench.given_count = 0;
    see(&bench, "power", LAMP_VERDICT_STEADY_ON);
    find(&bench);
    ck_assert_ptr_null(suspecting(&bench, "core supply of the demo"));
    close_bench(&bench);
}
END_TEST

START_TEST(a_code_and_a_comparison_fire_a_rule)
{
    struct bench bench = {.lamp_count = 0};
    open_book(&bench);
    see(&bench, "status", LAMP_VERDICT_BLINK);
    give(&bench, "current=0.45A");
    find(&bench);
    ck_assert_ptr_null(suspecting(&bench, "stopped and hungry"));
    bench.match[0].has_entry = true;
    bench.match[0].candidate_count = 1;
    bench.match[0].candidate[0].book = bench.book;
    bench.match[0].candidate[0].code = &bench.book->code[1];
    find(&bench);
    const struct lamp_finding *finding = suspecting(&bench, "stopped and hungry");
    ck_assert(because(finding, "status lamp shows 'stopped'"));
    ck_assert(because(finding, "current 0.45 A"));
    bench.given_count = 0;
    give(&bench, "current=400mA"); /* Not above 0.4 A. */
    find(&bench);
    ck_assert_ptr_null(suspecting(&bench, "stopped and hungry"));
    close_bench(&bench);
}
END_TEST

START_TEST(a_range_takes_both_its_ends)
{
    static const struct {
        const char *given;
        bool fires;
    } cases[] = {{"current=0.099A", false},
                 {"current=100mA", true},
                 {"current=0.2A", true},
                 {"current=0.21A", false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench = {.lamp_count = 0};
        open_book(&bench);
        give(&bench, cases[i].given);
        find(&bench);
        ck_assert_msg((suspecting(&bench, "middling current") != NULL) == cases[i].fires, "%s",
                      cases[i].given);
        close_bench(&bench);
    }
}
END_TEST

/* V^2/R of 3.3 V and 1 ohm is 10.9 W (arithmetic). */
START_TEST(about_an_ohm_from_a_rail_to_ground_is_a_short)
{
    struct bench bench = {.lamp_count = 0};
    give(&bench, "3V3-to-ground=1ohm");
    find(&bench);
    const struct lamp_finding *finding = suspecting(&bench, "shorted");
    ck_assert_ptr_nonnull(finding);
    ck_assert(because(finding, "3V3-to-ground 1 ohm"));
    ck_assert(because(finding, "3.3 V"));
    ck_assert(because(finding, "10.9 W"));
}
END_TEST

START_TEST(a_healthy_resistance_or_a_core_rail_is_no_short)
{
    static const char *const healthy[] = {"3V3-to-ground=1.2kohm", "5V-to-ground=10ohm",
                                          "0V8-to-ground=1ohm", "core-to-ground=1ohm",
                                          "3V3-to-5V=1ohm"};
    for (size_t i = 0; i < sizeof healthy / sizeof healthy[0]; i++) {
        struct bench bench = {.lamp_count = 0};
        give(&bench, healthy[i]);
        find(&bench);
        ck_assert_msg(bench.count == 0, "%s", healthy[i]);
    }
}
END_TEST

START_TEST(flicker_is_a_core_fault_only_where_no_traffic_explains_it)
{
    static const struct {
        const char *given[2];
        bool is_core;
    } cases[] = {
        {{NULL, NULL}, false},
        {{"storage=none", NULL}, true},
        {{"storage=fitted", NULL}, false},
        {{"storage=none", "network=none"}, true},
        {{"storage=none", "network=connected"}, false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench = {.lamp_count = 0};
        see(&bench, "status", LAMP_VERDICT_FLICKER);
        for (size_t g = 0; g < 2 && cases[i].given[g] != NULL; g++) {
            give(&bench, cases[i].given[g]);
        }
        find(&bench);
        ck_assert_uint_eq(bench.count, 1);
        ck_assert_int_eq(strcmp(bench.finding[0].suspect.at[0], "core supply of the processor") ==
                             0,
                         cases[i].is_core);
        ck_assert(because(&bench.finding[0], "status lamp flickers with no rhythm"));
        ck_assert_int_eq(because(&bench.finding[0], "traffic may explain it") ||
                             because(&bench.finding[0], "irregular on a healthy board"),
                         !cases[i].is_core);
    }
}
END_TEST

START_TEST(power_lamp_and_current_tell_where_the_rail_fails)
{
    static const struct {
        enum lamp_verdict power;
        const char *current;
        const char *suspect;
    } cases[] = {
        {LAMP_VERDICT_STEADY_OFF, "current=0.3A", "the rail that the power lamp shows"},
        {LAMP_VERDICT_STEADY_OFF, "current=0A", "fuse or input protection"},
        {LAMP_VERDICT_BLINK, "current=0.3A", "the supply, in current limit"},
        {LAMP_VERDICT_FLICKER, NULL, "the supply, in current limit"},
        {LAMP_VERDICT_STEADY_ON, "current=0.3A", NULL},
        {LAMP_VERDICT_STEADY_OFF, NULL, NULL},
        {LAMP_VERDICT_UNDECIDED, "current=0.3A", NULL},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench = {.lamp_count = 0};
        see(&bench, "power", cases[i].power);
        if (cases[i].current != NULL) {
            give(&bench, cases[i].current);
        }
        find(&bench);
        ck_assert_msg((bench.count > 0) == (cases[i].suspect != NULL), "case %zu", i);
        ck_assert(cases[i].suspect == NULL || suspecting(&bench, cases[i].suspect) != NULL);
    }
}
END_TEST

START_TEST(a_board_without_life_that_draws_half_an_ampere_has_a_rail_fault)
{
    struct bench bench = {.lamp_count = 0};
    see(&bench, "power", LAMP_VERDICT_STEADY_ON);
    see(&bench, "status", LAMP_VERDICT_STEADY_OFF);
    give(&bench, "supply=5.1V");
    give(&bench, "current=0.5A");
    find(&bench);
    ck_assert(because(suspecting(&bench, "a part on a rail"), "current 0.5 A at 5.1 V"));
    bench.match[1].verdict = LAMP_VERDICT_BLINK; /* It lives. */
    find(&bench);
    ck_assert_uint_eq(bench.count, 0);
    bench.match[1].verdict = LAMP_VERDICT_STEADY_OFF;
    bench.given_count = 0; /* The supply is not known. */
    give(&bench, "current=0.5A");
    find(&bench);
    ck_assert_uint_eq(bench.count, 0);
}
END_TEST

START_TEST(light_without_current_is_a_contradiction)
{
    struct bench bench = {.lamp_count = 0};
    see(&bench, "status", LAMP_VERDICT_BLINK);
    give(&bench, "current=0A");
    find(&bench);
    ck_assert_uint_eq(bench.count, 1);
    ck_assert(because(suspecting(&bench, "the current reading"), "current 0 A"));
    bench.match[0].verdict = LAMP_VERDICT_STEADY_OFF;
    find(&bench);
    ck_assert_uint_eq(bench.count, 0);
}
END_TEST

START_TEST(nothing_known_points_at_nothing)
{
    struct bench bench = {.lamp_count = 0};
    find(&bench);
    ck_assert_uint_eq(bench.count, 0);
    see(&bench, "status", LAMP_VERDICT_CODE);
    find(&bench);
    ck_assert_uint_eq(bench.count, 0);
}
END_TEST

START_TEST(the_usual_cautions_name_the_usual_harms)
{
    static const char *const harms[] = {"burn",   "current limit", "fumes",
                                        "Unplug", "licensed",      "Flashing"};
    struct lamp_strings cautions = lamp_cautions();
    for (size_t h = 0; h < sizeof harms / sizeof harms[0]; h++) {
        bool is_named = false;
        for (size_t i = 0; i < cautions.count; i++) {
            is_named = is_named || strstr(cautions.at[i], harms[h]) != NULL;
        }
        ck_assert_msg(is_named, "%s", harms[h]);
    }
}
END_TEST

START_TEST(more_findings_than_room_keep_the_surest)
{
    char text[8192];
    size_t used =
        (size_t)snprintf(text, sizeof text,
                         "book: many\nboard: b\nsource: s\nlamps: {a: {}, b: {}}\ncodes:\n"
                         "  - {id: x, lamp: a, pattern: steady on, means: m}\nfindings:\n");
    for (int i = 0; i < 40; i++) {
        used += (size_t)snprintf(text + used, sizeof text - used,
                                 "  - {when: {a: steady-on}, suspect: [one %d]}\n", i);
    }
    used += (size_t)snprintf(text + used, sizeof text - used,
                             "  - {when: {a: steady-on, b: steady-on}, suspect: [both]}\n");
    struct bench bench = {.lamp_count = 0};
    struct lamp_error error = {.sentence = ""};
    ck_assert_msg(lamp_book_parse(text, used, "many", &bench.book, &error) == LAMP_OK, "%s %s",
                  error.place, error.sentence);
    see(&bench, "a", LAMP_VERDICT_STEADY_ON);
    see(&bench, "b", LAMP_VERDICT_STEADY_ON);
    find(&bench);
    ck_assert_uint_eq(bench.count, LAMP_FINDINGS_MAX);
    ck_assert_str_eq(bench.finding[0].suspect.at[0], "both");
    close_bench(&bench);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("finding rules");
    tcase_add_test(cases, a_rule_of_the_book_fires_when_all_its_conditions_hold);
    tcase_add_test(cases, an_absent_reading_or_lamp_fires_no_rule);
    tcase_add_test(cases, a_code_and_a_comparison_fire_a_rule);
    tcase_add_test(cases, a_range_takes_both_its_ends);
    tcase_add_test(cases, about_an_ohm_from_a_rail_to_ground_is_a_short);
    tcase_add_test(cases, a_healthy_resistance_or_a_core_rail_is_no_short);
    tcase_add_test(cases, flicker_is_a_core_fault_only_where_no_traffic_explains_it);
    tcase_add_test(cases, power_lamp_and_current_tell_where_the_rail_fails);
    tcase_add_test(cases, a_board_without_life_that_draws_half_an_ampere_has_a_rail_fault);
    tcase_add_test(cases, light_without_current_is_a_contradiction);
    tcase_add_test(cases, nothing_known_points_at_nothing);
    tcase_add_test(cases, the_usual_cautions_name_the_usual_harms);
    tcase_add_test(cases, more_findings_than_room_keep_the_surest);
    return suite_end();
}
