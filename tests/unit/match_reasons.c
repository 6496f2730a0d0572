/* match_reasons.c - Against each entry stands, in plain words, where the light departs from it. */
/* layers: base light rhythm codebook match */
#include <check.h>

#include "match_support.h"
#include "support/suite.h"

/* What is played, in notation with the timing of the demonstration book; the one entry; what is
 * said against it. */
static const struct {
    const char *light;
    const char *entry;
    const char *against;
} table[] = {
    {"5 short", "5 short", ""},
    {"5 short", "6 short", "6th flash missing"},
    {"3 short", "4 short", "4th flash missing"},
    {"8 short", "1 long 8 short", "1st flash missing"},
    {"5 short", "4 short", "one flash more seen than expected"},
    {"4 short", "9 short", "9 flashes expected, 4 seen"},
    {"9 short", "2 short", "2 flashes expected, 9 seen"},
    {"3 short", "1 long 2 short", "1st flash short, not long"},
    {"1 long 3 short", "4 short", "1st flash long, not short"},
    {"2 short 1 long", "3 short", "3rd flash long, not short"},
    {"3 short", "2 short, pause, 1 short", "no pause seen after the 2nd flash"},
    {"2 short, pause, 2 short, pause, 1 short", "2 short, pause, 3 short",
     "a pause seen after the 4th flash, not a gap"},
    {"4 short",
     "on 200 ms, off 200 ms, on 200 ms, off 200 ms, on 200 ms, off 200 ms, on 200 ms, off 700 ms",
     "rest 0.7 s expected, 1.8 s seen"},
    {"on 280 ms, off 280 ms, on 280 ms, off 280 ms, on 280 ms, off 2520 ms", "3 short",
     "40 % slower than the book, which allows 25 %"},
    {"on 140 ms, off 140 ms, on 140 ms, off 140 ms, on 140 ms, off 1260 ms", "3 short",
     "43 % faster than the book, which allows 25 %"},
};

static const char *book_for(const char *entry, char *out, size_t size)
{
    (void)snprintf(
        out, size,
        "book: b\nboard: b\nsource: s\nlamps: {status: {colour: green}}\n"
        "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms}\n"
        "codes:\n  - {id: entry, lamp: status, pattern: \"%s\", means: m}\n",
        entry);
    return out;
}

static void play(const struct lamp_book *book, const char *notation, double cycles,
                 struct sim_light *out)
{
    struct lamp_pattern pattern;
    struct lamp_wave wave;
    struct sim_random random = sim_seeded(3);
    struct sim_rules rules = sim_rules_default();
    ck_assert_int_eq(lamp_pattern_parse(notation, &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &book->timing, &wave, NULL), LAMP_OK);
    rules.sd_s = 0.001;
    rules.jitter = 0.002;
    rules.cycles = cycles;
    sim_play(&wave, &rules, &random, out);
}

START_TEST(the_reason_names_what_departs_most)
{
    char text[1024];
    struct lamp_book *book = sim_parse(book_for(table[_i].entry, text, sizeof text));
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
    play(book, table[_i].light, 6, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert_uint_eq(match.candidate_count, 1);
    ck_assert_msg(strcmp(match.candidate[0].against, table[_i].against) == 0,
                  "%s as %s: '%s', expected '%s'", table[_i].light, table[_i].entry,
                  match.candidate[0].against, table[_i].against);
    ck_assert_int_eq(match.verdict == LAMP_VERDICT_CODE, table[_i].against[0] == '\0');
    lamp_book_free(book);
}
END_TEST

static void check_reason(const char *light_notation, double cycles, enum lamp_colour colour,
                         const char *against)
{
    char text[1024];
    struct lamp_book *book = sim_parse(book_for("5 short", text, sizeof text));
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .colour = colour};
    play(book, light_notation, cycles, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert_str_eq(match.candidate[0].against, against);
    ck_assert(!match.has_entry);
    lamp_book_free(book);
}

START_TEST(another_colour_is_said)
{
    check_reason("5 short", 6, LAMP_COLOUR_RED, "lamp is red, not green");
}
END_TEST

START_TEST(what_was_seen_only_once_is_said)
{
    check_reason("5 short", 1.9, LAMP_COLOUR_GREEN, "seen only once");
}
END_TEST

START_TEST(what_was_not_seen_whole_is_said)
{
    check_reason("5 short", 0.9, LAMP_COLOUR_GREEN, "not seen whole even once");
}
END_TEST

START_TEST(an_unlisted_code_has_its_nearest_entries_first)
{
    struct lamp_book *book = sim_parse(sim_book_text);
    struct sim_light light;
    struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
    play(book, "6 short", 6, &light);
    struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
    ck_assert_int_eq(match.verdict, LAMP_VERDICT_UNLISTED);
    ck_assert_uint_ge(match.candidate_count, 3);
    size_t near =
        0; /* One flash more or less; "2 short, pause, 4 short" has as many, but for one dark. */
    for (size_t i = 0; i < 3; i++) {
        const char *id = match.candidate[i].code->id;
        near += strcmp(id, "five") == 0 || strcmp(id, "seven") == 0;
    }
    ck_assert_uint_eq(near, 2);
    for (size_t i = 0; i < match.candidate_count; i++) {
        ck_assert_str_ne(match.candidate[i].against, "");
    }
    lamp_book_free(book);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("match reasons");
    tcase_add_loop_test(cases, the_reason_names_what_departs_most, 0,
                        (int)(sizeof table / sizeof table[0]));
    tcase_add_test(cases, another_colour_is_said);
    tcase_add_test(cases, what_was_seen_only_once_is_said);
    tcase_add_test(cases, what_was_not_seen_whole_is_said);
    tcase_add_test(cases, an_unlisted_code_has_its_nearest_entries_first);
    return suite_end();
}
