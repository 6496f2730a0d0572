/* finding.h - Lamps and bench readings together: the likely fault and what to measure next. */
#ifndef LAMPREAD_FINDING_H
#define LAMPREAD_FINDING_H

#include <stddef.h>

#include "lampread/codebook.h"
#include "lampread/error.h"
#include "lampread/match.h"

/** Ceilings. */
#define LAMP_GIVEN_MAX    32
#define LAMP_FINDINGS_MAX 16
#define LAMP_BECAUSE_MAX  8

/** A quantity's unit, as bench readings have them. */
enum lamp_unit { LAMP_UNIT_WORD, LAMP_UNIT_AMPERE, LAMP_UNIT_VOLT, LAMP_UNIT_OHM, LAMP_UNIT_WATT, LAMP_UNIT_CELSIUS };

/** One bench reading, "current=0.5A" or "storage=none". Holds nothing to free. */
struct lamp_given {
    char key[64];
    char word[64];     /**< The value as written. */
    enum lamp_unit unit; /**< WORD where it is not a quantity. */
    double value;      /**< In the unit, prefixes (m, k, u) taken in. */
};

/**
 * Read "KEY=VALUE". Quantities always carry a unit (A, V, ohm, W, degC, with m, u, k, M before).
 * @return LAMP_OK, LAMP_BAD_USE with the word at fault. `out` untouched on failure.
 */
enum lamp_err lamp_given_parse(const char *text, struct lamp_given *out, struct lamp_error *error);

/** A lamp as findings see it. */
struct lamp_lamp_state {
    const char *name;               /**< Lamp name in the book, or as told; borrowed. */
    const struct lamp_match *match; /**< Borrowed. */
};

/** What the facts point at. Strings are borrowed from the books, or static. */
struct lamp_finding {
    struct lamp_strings suspect;
    struct lamp_strings check;
    struct lamp_strings caution; /**< Never empty: the usual cautions stand in where the rule has none. */
    size_t because_count;
    char because[LAMP_BECAUSE_MAX][LAMP_REASON_MAX];
};

/**
 * Apply the rules of the books, then the bench facts that hold for every board.
 * @param out  room for LAMP_FINDINGS_MAX. @return how many were written, surest first.
 */
size_t lamp_findings_make(const struct lamp_lamp_state *lamps, size_t lamp_count, const struct lamp_given *given,
                          size_t given_count, const struct lamp_book *const *books, size_t book_count,
                          struct lamp_finding *out);

/** The cautions that go with every list of checks. Static. */
struct lamp_strings lamp_cautions(void);

#endif
