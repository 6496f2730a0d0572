/* codebook_pattern.c - Notation is read, refused with its place, written back the same, and played.
 */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "lampread/pattern.h"
#include "support/suite.h"

#define MS(x) ((int64_t)(x)*1000000)

static const struct lamp_timing timing = {MS(200), MS(600), MS(200), MS(700), MS(1800)};

/* Notation and the canonical form it must come back as. */
static const struct {
    const char *notation;
    const char *canonical;
} good[] = {
    {"4 short", "4 short"},
    {"1 long 8 short", "1 long 8 short"},
    {"1 long 1 long 1 short", "2 long 1 short"},
    {"  2  LONG 3Short ", "2 long 3 short"},
    {"04 short", "4 short"},
    {"4.0 short", "4 short"},
    {"2 short, pause, 1 short", "2 short, pause, 1 short"},
    {"2 short,PAUSE,1 short , pause , 3 long 1 short",
     "2 short, pause, 1 short, pause, 3 long 1 short"},
    {"128 short", "128 short"},
    {"on 200 ms, off 1000 ms", "on 200 ms, off 1 s"},
    {"On 0.2s,OFF 1S", "on 200 ms, off 1 s"},
    {"on 12.345678901 s, off 86399.999999999 s", "on 12.345678901 s, off 86399.999999999 s"},
    {"on 1.000001 ms, off 40 us", "on 1.000001 ms, off 0.04 ms"},
    {"on 70 ms, off 245 ms, on 70 ms, off 875 ms", "on 70 ms, off 245 ms, on 70 ms, off 875 ms"},
    {"blink 2.5 Hz", "blink 2.5 Hz"},
    {"blink 2.50hz", "blink 2.5 Hz"},
    {"blink .5 Hz 50 %", "blink 0.5 Hz"},
    {"Blink 1e1 Hz 20%", "blink 10 Hz 20 %"},
    {"blink 0.333333333 Hz 33.3333333 %", "blink 0.333333333 Hz 33.3333333 %"},
    {"morse SOS", "morse SOS"},
    {"Morse  cq   de\tp2 ", "morse CQ DE P2"},
    {"morse caf\xc3\xa9 3\xc3\x97"
     "4=12",
     "morse CAF\xc3\x89 3\xc3\x97"
     "4=12"},
    {"morse what <wait> ok <End-Of-Work>", "morse WHAT <WAIT> OK <END-OF-WORK>"},
    {"steady on", "steady on"},
    {"STEADY  OFF", "steady off"},
    {"flicker", "flicker"},
};

START_TEST(notation_comes_back_in_its_canonical_form)
{
    struct lamp_pattern pattern;
    struct lamp_pattern again;
    char out[LAMP_NOTATION_MAX];
    struct lamp_error error = {0};
    ck_assert_msg(lamp_pattern_parse(good[_i].notation, &pattern, NULL, &error) == LAMP_OK,
                  "%s: %s", good[_i].notation, error.sentence);
    lamp_pattern_format(&pattern, out);
    ck_assert_str_eq(out, good[_i].canonical);
    ck_assert_int_eq(lamp_pattern_parse(out, &again, NULL, NULL), LAMP_OK);
    ck_assert(lamp_pattern_equal(&pattern, &again));
}
END_TEST

/* Notation that is refused: the byte at fault and the sentence. */
static const struct {
    const char *notation;
    size_t at;
    const char *sentence;
} bad[] = {
    {"", 0,
     "the pattern ends too early, expected a count (as in '4 short'), 'on', 'blink', 'morse', "
     "'steady' or 'flicker'"},
    {"   ", 3,
     "the pattern ends too early, expected a count (as in '4 short'), 'on', 'blink', 'morse', "
     "'steady' or 'flicker'"},
    {"short 4", 0,
     "unexpected 'short', expected a count (as in '4 short'), 'on', 'blink', 'morse', 'steady' or "
     "'flicker'"},
    {"blnik 2 Hz", 0,
     "unexpected 'blnik', expected a count (as in '4 short'), 'on', 'blink', 'morse', 'steady' or "
     "'flicker'; did you mean 'blink'?"},
    {"4 shrot", 2, "unexpected 'shrot', expected 'short' or 'long'; did you mean 'short'?"},
    {"4 shorts", 2, "unexpected 'shorts', expected 'short' or 'long'; did you mean 'short'?"},
    {"4", 1, "the pattern ends too early, expected 'short' or 'long'"},
    {"0 short", 0, "unexpected '0', expected a count of flashes, as in '4 short'"},
    {"-1 short", 0, "unexpected '-1', expected a count of flashes, as in '4 short'"},
    {"2.5 short", 0, "unexpected '2.5', expected a count of flashes, as in '4 short'"},
    {"129 short", 0, "unexpected '129', expected at most 128 flashes and pauses in a pattern"},
    {"100 short 29 long", 10,
     "unexpected '29', expected at most 128 flashes and pauses in a pattern"},
    {"128 short, pause, 1 short", 9,
     "unexpected ',', expected at most 128 flashes and pauses in a pattern"},
    {"2 short pause 1 short", 8,
     "unexpected 'pause', expected another count, or ', pause,' before the next group"},
    {"2 short, 1 long", 9, "unexpected '1', expected 'pause' between groups"},
    {"2 short, puase, 1 long", 9,
     "unexpected 'puase', expected 'pause' between groups; did you mean 'pause'?"},
    {"2 short, pause 1 long", 15, "unexpected '1', expected a comma after 'pause'"},
    {"2 short, pause, pause, 1 long", 16,
     "unexpected 'pause', expected a count of flashes, as in '4 short'"},
    {"2 short, pause,", 15,
     "the pattern ends too early, expected a count of flashes, as in '4 short'"},
    {"on 200, off 1 s", 3,
     "unexpected '200', expected a length with its unit, as in '200 ms' or '1.5 s'"},
    {"on 200 ms", 9,
     "the pattern ends too early, expected a comma and the dark length, as in ', off 1 s'"},
    {"on 200 ms, on 1 s", 11, "unexpected 'on', expected 'off' and a length, as in 'off 1 s'"},
    {"on 200 ms, off 1 s, on 1 s", 26,
     "the pattern ends too early, expected a comma and the dark length, as in ', off 1 s'"},
    {"on 0 ms, off 1 s", 3,
     "unexpected '0', expected a length with its unit, as in '200 ms' or '1.5 s'"},
    {"off 200 ms, on 1 s", 0,
     "unexpected 'off', expected a count (as in '4 short'), 'on', 'blink', 'morse', 'steady' or "
     "'flicker'"},
    {"blink 2.5", 9, "the pattern ends too early, expected 'Hz' after the rate"},
    {"blink fast", 6,
     "unexpected 'fast', expected a rate from 0.0001 to 100000 Hz, as in 'blink 2.5 Hz'"},
    {"blink 0 Hz", 6,
     "unexpected '0', expected a rate from 0.0001 to 100000 Hz, as in 'blink 2.5 Hz'"},
    {"blink 1e999 Hz", 6,
     "unexpected '1e999', expected a rate from 0.0001 to 100000 Hz, as in 'blink 2.5 Hz'"},
    {"blink 2 Hz 20", 13, "the pattern ends too early, expected '%' after the lit share"},
    {"blink 2 Hz 100 %", 11,
     "unexpected '100', expected a lit share from 0.1 to 99.9 %, as in 'blink 2.5 Hz 20 %'"},
    {"blink 2 Hz 20 % or so", 16, "unexpected 'or', expected nothing more"},
    {"blink 2,5 Hz", 7, "unexpected ',', expected 'Hz' after the rate"},
    {"morse", 5, "the pattern ends too early, expected a text, as in 'morse SOS'"},
    {"morse A&B", 7, "unexpected '&B', expected letters, digits and signs of ITU-R M.1677-1"},
    {"morse \xc3\xbc", 6,
     "unexpected '\xc3\xbc', expected letters, digits and signs of ITU-R M.1677-1"},
    {"steady", 6, "the pattern ends too early, expected 'on' or 'off'"},
    {"steady up", 7, "unexpected 'up', expected 'on' or 'off'"},
    {"flicker 3", 8, "unexpected '3', expected nothing more"},
    {"flickers", 0,
     "unexpected 'flickers', expected a count (as in '4 short'), 'on', 'blink', 'morse', 'steady' "
     "or 'flicker'; did you mean 'flicker'?"},
};

START_TEST(wrong_notation_is_refused_at_its_byte_and_leaves_the_output_alone)
{
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_MORSE, .text = "KEPT"};
    size_t at = 999;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_pattern_parse(bad[_i].notation, &pattern, &at, &error), LAMP_BAD_BOOK);
    ck_assert_str_eq(error.sentence, bad[_i].sentence);
    ck_assert_uint_eq(at, bad[_i].at);
    ck_assert_str_eq(error.place, "");
    ck_assert_str_eq(pattern.text, "KEPT");
}
END_TEST

START_TEST(notation_longer_than_the_ceiling_is_refused)
{
    char text[LAMP_NOTATION_MAX + 1];
    struct lamp_pattern pattern;
    memset(text, ' ', sizeof text);
    memcpy(text, "flicker", 7);
    text[LAMP_NOTATION_MAX - 1] = '\0';
    ck_assert_int_eq(lamp_pattern_parse(text, &pattern, NULL, NULL), LAMP_OK);
    text[LAMP_NOTATION_MAX - 1] = ' ';
    text[LAMP_NOTATION_MAX] = '\0';
    ck_assert_int_eq(lamp_pattern_parse(text, &pattern, NULL, NULL), LAMP_BAD_BOOK);
}
END_TEST

START_TEST(a_morse_text_longer_than_the_ceiling_is_refused)
{
    char text[100] = "morse ";
    struct lamp_pattern pattern;
    size_t at = 0;
    memset(text + 6, 'E', LAMP_MORSE_MAX - 1);
    ck_assert_int_eq(lamp_pattern_parse(text, &pattern, NULL, NULL), LAMP_OK);
    text[6 + LAMP_MORSE_MAX - 1] = 'E';
    ck_assert_int_eq(lamp_pattern_parse(text, &pattern, &at, NULL), LAMP_BAD_BOOK);
    ck_assert_uint_eq(at, 6 + LAMP_MORSE_MAX - 1);
}
END_TEST

/* Any pattern of groups, from a small generator of our own (Numerical Recipes' ranqd1 constants).
 */
static uint32_t next_random(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return *state >> 8;
}

static void make_groups(uint32_t *state, struct lamp_pattern *out)
{
    memset(out, 0, sizeof *out);
    out->kind = LAMP_PATTERN_GROUPS;
    size_t count = 1 + next_random(state) % LAMP_SYMBOLS_MAX;
    for (size_t i = 0; i < count; i++) {
        bool may_pause = i > 0 && i + 1 < count && out->symbol[i - 1] != LAMP_SYMBOL_PAUSE;
        out->symbol[i] = (enum lamp_symbol)(next_random(state) % (may_pause ? 3 : 2));
    }
    out->count = count;
}

START_TEST(any_pattern_of_groups_reads_back_from_what_is_written)
{
    uint32_t state = 1;
    for (int i = 0; i < 2000; i++) {
        struct lamp_pattern pattern;
        struct lamp_pattern again;
        char out[LAMP_NOTATION_MAX];
        make_groups(&state, &pattern);
        lamp_pattern_format(&pattern, out);
        ck_assert_msg(lamp_pattern_parse(out, &again, NULL, NULL) == LAMP_OK, "%s", out);
        ck_assert_msg(lamp_pattern_equal(&pattern, &again), "%s", out);
    }
}
END_TEST

START_TEST(any_exact_lengths_read_back_to_the_nanosecond)
{
    uint32_t state = 2;
    for (int i = 0; i < 500; i++) {
        struct lamp_pattern pattern = {.kind = LAMP_PATTERN_EXACT, .count = LAMP_SYMBOLS_MAX};
        struct lamp_pattern again;
        char out[LAMP_NOTATION_MAX];
        for (size_t k = 0; k < pattern.count; k++) {
            int64_t big = (int64_t)next_random(&state) << 24 | next_random(&state);
            pattern.length_ns[k] =
                1 + (big >> next_random(&state) % 47) % (86400 * (int64_t)LAMP_NS_PER_S - 1);
        }
        lamp_pattern_format(&pattern, out);
        ck_assert_msg(lamp_pattern_parse(out, &again, NULL, NULL) == LAMP_OK, "%s", out);
        ck_assert_msg(lamp_pattern_equal(&pattern, &again), "%s", out);
    }
}
END_TEST

/* Patterns and one cycle of their light, ms. */
static const struct {
    const char *notation;
    size_t count;
    int ms[20];
} played[] = {
    {"1 short", 2, {200, 1800}},
    {"2 long 1 short", 6, {600, 200, 600, 200, 200, 1800}},
    {"2 short, pause, 1 short", 6, {200, 200, 200, 700, 200, 1800}},
    {"on 200 ms, off 1000 ms", 2, {200, 1000}},
    {"blink 2.5 Hz", 2, {200, 200}},
    {"blink 2 Hz 20 %", 2, {100, 400}},
    /* ITU-R M.1677-1: N at a unit of 200 ms, and 7 units to the next. */
    {"morse N", 4, {600, 200, 200, 1400}},
    {"morse ET E", 6, {200, 600, 600, 1400, 200, 1400}},
    {"steady on", 0, {0}},
    {"steady off", 0, {0}},
    {"flicker", 0, {0}},
};

START_TEST(a_pattern_plays_as_flash_and_dark_by_turns)
{
    struct lamp_pattern pattern;
    struct lamp_wave wave = {.count = 99};
    ck_assert_int_eq(lamp_pattern_parse(played[_i].notation, &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &timing, &wave, NULL), LAMP_OK);
    ck_assert_uint_eq(wave.count, played[_i].count);
    for (size_t i = 0; i < wave.count; i++) {
        ck_assert_int_eq(wave.length_ns[i], MS(played[_i].ms[i]));
    }
}
END_TEST

static int64_t length_of(const struct lamp_wave *wave)
{
    int64_t sum = 0;
    for (size_t i = 0; i < wave->count; i++) {
        sum += wave->length_ns[i];
    }
    return sum;
}

/* CiA 303-3 (read in restatements): n flashes of 200 ms, 200 ms apart, repeat every (2n + 4) x 200
 * ms. */
START_TEST(n_canopen_flashes_repeat_every_two_n_plus_four_steps)
{
    static const struct lamp_timing canopen = {MS(200), 0, MS(200), 0, MS(1000)};
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_GROUPS, .count = (size_t)_i};
    struct lamp_wave wave;
    ck_assert_int_eq(lamp_pattern_play(&pattern, &canopen, &wave, NULL), LAMP_OK);
    ck_assert_int_eq(length_of(&wave), MS((2 * _i + 4) * 200));
}
END_TEST

/* PARIS with the dark after it is 50 units (the usual measure of Morse speed; arithmetic from ITU-R
 * M.1677-1, 2). */
START_TEST(paris_lasts_fifty_units)
{
    struct lamp_pattern pattern;
    struct lamp_wave wave;
    ck_assert_int_eq(lamp_pattern_parse("morse PARIS", &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &timing, &wave, NULL), LAMP_OK);
    ck_assert_int_eq(length_of(&wave), 50 * timing.short_ns);
}
END_TEST

START_TEST(the_longest_morse_text_fits_a_wave)
{
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_MORSE};
    struct lamp_wave wave;
    memset(pattern.text, '-', LAMP_MORSE_MAX - 1);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &timing, &wave, NULL), LAMP_OK);
    ck_assert_uint_eq(wave.count, (size_t)(LAMP_MORSE_MAX - 1) * 6 * 2);
}
END_TEST

/* Patterns, each with the one length that it needs and does not get. */
static const struct {
    const char *notation;
    struct lamp_timing timing;
    const char *missing;
} lacking[] = {
    {"1 short", {0, MS(1), MS(1), MS(1), MS(1)}, "'short'"},
    {"1 long", {MS(1), 0, MS(1), MS(1), MS(1)}, "'long'"},
    {"2 short", {MS(1), MS(1), 0, MS(1), MS(1)}, "'gap'"},
    {"1 short, pause, 1 short", {MS(1), MS(1), MS(1), 0, MS(1)}, "'pause'"},
    {"1 short", {MS(1), MS(1), MS(1), MS(1), 0}, "'rest'"},
    {"morse E", {0, MS(1), MS(1), MS(1), MS(1)}, "'short'"},
};

START_TEST(a_length_that_is_missing_is_named_and_nothing_is_played)
{
    struct lamp_pattern pattern;
    struct lamp_wave wave = {.count = 77};
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_pattern_parse(lacking[_i].notation, &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &lacking[_i].timing, &wave, &error),
                     LAMP_BAD_BOOK);
    ck_assert_ptr_nonnull(strstr(error.sentence, lacking[_i].missing));
    ck_assert_uint_eq(wave.count, 77);
}
END_TEST

START_TEST(a_length_that_is_not_needed_may_be_missing)
{
    static const struct lamp_timing least = {MS(1), 0, 0, 0, MS(1)};
    struct lamp_pattern pattern;
    struct lamp_wave wave;
    ck_assert_int_eq(lamp_pattern_parse("1 short", &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &least, &wave, NULL), LAMP_OK);
}
END_TEST

START_TEST(patterns_that_differ_are_not_equal)
{
    static const char *const pairs[][2] = {{"4 short", "5 short"},
                                           {"1 short", "1 long"},
                                           {"blink 2 Hz", "blink 2.0001 Hz"},
                                           {"blink 2 Hz", "blink 2 Hz 51 %"},
                                           {"morse A", "morse B"},
                                           {"steady on", "steady off"},
                                           {"on 1 s, off 1 s", "on 1 s, off 1.000000001 s"}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct lamp_pattern a;
        struct lamp_pattern b;
        ck_assert_int_eq(lamp_pattern_parse(pairs[i][0], &a, NULL, NULL), LAMP_OK);
        ck_assert_int_eq(lamp_pattern_parse(pairs[i][1], &b, NULL, NULL), LAMP_OK);
        ck_assert_msg(!lamp_pattern_equal(&a, &b), "%s = %s", pairs[i][0], pairs[i][1]);
    }
}
END_TEST

START_TEST(no_pattern_is_written_as_nothing)
{
    struct lamp_pattern pattern = {0};
    char out[LAMP_NOTATION_MAX] = "left";
    lamp_pattern_format(&pattern, out);
    ck_assert_str_eq(out, "");
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("codebook_pattern");
    tcase_add_loop_test(tests, notation_comes_back_in_its_canonical_form, 0, COUNT(good));
    tcase_add_loop_test(tests, wrong_notation_is_refused_at_its_byte_and_leaves_the_output_alone, 0,
                        COUNT(bad));
    tcase_add_test(tests, notation_longer_than_the_ceiling_is_refused);
    tcase_add_test(tests, a_morse_text_longer_than_the_ceiling_is_refused);
    tcase_add_test(tests, any_pattern_of_groups_reads_back_from_what_is_written);
    tcase_add_test(tests, any_exact_lengths_read_back_to_the_nanosecond);
    tcase_add_loop_test(tests, a_pattern_plays_as_flash_and_dark_by_turns, 0, COUNT(played));
    tcase_add_loop_test(tests, n_canopen_flashes_repeat_every_two_n_plus_four_steps, 1, 5);
    tcase_add_test(tests, paris_lasts_fifty_units);
    tcase_add_test(tests, the_longest_morse_text_fits_a_wave);
    tcase_add_loop_test(tests, a_length_that_is_missing_is_named_and_nothing_is_played, 0,
                        COUNT(lacking));
    tcase_add_test(tests, a_length_that_is_not_needed_may_be_missing);
    tcase_add_test(tests, patterns_that_differ_are_not_equal);
    tcase_add_test(tests, no_pattern_is_written_as_nothing);
    return suite_end();
}
