/* pattern.h - A rhythm in codebook notation: "2 long 3 short", "on 200 ms, off 1 s", "blink 2.5 Hz", "morse SOS". */
#ifndef LAMPREAD_PATTERN_H
#define LAMPREAD_PATTERN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"

/** Most flashes and pauses in one pattern, and most exact lengths. */
#define LAMP_SYMBOLS_MAX 128

/** Longest notation, bytes with the closing zero. */
#define LAMP_NOTATION_MAX 4096

/** Longest Morse text, bytes of UTF-8 with the closing zero. */
#define LAMP_MORSE_MAX 64

/** How a pattern is written. */
enum lamp_pattern_kind {
    LAMP_PATTERN_NONE,       /**< No pattern. */
    LAMP_PATTERN_GROUPS,     /**< Counted long and short flashes, groups parted by pauses. */
    LAMP_PATTERN_EXACT,      /**< Exact lengths, lit first, cyclic. */
    LAMP_PATTERN_BLINK,      /**< A rate and a duty. */
    LAMP_PATTERN_MORSE,      /**< A text in ITU-R M.1677-1. */
    LAMP_PATTERN_STEADY_ON,
    LAMP_PATTERN_STEADY_OFF,
    LAMP_PATTERN_FLICKER
};

/** One element of a pattern made of groups. */
enum lamp_symbol { LAMP_SYMBOL_SHORT, LAMP_SYMBOL_LONG, LAMP_SYMBOL_PAUSE };

/** A pattern. Holds nothing to free. Fields that its kind does not use are zero. */
struct lamp_pattern {
    enum lamp_pattern_kind kind;
    size_t count;                                 /**< GROUPS: symbols; EXACT: lengths (even). */
    enum lamp_symbol symbol[LAMP_SYMBOLS_MAX];    /**< GROUPS: never begins or ends with a pause, no two in a row. */
    int64_t length_ns[LAMP_SYMBOLS_MAX];          /**< EXACT: lit, dark, lit, ...; each > 0. */
    double rate_hz;                               /**< BLINK: > 0. */
    double duty;                                  /**< BLINK: lit share, 0..1 exclusive. */
    char text[LAMP_MORSE_MAX];                    /**< MORSE: upper case, words parted by one space. */
};

/** Nominal or measured lengths, ns; 0 where there is none. */
struct lamp_timing {
    int64_t short_ns; /**< A short flash. */
    int64_t long_ns;  /**< A long flash. */
    int64_t gap_ns;   /**< Dark between flashes of a group. */
    int64_t pause_ns; /**< Dark between groups. */
    int64_t rest_ns;  /**< Dark between repeats. */
};

/** Most lengths in one cycle of light. */
#define LAMP_WAVE_MAX (2 * LAMP_SYMBOLS_MAX * 4)

/** One cycle of light: lengths by turns, lit first, an even count; 0 lengths for steady and flicker. */
struct lamp_wave {
    size_t count;                     /**< Lengths, even, <= LAMP_WAVE_MAX. */
    int64_t length_ns[LAMP_WAVE_MAX]; /**< Each > 0. */
};

/**
 * Read codebook notation.
 * @param out    untouched on failure.
 * @param at     set to the byte offset of the word at fault on failure, may be NULL.
 * @param error  may be NULL; its place is left empty.
 * @return LAMP_OK, LAMP_BAD_BOOK.
 */
enum lamp_err lamp_pattern_parse(const char *notation, struct lamp_pattern *out, size_t *at, struct lamp_error *error);

/** Write `pattern` in codebook notation, which lamp_pattern_parse reads back to the same; "" for NONE. */
void lamp_pattern_format(const struct lamp_pattern *pattern, char out[LAMP_NOTATION_MAX]);

/**
 * Play one cycle of `pattern` with nominal lengths `timing`.
 * MORSE uses timing->short_ns as its unit and 7 units between repeats (ITU-R M.1677-1, 2.1 to 2.4).
 * @return LAMP_OK; LAMP_BAD_BOOK if a length it needs is 0 in `timing`.
 */
enum lamp_err lamp_pattern_play(const struct lamp_pattern *pattern, const struct lamp_timing *timing, struct lamp_wave *out,
                                struct lamp_error *error);

/** Whether two patterns are the same in every field their kind uses; rates and duties to the 8 digits notation carries. */
bool lamp_pattern_equal(const struct lamp_pattern *a, const struct lamp_pattern *b);

/**
 * Read groups as Morse: short dot, long dash, each group one letter.
 * @param word_gaps  for each pause of the pattern in order, true where it parts words; NULL: none does.
 * @param out        the text; untouched unless true is returned.
 * @return true if every group is a character of ITU-R M.1677-1.
 */
bool lamp_morse_read(const struct lamp_pattern *pattern, const bool *word_gaps, char out[LAMP_MORSE_MAX]);

#endif
