/* pattern.c - Bytes as a pattern in codebook notation; what is read is written, read back and
 * played. */
#include <stdbool.h>

#include "fuzz/fuzz.h"
#include "lampread/pattern.h"

static void check_symbols(const struct lamp_pattern *pattern)
{
    MUST(pattern->count > 0 && pattern->count <= LAMP_SYMBOLS_MAX);
    for (size_t i = 0; i < pattern->count; i++) {
        bool is_pause = pattern->symbol[i] == LAMP_SYMBOL_PAUSE;
        bool is_at_end = i == 0 || i + 1 == pattern->count;
        MUST(!is_pause || (!is_at_end && pattern->symbol[i - 1] != LAMP_SYMBOL_PAUSE));
    }
}

static void check_read_back(const struct lamp_pattern *pattern)
{
    static char notation[LAMP_NOTATION_MAX];
    struct lamp_pattern again;
    lamp_pattern_format(pattern, notation);
    MUST(lamp_pattern_parse(notation, &again, NULL, NULL) == LAMP_OK);
    MUST(lamp_pattern_equal(pattern, &again));
}

static void check_wave(const struct lamp_pattern *pattern)
{
    const int64_t ms = 1000000;
    const struct lamp_timing timing = {200 * ms, 600 * ms, 200 * ms, 700 * ms, 1800 * ms};
    const struct lamp_timing none = {0};
    struct lamp_wave wave;
    struct lamp_error error = {.place = ""};
    MUST(lamp_pattern_play(pattern, &timing, &wave, &error) == LAMP_OK);
    MUST(wave.count % 2 == 0 && wave.count <= LAMP_WAVE_MAX);
    for (size_t i = 0; i < wave.count; i++) {
        MUST(wave.length_ns[i] > 0);
    }
    if (lamp_pattern_play(pattern, &none, &wave, &error) != LAMP_OK) {
        must_be_told(&error);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    char *text = text_of(bytes, size);
    struct lamp_pattern pattern;
    struct lamp_error error = {.place = ""};
    char morse[LAMP_MORSE_MAX];
    size_t at = 0;
    enum lamp_err err = lamp_pattern_parse(text, &pattern, &at, &error);
    if (err == LAMP_OK) {
        check_read_back(&pattern);
        check_wave(&pattern);
        if (pattern.kind == LAMP_PATTERN_GROUPS) {
            check_symbols(&pattern);
            (void)lamp_morse_read(&pattern, NULL, morse);
        }
    } else {
        MUST(err == LAMP_BAD_BOOK && at <= strlen(text));
        must_be_told(&error);
    }
    free(text);
    return 0;
}
