/* pattern.c - Patterns written in codebook notation, compared, and played as one cycle of light. */
#include "lampread/pattern.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "codebook/morse.h"

/* Notation carries rates and duties to nine digits. */
#define NINE_DIGITS 1e-8

/* A line of notation being written; LAMP_NOTATION_MAX holds the longest pattern there can be. */
struct line {
    char *at;
    size_t length;
};

static void add(struct line *line, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(struct line *line, const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    int more = vsnprintf(line->at + line->length, LAMP_NOTATION_MAX - line->length, format, rest);
    va_end(rest);
    size_t room = LAMP_NOTATION_MAX - 1 - line->length;
    line->length += more < 0 ? 0 : (size_t)more < room ? (size_t)more : room;
}

static void format_groups(const struct lamp_pattern *pattern, struct line *line)
{
    for (size_t i = 0, run; i < pattern->count; i += run) {
        enum lamp_symbol symbol = pattern->symbol[i];
        for (run = 1; i + run < pattern->count && pattern->symbol[i + run] == symbol; run++) {
        }
        if (symbol == LAMP_SYMBOL_PAUSE) {
            add(line, ", pause, ");
            continue;
        }
        bool begins_group = i == 0 || pattern->symbol[i - 1] == LAMP_SYMBOL_PAUSE;
        add(line, "%s%zu %s", begins_group ? "" : " ", run,
            symbol == LAMP_SYMBOL_LONG ? "long" : "short");
    }
}

static void format_exact(const struct lamp_pattern *pattern, struct line *line)
{
    for (size_t i = 0; i < pattern->count; i++) {
        char length[32];
        lamp_duration_format(pattern->length_ns[i], length, sizeof length);
        add(line, "%s%s %s", i == 0 ? "" : ", ", i % 2 == 0 ? "on" : "off", length);
    }
}

static void format_blink(const struct lamp_pattern *pattern, struct line *line)
{
    char number[32];
    lamp_number_format(pattern->rate_hz, number, sizeof number);
    add(line, "blink %s Hz", number);
    if (fabs(pattern->duty - 0.5) > NINE_DIGITS / 2) {
        lamp_number_format(pattern->duty * 100, number, sizeof number);
        add(line, " %s %%", number);
    }
}

void lamp_pattern_format(const struct lamp_pattern *pattern, char out[LAMP_NOTATION_MAX])
{
    struct line line = {out, 0};
    out[0] = '\0';
    switch (pattern->kind) {
    case LAMP_PATTERN_NONE: break;
    case LAMP_PATTERN_GROUPS: format_groups(pattern, &line); break;
    case LAMP_PATTERN_EXACT: format_exact(pattern, &line); break;
    case LAMP_PATTERN_BLINK: format_blink(pattern, &line); break;
    case LAMP_PATTERN_MORSE: add(&line, "morse %s", pattern->text); break;
    case LAMP_PATTERN_STEADY_ON: add(&line, "steady on"); break;
    case LAMP_PATTERN_STEADY_OFF: add(&line, "steady off"); break;
    case LAMP_PATTERN_FLICKER: add(&line, "flicker"); break;
    }
}

static bool is_near(double a, double b)
{
    return fabs(a - b) <= NINE_DIGITS * fabs(b);
}

bool lamp_pattern_equal(const struct lamp_pattern *a, const struct lamp_pattern *b)
{
    if (a->kind != b->kind) {
        return false;
    }
    switch (a->kind) {
    case LAMP_PATTERN_GROUPS:
        return a->count == b->count &&
               memcmp(a->symbol, b->symbol, a->count * sizeof a->symbol[0]) == 0;
    case LAMP_PATTERN_EXACT:
        return a->count == b->count &&
               memcmp(a->length_ns, b->length_ns, a->count * sizeof a->length_ns[0]) == 0;
    case LAMP_PATTERN_BLINK: return is_near(a->rate_hz, b->rate_hz) && is_near(a->duty, b->duty);
    case LAMP_PATTERN_MORSE: return strcmp(a->text, b->text) == 0;
    default: return true;
    }
}

/* Light being played: a flash and the dark after it at a time. */
static bool play_flash(struct lamp_wave *wave, int64_t lit_ns, int64_t dark_ns)
{
    if (wave->count + 2 > (size_t)LAMP_WAVE_MAX) {
        return false;
    }
    wave->length_ns[wave->count++] = lit_ns;
    wave->length_ns[wave->count++] = dark_ns;
    return true;
}

/* The dark after the flash at `i`. */
static int64_t dark_after(const struct lamp_pattern *pattern, size_t i,
                          const struct lamp_timing *timing)
{
    if (i + 1 == pattern->count) {
        return timing->rest_ns;
    }
    return pattern->symbol[i + 1] == LAMP_SYMBOL_PAUSE ? timing->pause_ns : timing->gap_ns;
}

static bool play_groups(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                        struct lamp_wave *wave)
{
    for (size_t i = 0; i < pattern->count; i++) {
        if (pattern->symbol[i] == LAMP_SYMBOL_PAUSE) {
            continue;
        }
        int64_t lit_ns =
            pattern->symbol[i] == LAMP_SYMBOL_LONG ? timing->long_ns : timing->short_ns;
        if (!play_flash(wave, lit_ns, dark_after(pattern, i, timing))) {
            return false;
        }
    }
    return true;
}

static bool play_exact(const struct lamp_pattern *pattern, struct lamp_wave *wave)
{
    for (size_t i = 0; i + 1 < pattern->count; i += 2) {
        if (!play_flash(wave, pattern->length_ns[i], pattern->length_ns[i + 1])) {
            return false;
        }
    }
    return true;
}

static bool play_blink(const struct lamp_pattern *pattern, struct lamp_wave *wave)
{
    double period_ns = (double)LAMP_NS_PER_S / pattern->rate_hz;
    int64_t lit_ns = llround(period_ns * pattern->duty);
    return play_flash(wave, lit_ns, llround(period_ns) - lit_ns);
}

/* Dot 1 unit, dash 3, dark 1 inside a letter (ITU-R M.1677-1, 2). */
static bool play_sign(const char *code, int64_t unit_ns, int64_t dark_ns, struct lamp_wave *wave)
{
    for (; *code != '\0'; code++) {
        int64_t lit_ns = *code == '-' ? 3 * unit_ns : unit_ns;
        if (!play_flash(wave, lit_ns, code[1] != '\0' ? unit_ns : dark_ns)) {
            return false;
        }
    }
    return true;
}

/* Dark 3 units between letters, 7 between words and repeats (ITU-R M.1677-1, 2). */
static bool play_morse(const struct lamp_pattern *pattern, int64_t unit_ns, struct lamp_wave *wave)
{
    const char *at = pattern->text;
    while (*at != '\0') {
        size_t used = 0;
        const struct lamp_morse_sign *sign = lamp_morse_find(at, &used);
        if (sign == NULL) {
            return false;
        }
        at += used;
        bool ends_word = *at == ' ' || *at == '\0';
        if (!play_sign(sign->code, unit_ns, (ends_word ? 7 : 3) * unit_ns, wave)) {
            return false;
        }
        at += strspn(at, " ");
    }
    return true;
}

/* The name of the dark after the flash at `i`. */
static const char *dark_name(const struct lamp_pattern *pattern, size_t i)
{
    if (i + 1 == pattern->count) {
        return "rest";
    }
    return pattern->symbol[i + 1] == LAMP_SYMBOL_PAUSE ? "pause" : "gap";
}

/* The name of a length that groups need and `timing` does not have, NULL if it has all. */
static const char *missing_in_groups(const struct lamp_pattern *pattern,
                                     const struct lamp_timing *timing)
{
    for (size_t i = 0; i < pattern->count; i++) {
        if (pattern->symbol[i] == LAMP_SYMBOL_PAUSE) {
            continue;
        }
        bool is_long = pattern->symbol[i] == LAMP_SYMBOL_LONG;
        if ((is_long ? timing->long_ns : timing->short_ns) <= 0) {
            return is_long ? "long" : "short";
        }
        if (dark_after(pattern, i, timing) <= 0) {
            return dark_name(pattern, i);
        }
    }
    return NULL;
}

static const char *missing_length(const struct lamp_pattern *pattern,
                                  const struct lamp_timing *timing)
{
    if (pattern->kind == LAMP_PATTERN_MORSE) {
        return timing->short_ns > 0 ? NULL : "short";
    }
    return pattern->kind == LAMP_PATTERN_GROUPS ? missing_in_groups(pattern, timing) : NULL;
}

static bool play(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                 struct lamp_wave *wave)
{
    switch (pattern->kind) {
    case LAMP_PATTERN_GROUPS: return play_groups(pattern, timing, wave);
    case LAMP_PATTERN_EXACT: return play_exact(pattern, wave);
    case LAMP_PATTERN_BLINK: return play_blink(pattern, wave);
    case LAMP_PATTERN_MORSE: return play_morse(pattern, timing->short_ns, wave);
    default: return true;
    }
}

enum lamp_err lamp_pattern_play(const struct lamp_pattern *pattern,
                                const struct lamp_timing *timing, struct lamp_wave *out,
                                struct lamp_error *error)
{
    const char *missing = missing_length(pattern, timing);
    if (missing != NULL) {
        return lamp_fail(error, LAMP_BAD_BOOK, "",
                         "the pattern needs the length of '%s', expected it in 'timing'", missing);
    }
    struct lamp_wave wave = {0};
    if (!play(pattern, timing, &wave)) {
        return lamp_fail(error, LAMP_BAD_BOOK, "",
                         "the pattern cannot be played, expected at most %d lengths",
                         LAMP_WAVE_MAX);
    }
    *out = wave;
    return LAMP_OK;
}
