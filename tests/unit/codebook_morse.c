/* codebook_morse.c - Groups of flashes as Morse: against the table of ITU-R M.1677-1, and against
 * libcw. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef LAMP_HAS_LIBCW
#include <libcw.h>
#endif

#include "lampread/pattern.h"
#include "support/suite.h"

/* ITU-R M.1677-1 (10/2009), Annex 1, 1.1, read in a restatement. */
static const struct {
    const char *text;
    const char *code;
} table[] = {
    {"A", ".-"},
    {"B", "-..."},
    {"C", "-.-."},
    {"D", "-.."},
    {"E", "."},
    {"F", "..-."},
    {"G", "--."},
    {"H", "...."},
    {"I", ".."},
    {"J", ".---"},
    {"K", "-.-"},
    {"L", ".-.."},
    {"M", "--"},
    {"N", "-."},
    {"O", "---"},
    {"P", ".--."},
    {"Q", "--.-"},
    {"R", ".-."},
    {"S", "..."},
    {"T", "-"},
    {"U", "..-"},
    {"V", "...-"},
    {"W", ".--"},
    {"X", "-..-"},
    {"Y", "-.--"},
    {"Z", "--.."},
    {"\xc3\x89", "..-.."},
    {"1", ".----"},
    {"2", "..---"},
    {"3", "...--"},
    {"4", "....-"},
    {"5", "....."},
    {"6", "-...."},
    {"7", "--..."},
    {"8", "---.."},
    {"9", "----."},
    {"0", "-----"},
    {".", ".-.-.-"},
    {",", "--..--"},
    {":", "---..."},
    {"?", "..--.."},
    {"'", ".----."},
    {"-", "-....-"},
    {"/", "-..-."},
    {"(", "-.--."},
    {")", "-.--.-"},
    {"\"", ".-..-."},
    {"=", "-...-"},
    {"+", ".-.-."},
    {"@", ".--.-."},
    {"<UNDERSTOOD>", "...-."},
    {"<ERROR>", "........"},
    {"<WAIT>", ".-..."},
    {"<END-OF-WORK>", "...-.-"},
    {"<STARTING-SIGNAL>", "-.-.-"},
};

enum { TABLE_COUNT = sizeof table / sizeof table[0] };

/* Groups from dots and dashes, a space between groups. */
static void make_groups(const char *code, struct lamp_pattern *out)
{
    memset(out, 0, sizeof *out);
    out->kind = LAMP_PATTERN_GROUPS;
    for (; *code != '\0'; code++) {
        ck_assert_uint_lt(out->count, LAMP_SYMBOLS_MAX);
        out->symbol[out->count++] = *code == '.'   ? LAMP_SYMBOL_SHORT
                                    : *code == '-' ? LAMP_SYMBOL_LONG
                                                   : LAMP_SYMBOL_PAUSE;
    }
}

/* Dots and dashes of a text, from the light it plays: at a unit of 1 ns lengths are units. */
static void played_code(const char *text, char *out)
{
    static const struct lamp_timing unit = {.short_ns = 1};
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_MORSE};
    struct lamp_wave wave;
    snprintf(pattern.text, sizeof pattern.text, "%s", text);
    ck_assert_int_eq(lamp_pattern_play(&pattern, &unit, &wave, NULL), LAMP_OK);
    for (size_t i = 0; i < wave.count; i += 2) {
        out[i / 2] = wave.length_ns[i] == 3 ? '-' : '.';
        ck_assert_int_eq(wave.length_ns[i + 1], i + 2 == wave.count ? 7 : 1);
    }
    out[wave.count / 2] = '\0';
}

START_TEST(each_character_of_the_recommendation_is_read_and_played)
{
    struct lamp_pattern pattern;
    char text[LAMP_MORSE_MAX];
    char code[64];
    make_groups(table[_i].code, &pattern);
    ck_assert(lamp_morse_read(&pattern, NULL, text));
    ck_assert_str_eq(text, table[_i].text);
    played_code(table[_i].text, code);
    ck_assert_str_eq(code, table[_i].code);
}
END_TEST

static bool is_in_table(const char *code)
{
    for (size_t i = 0; i < TABLE_COUNT; i++) {
        if (strcmp(code, table[i].code) == 0) {
            return true;
        }
    }
    return false;
}

START_TEST(no_other_group_of_up_to_nine_flashes_is_read)
{
    int read = 0;
    for (int length = 1; length <= 9; length++) {
        for (int bits = 0; bits < 1 << length; bits++) {
            char code[10] = "";
            char text[LAMP_MORSE_MAX] = "kept";
            struct lamp_pattern pattern;
            for (int i = 0; i < length; i++) {
                code[i] = (bits >> i & 1) != 0 ? '-' : '.';
            }
            make_groups(code, &pattern);
            bool is_known = lamp_morse_read(&pattern, NULL, text);
            ck_assert_msg(is_known == is_in_table(code), "%s", code);
            ck_assert(is_known || strcmp(text, "kept") == 0);
            read += is_known;
        }
    }
    ck_assert_int_eq(read, TABLE_COUNT);
}
END_TEST

START_TEST(the_code_that_two_signs_share_is_read_as_x_and_played_for_both)
{
    char code[64];
    played_code("\xc3\x97", code);
    ck_assert_str_eq(code, "-..-");
    struct lamp_pattern pattern;
    char text[LAMP_MORSE_MAX];
    make_groups(code, &pattern);
    ck_assert(lamp_morse_read(&pattern, NULL, text));
    ck_assert_str_eq(text, "X");
}
END_TEST

START_TEST(each_group_is_a_letter_and_word_gaps_part_words)
{
    static const bool gaps[] = {false, true, false};
    struct lamp_pattern pattern;
    char text[LAMP_MORSE_MAX];
    make_groups("... --- ... .", &pattern);
    ck_assert(lamp_morse_read(&pattern, NULL, text));
    ck_assert_str_eq(text, "SOSE");
    ck_assert(lamp_morse_read(&pattern, gaps, text));
    ck_assert_str_eq(text, "SO SE");
}
END_TEST

START_TEST(one_group_that_is_no_character_spoils_the_text)
{
    struct lamp_pattern pattern;
    char text[LAMP_MORSE_MAX] = "kept";
    make_groups("... ---- ...", &pattern);
    ck_assert(!lamp_morse_read(&pattern, NULL, text));
    ck_assert_str_eq(text, "kept");
}
END_TEST

START_TEST(a_text_that_does_not_fit_is_not_read)
{
    char code[LAMP_SYMBOLS_MAX + 1] = "";
    struct lamp_pattern pattern;
    char text[LAMP_MORSE_MAX];
    for (size_t i = 0; i + 1 < LAMP_SYMBOLS_MAX; i += 2) {
        memcpy(code + i, ". ", 3);
    }
    code[2 * (LAMP_MORSE_MAX - 1) - 1] = '\0';
    make_groups(code, &pattern);
    ck_assert(lamp_morse_read(&pattern, NULL, text));
    ck_assert_uint_eq(strlen(text), LAMP_MORSE_MAX - 1);
    strcat(code, " .");
    make_groups(code, &pattern);
    ck_assert(!lamp_morse_read(&pattern, NULL, text));
}
END_TEST

START_TEST(patterns_that_are_not_groups_are_not_read)
{
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_FLICKER};
    char text[LAMP_MORSE_MAX];
    ck_assert(!lamp_morse_read(&pattern, NULL, text));
    pattern.kind = LAMP_PATTERN_GROUPS;
    ck_assert(!lamp_morse_read(&pattern, NULL, text));
}
END_TEST

#ifdef LAMP_HAS_LIBCW

/* libcw makes Morse on its own; its characters are ISO 8859-1. */
START_TEST(libcw_makes_the_same_code_for_each_character)
{
    int compared = 0;
    for (size_t i = 0; i < TABLE_COUNT; i++) {
        bool is_acute = strcmp(table[i].text, "\xc3\x89") == 0;
        if (table[i].text[1] != '\0' && !is_acute) {
            continue;
        }
        char *theirs = cw_character_to_representation(is_acute ? 0xc9 : table[i].text[0]);
        ck_assert_msg(theirs != NULL, "libcw does not know %s", table[i].text);
        ck_assert_str_eq(theirs, table[i].code);
        free(theirs);
        compared++;
    }
    ck_assert_int_eq(compared, 50);
}
END_TEST

/* Dot and dash at 20 words a minute; its gaps come after the gap of one unit inside a letter. */
START_TEST(libcw_has_the_same_lengths)
{
    int dot, dash, in_letter, letter;
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_MORSE, .text = "NE"};
    struct lamp_wave wave;
    ck_assert_int_eq(cw_generator_new(CW_AUDIO_NULL, NULL), CW_SUCCESS);
    ck_assert_int_eq(cw_set_send_speed(20), CW_SUCCESS);
    cw_get_send_parameters(&dot, &dash, &in_letter, &letter, NULL, NULL, NULL);
    cw_generator_delete();
    struct lamp_timing timing = {.short_ns = (int64_t)dot * 1000};
    ck_assert_int_eq(lamp_pattern_play(&pattern, &timing, &wave, NULL), LAMP_OK);
    ck_assert_int_eq(dot, 1200000 / 20);
    ck_assert_int_eq(wave.length_ns[0], (int64_t)dash * 1000);
    ck_assert_int_eq(wave.length_ns[1], (int64_t)in_letter * 1000);
    ck_assert_int_eq(wave.length_ns[2], (int64_t)dot * 1000);
    ck_assert_int_eq(wave.length_ns[3], (int64_t)(in_letter + letter) * 1000);
}
END_TEST

static void add_libcw(TCase *tests)
{
    tcase_add_test(tests, libcw_makes_the_same_code_for_each_character);
    tcase_add_test(tests, libcw_has_the_same_lengths);
}

#else

static void add_libcw(TCase *tests)
{
    (void)tests;
    puts("skipped: the comparison with libcw, whose development files (libcw-dev) were not found");
}

#endif

int main(void)
{
    TCase *tests = suite_begin("codebook_morse");
    tcase_add_loop_test(tests, each_character_of_the_recommendation_is_read_and_played, 0,
                        TABLE_COUNT);
    tcase_add_test(tests, no_other_group_of_up_to_nine_flashes_is_read);
    tcase_add_test(tests, the_code_that_two_signs_share_is_read_as_x_and_played_for_both);
    tcase_add_test(tests, each_group_is_a_letter_and_word_gaps_part_words);
    tcase_add_test(tests, one_group_that_is_no_character_spoils_the_text);
    tcase_add_test(tests, a_text_that_does_not_fit_is_not_read);
    tcase_add_test(tests, patterns_that_are_not_groups_are_not_read);
    add_libcw(tests);
    return suite_end();
}
