/* rhythm_group_morse.c - Morse is read from the lengths, at any speed, with words, repeated or seen
 * once. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <string.h>

#include "support/read_rhythm.h"
#include "support/suite.h"

/* Letters of ITU-R M.1677-1, Annex 1, part I, 1.1, as needed here. */
static const char *code_of(char letter)
{
    static const struct {
        char letter;
        const char *code;
    } letters[] = {{'A', ".-"},  {'E', "."},    {'H', "...."}, {'L', ".-.."},
                   {'O', "---"}, {'P', ".--."}, {'R', ".-."},  {'S', "..."},
                   {'T', "-"},   {'W', ".--"},  {'D', "-.."},  {'N', "-."}};
    for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++) {
        if (letters[i].letter == letter) {
            return letters[i].code;
        }
    }
    return "";
}

struct keying {
    double dot;
    double letter; /* Space between letters. */
    double word;
    double rest; /* After the text. */
};

/* Lengths of `text`, ms, lit first; the last one is the rest. */
static size_t key(const char *text, const struct keying *keying, double *wave)
{
    size_t count = 0;
    for (const char *at = text; *at != '\0'; at++) {
        if (*at == ' ') {
            wave[count - 1] = keying->word;
            continue;
        }
        for (const char *code = code_of(*at); *code != '\0'; code++) {
            wave[count++] = *code == '.' ? keying->dot : 3 * keying->dot;
            wave[count++] = code[1] != '\0' ? keying->dot : keying->letter;
        }
    }
    wave[count - 1] = keying->rest;
    return count;
}

static struct lamp_rhythm read_text(const char *text, const struct keying *keying, double cycles,
                                    uint64_t seed)
{
    double wave[200];
    size_t count = key(text, keying, wave);
    struct chance chance = {seed};
    double cycle_ms = wave_ms(wave, count);
    struct view view = {cycle_ms - 0.9 * keying->rest, cycles * cycle_ms, 3};
    return rhythm_of(played_wave(wave, count, 0.02, view, &chance));
}

static const struct keying plain = {100, 300, 700, 700};

START_TEST(a_repeated_word_is_read)
{
    static const char *const words[] = {"SOS", "HELP", "DOWN", "A", "H"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        for (uint64_t seed = 1; seed <= 20; seed++) {
            struct lamp_rhythm rhythm = read_text(words[i], &plain, 5.3, seed);
            expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, NULL, words[i], seed);
            ck_assert_str_eq(rhythm.morse, words[i]);
        }
    }
}
END_TEST

/* Where the words part as the repeats do, nothing says which word is first. */
START_TEST(words_parted_as_repeats_are_read_in_turn)
{
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct lamp_rhythm rhythm = read_text("LOW POWER", &plain, 4.3, seed);
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, NULL, "two words", seed);
        ck_assert_msg(strcmp(rhythm.morse, "LOW POWER") == 0 ||
                          strcmp(rhythm.morse, "POWER LOW") == 0,
                      "\"%s\"", rhythm.morse);
    }
}
END_TEST

START_TEST(a_longer_rest_says_which_word_is_first)
{
    const struct keying keying = {100, 300, 700, 2000};
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct lamp_rhythm rhythm = read_text("LOW POWER", &keying, 4.3, seed);
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, NULL, "two words and a rest", seed);
        ck_assert_str_eq(rhythm.morse, "LOW POWER");
    }
}
END_TEST

/* QEX, April 1990, as restated: rows of characters/speed in words a minute; dot, letter gap, word
 * gap in ms. */
START_TEST(farnsworth_timing_is_read)
{
    static const struct keying rows[] = {
        {92.308, 1442.915, 3366.802, 3366.802}, {66.667, 1568.421, 3659.649, 3659.649},
        {80, 555.789, 1296.842, 1296.842},      {60, 653.684, 1525.263, 1525.263},
        {66.667, 200, 466.667, 466.667},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lamp_rhythm rhythm = read_text("SOS", &rows[i], 5.3, 1);
        expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, NULL, "Farnsworth", i);
        ck_assert_str_eq(rhythm.morse, "SOS");
    }
}
END_TEST

START_TEST(a_message_seen_once_is_given_but_not_decided)
{
    struct lamp_rhythm rhythm = read_text("HELP", &plain, 1.2, 4);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_REPEAT);
    ck_assert_str_eq(rhythm.morse, "HELP");
}
END_TEST

START_TEST(a_blink_and_groups_of_other_ratios_are_not_morse)
{
    static const double blink[] = {100, 300};
    static const double heartbeat[] = {
        70, 245, 70, 875}; /* Linux, load 0: its gap is three and a half flashes. */
    struct chance chance = {1};
    struct view view = {900, 20000, 1};
    struct lamp_rhythm rhythm = rhythm_of(played_wave(blink, 2, 0.01, view, &chance));
    ck_assert_str_eq(rhythm.morse, "");
    rhythm = rhythm_of(played_wave(heartbeat, 4, 0.01, view, &chance));
    expect_rhythm(&rhythm, LAMP_VERDICT_UNLISTED, "2 short", "heartbeat", 1);
    ck_assert_str_eq(rhythm.morse, "");
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_repeated_word_is_read,
        words_parted_as_repeats_are_read_in_turn,
        a_longer_rest_says_which_word_is_first,
        farnsworth_timing_is_read,
        a_message_seen_once_is_given_but_not_decided,
        a_blink_and_groups_of_other_ratios_are_not_morse,
    };
    return suite_run("morse rhythm", tests, sizeof tests / sizeof tests[0]);
}
