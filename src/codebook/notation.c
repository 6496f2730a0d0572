/* notation.c - Codebook notation read word by word; whatever is wrong is named with its place. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "base/utf8.h"
#include "codebook/morse.h"
#include "lampread/pattern.h"

/* Rates that a lamp may have, Hz; lit shares, %. */
#define RATE_LEAST_HZ 0.0001
#define RATE_MOST_HZ  100000.0
#define DUTY_LEAST    0.1
#define DUTY_MOST     99.9

enum { QUOTED_MAX = 40 };

/* Reading has come to `at`; after a failure that is the word at fault. */
struct reader {
    const char *given;            /* As the user wrote it, for quoting. */
    char text[LAMP_NOTATION_MAX]; /* In lower case, every white space a space: same offsets as
                                     `given`. */
    size_t at;
    struct lamp_error *error;
};

static void skip_spaces(struct reader *reader)
{
    reader->at += strspn(reader->text + reader->at, " ");
}

static bool at_end(const struct reader *reader)
{
    return reader->text[reader->at] == '\0';
}

static bool at_number(const struct reader *reader)
{
    char first = reader->text[reader->at];
    return (first >= '0' && first <= '9') || first == '.' || first == '-' || first == '+';
}

/* Say that the word at `at` is not what was expected; false, so that a failing line reads `return
 * refuse(...)`. */
static bool refuse(struct reader *reader, const char *expected)
{
    if (at_end(reader)) {
        (void)lamp_fail(reader->error, LAMP_BAD_BOOK, "", "the pattern ends too early, expected %s",
                        expected);
        return false;
    }
    const char *word = reader->given + reader->at;
    size_t length = strcspn(word, " \t\r\n,");
    length = length == 0 ? 1 : lamp_utf8_fit(word, length, QUOTED_MAX);
    (void)lamp_fail(reader->error, LAMP_BAD_BOOK, "", "unexpected '%.*s', expected %s", (int)length,
                    word, expected);
    return false;
}

/* As refuse, with the nearest of `words` named where one is near. */
static bool refuse_near(struct reader *reader, const char *expected, const char *const *words,
                        size_t count)
{
    char word[QUOTED_MAX];
    size_t length = strspn(reader->text + reader->at, "abcdefghijklmnopqrstuvwxyz");
    (void)snprintf(word, sizeof word, "%.*s", (int)length, reader->text + reader->at);
    const char *nearest = length == 0 ? NULL : lamp_text_nearest(word, words, count);
    char hint[LAMP_SENTENCE_MAX];
    (void)snprintf(hint, sizeof hint, "%s; did you mean '%s'?", expected,
                   nearest == NULL ? "" : nearest);
    return refuse(reader, nearest == NULL ? expected : hint);
}

/* Take `word` if it is next: the whole run of letters there, and the spaces after it. */
static bool take_word(struct reader *reader, const char *word)
{
    size_t length = strspn(reader->text + reader->at, "abcdefghijklmnopqrstuvwxyz");
    if (length != strlen(word) || memcmp(reader->text + reader->at, word, length) != 0) {
        return false;
    }
    reader->at += length;
    skip_spaces(reader);
    return true;
}

static bool take_sign(struct reader *reader, char sign)
{
    if (reader->text[reader->at] != sign) {
        return false;
    }
    reader->at++;
    skip_spaces(reader);
    return true;
}

static bool add_symbol(struct lamp_pattern *made, enum lamp_symbol symbol)
{
    if (made->count == LAMP_SYMBOLS_MAX) {
        return false;
    }
    made->symbol[made->count++] = symbol;
    return true;
}

static bool read_count(struct reader *reader, size_t *out)
{
    double value = 0;
    size_t used = lamp_number_read(reader->text + reader->at, &value);
    if (used == 0 || value < 1 || value != floor(value)) {
        return refuse(reader, "a count of flashes, as in '4 short'");
    }
    if (value > LAMP_SYMBOLS_MAX) {
        return refuse(reader, "at most 128 flashes and pauses in a pattern");
    }
    *out = (size_t)value;
    reader->at += used;
    skip_spaces(reader);
    return true;
}

/* "4 short" */
static bool read_run(struct reader *reader, struct lamp_pattern *made)
{
    static const char *const lengths[] = {"short", "long"};
    size_t begin = reader->at;
    size_t count = 0;
    if (!read_count(reader, &count)) {
        return false;
    }
    bool is_long = take_word(reader, "long");
    if (!is_long && !take_word(reader, "short")) {
        return refuse_near(reader, "'short' or 'long'", lengths, 2);
    }
    for (size_t i = 0; i < count; i++) {
        if (!add_symbol(made, is_long ? LAMP_SYMBOL_LONG : LAMP_SYMBOL_SHORT)) {
            reader->at = begin;
            return refuse(reader, "at most 128 flashes and pauses in a pattern");
        }
    }
    return true;
}

/* ", pause," between groups. */
static bool read_pause(struct reader *reader, struct lamp_pattern *made)
{
    static const char *const words[] = {"pause"};
    size_t begin = reader->at;
    if (!take_sign(reader, ',')) {
        return refuse(reader, "another count, or ', pause,' before the next group");
    }
    if (!take_word(reader, "pause")) {
        return refuse_near(reader, "'pause' between groups", words, 1);
    }
    if (!take_sign(reader, ',')) {
        return refuse(reader, "a comma after 'pause'");
    }
    if (!add_symbol(made, LAMP_SYMBOL_PAUSE)) {
        reader->at = begin;
        return refuse(reader, "at most 128 flashes and pauses in a pattern");
    }
    return true;
}

/* "2 long 3 short, pause, 1 short" */
static bool read_groups(struct reader *reader, struct lamp_pattern *made)
{
    made->kind = LAMP_PATTERN_GROUPS;
    if (!read_run(reader, made)) {
        return false;
    }
    while (!at_end(reader)) {
        if (!at_number(reader) && !read_pause(reader, made)) {
            return false;
        }
        if (!read_run(reader, made)) {
            return false;
        }
    }
    return true;
}

/* "on 200 ms" or "off 1 s" */
static bool read_length(struct reader *reader, struct lamp_pattern *made)
{
    static const char *const words[] = {"on", "off"};
    bool is_lit = made->count % 2 == 0;
    if (!take_word(reader, words[is_lit ? 0 : 1])) {
        return refuse_near(reader,
                           is_lit ? "'on' and a length, as in 'on 200 ms'"
                                  : "'off' and a length, as in 'off 1 s'",
                           &words[is_lit ? 0 : 1], 1);
    }
    if (made->count == LAMP_SYMBOLS_MAX) {
        return refuse(reader, "at most 128 lengths in a pattern");
    }
    int64_t ns;
    size_t used = lamp_duration_read(reader->text + reader->at, &ns);
    if (used == 0) {
        return refuse(reader, "a length with its unit, as in '200 ms' or '1.5 s'");
    }
    made->length_ns[made->count++] = ns;
    reader->at += used;
    skip_spaces(reader);
    return true;
}

/* "on 200 ms, off 1000 ms, on 1 s, off 1 s" */
static bool read_exact(struct reader *reader, struct lamp_pattern *made)
{
    made->kind = LAMP_PATTERN_EXACT;
    for (;;) {
        if (!read_length(reader, made)) {
            return false;
        }
        if (at_end(reader) && made->count % 2 == 0) {
            return true;
        }
        if (!take_sign(reader, ',')) {
            return refuse(reader, made->count % 2 == 0
                                      ? "a comma"
                                      : "a comma and the dark length, as in ', off 1 s'");
        }
    }
}

/* A number between two ends; `expected` says which. */
static bool read_within(struct reader *reader, double least, double most, const char *expected,
                        double *out)
{
    double value = 0;
    size_t used = lamp_number_read(reader->text + reader->at, &value);
    if (used == 0 || value < least || value > most) {
        return refuse(reader, expected);
    }
    *out = value;
    reader->at += used;
    skip_spaces(reader);
    return true;
}

/* "2.5 hz 20 %" */
static bool read_blink(struct reader *reader, struct lamp_pattern *made)
{
    double percent = 50;
    made->kind = LAMP_PATTERN_BLINK;
    if (!read_within(reader, RATE_LEAST_HZ, RATE_MOST_HZ,
                     "a rate from 0.0001 to 100000 Hz, as in 'blink 2.5 Hz'", &made->rate_hz)) {
        return false;
    }
    if (!take_word(reader, "hz")) {
        return refuse(reader, "'Hz' after the rate");
    }
    if (!at_end(reader)) {
        if (!read_within(reader, DUTY_LEAST, DUTY_MOST,
                         "a lit share from 0.1 to 99.9 %, as in 'blink 2.5 Hz 20 %'", &percent)) {
            return false;
        }
        if (!take_sign(reader, '%')) {
            return refuse(reader, "'%' after the lit share");
        }
    }
    made->duty = percent / 100;
    return true;
}

/* The next character of a Morse text into `made`; `used` bytes of it, 0 refused. */
static bool read_sign(struct reader *reader, struct lamp_pattern *made)
{
    size_t used = 0;
    const struct lamp_morse_sign *sign = lamp_morse_find(reader->given + reader->at, &used);
    if (sign == NULL) {
        return refuse(reader, "letters, digits and signs of ITU-R M.1677-1");
    }
    size_t length = strlen(made->text);
    size_t begins = reader->at;
    reader->at += used;
    size_t spaces = strspn(reader->text + reader->at, " ");
    bool parts_words = spaces > 0 && reader->text[reader->at + spaces] != '\0';
    if (length + used + parts_words >= LAMP_MORSE_MAX) {
        reader->at = begins;
        return refuse(reader, "a Morse text of at most 63 bytes");
    }
    memcpy(made->text + length, sign->name, used);
    memcpy(made->text + length + used, " ", parts_words);
    reader->at += spaces;
    return true;
}

static bool read_morse(struct reader *reader, struct lamp_pattern *made)
{
    made->kind = LAMP_PATTERN_MORSE;
    if (at_end(reader)) {
        return refuse(reader, "a text, as in 'morse SOS'");
    }
    while (!at_end(reader)) {
        if (!read_sign(reader, made)) {
            return false;
        }
    }
    return true;
}

static bool read_steady(struct reader *reader, struct lamp_pattern *made)
{
    static const char *const words[] = {"on", "off"};
    bool is_on = take_word(reader, "on");
    if (!is_on && !take_word(reader, "off")) {
        return refuse_near(reader, "'on' or 'off'", words, 2);
    }
    made->kind = is_on ? LAMP_PATTERN_STEADY_ON : LAMP_PATTERN_STEADY_OFF;
    return true;
}

static bool read_flicker(struct reader *reader, struct lamp_pattern *made)
{
    (void)reader;
    made->kind = LAMP_PATTERN_FLICKER;
    return true;
}

/* A pattern begins with a count, or with the word that says its kind. */
static bool read_pattern(struct reader *reader, struct lamp_pattern *made)
{
    static const char *const words[] = {"on", "blink", "morse", "steady", "flicker"};
    static bool (*const rest[])(struct reader *, struct lamp_pattern *) = {
        read_exact, read_blink, read_morse, read_steady, read_flicker};
    if (at_number(reader)) {
        return read_groups(reader, made);
    }
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        size_t begin = reader->at;
        if (take_word(reader, words[i])) {
            reader->at = rest[i] == read_exact ? begin : reader->at;
            return rest[i](reader, made);
        }
    }
    return refuse_near(reader,
                       "a count (as in '4 short'), 'on', 'blink', 'morse', 'steady' or 'flicker'",
                       words, sizeof words / sizeof words[0]);
}

enum lamp_err lamp_pattern_parse(const char *notation, struct lamp_pattern *out, size_t *at,
                                 struct lamp_error *error)
{
    static const char spaces[] = " \t\r\n";
    struct reader reader = {.given = notation, .error = error};
    size_t length = strlen(notation);
    if (length >= LAMP_NOTATION_MAX) {
        if (at != NULL) {
            *at = 0;
        }
        return lamp_fail(error, LAMP_BAD_BOOK, "",
                         "the pattern has %zu bytes, expected fewer than %d", length,
                         LAMP_NOTATION_MAX);
    }
    for (size_t i = 0; i < length; i++) {
        bool is_space = strchr(spaces, notation[i]) != NULL;
        reader.text[i] = lamp_text_lower(notation[i]);
        if (is_space) {
            reader.text[i] = ' ';
        }
    }
    struct lamp_pattern made = {0};
    skip_spaces(&reader);
    bool read = read_pattern(&reader, &made);
    if (read && !at_end(&reader)) {
        read = refuse(&reader, "nothing more");
    }
    if (!read) {
        if (at != NULL) {
            *at = reader.at;
        }
        return LAMP_BAD_BOOK;
    }
    *out = made;
    return LAMP_OK;
}
