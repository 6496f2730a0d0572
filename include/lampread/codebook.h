/* codebook.h - A board's patterns and what they mean, read from a file that a person edits. */
#ifndef LAMPREAD_CODEBOOK_H
#define LAMPREAD_CODEBOOK_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/error.h"
#include "lampread/light.h"
#include "lampread/group.h"
#include "lampread/pattern.h"

/** Ceilings of one book; a larger one is refused. */
#define LAMP_BOOK_BYTES_MAX    (4 * 1024 * 1024)
#define LAMP_BOOK_CODES_MAX    4096
#define LAMP_BOOK_LAMPS_MAX    64
#define LAMP_BOOK_FINDINGS_MAX 1024

/** A row of strings, owned by the book. */
struct lamp_strings {
    size_t count;
    const char *const *at;
};

/** A lamp that the book names. */
struct lamp_book_lamp {
    const char *name;
    enum lamp_colour colour; /**< UNKNOWN where the book does not say. */
    const char *shows;       /**< "3.3 V rail", "processor"; NULL where the book does not say. */
};

/** One entry: a pattern and its meaning. */
struct lamp_code {
    const char *id;
    const char *lamp;            /**< Name of a lamp of the book; NULL: any lamp. */
    struct lamp_pattern pattern;
    struct lamp_timing timing;   /**< Nominal lengths in force for this entry. */
    struct lamp_wave wave;       /**< One cycle; no lengths for steady and flicker. */
    double tolerance;            /**< Of each length, after one common time scale; 0.25 for 25 %. */
    const char *means;
    const char *basis;           /**< Where this entry's facts come from; NULL where the book's source says it. */
    struct lamp_strings suspect;
    struct lamp_strings check;
    int line;                    /**< Line in the file, from 1. */
};

/** One condition of a finding. */
struct lamp_condition {
    const char *key;  /**< A lamp of the book, or the name of a bench reading. */
    const char *value;/**< A verdict or code id for a lamp; a word, or a comparison with a unit ("> 0.4 A", "< 5 ohm") for a reading. */
    bool is_lamp;
    int line;         /**< Line in the file, from 1. */
};

/** What lamps and bench readings together point at. */
struct lamp_finding_rule {
    size_t condition_count;
    const struct lamp_condition *condition;
    struct lamp_strings suspect;
    struct lamp_strings check;
    struct lamp_strings caution;
    int line;
};

/** A book; everything in it is owned by it and lives until it is freed. */
struct lamp_book {
    const char *id;
    const char *board;
    const char *source;
    const char *file; /**< Path it was read from. */
    size_t lamp_count;
    const struct lamp_book_lamp *lamp;
    struct lamp_timing timing;
    double tolerance;
    size_t code_count;
    const struct lamp_code *code;
    size_t finding_count;
    const struct lamp_finding_rule *finding;
};

/**
 * Read a book.
 * @param out    freed by the caller with lamp_book_free; untouched on failure.
 * @param error  place is "file:line:column"; may be NULL.
 * @return LAMP_OK, LAMP_BAD_BOOK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_open(const char *path, struct lamp_book **out, struct lamp_error *error);

/** As lamp_book_open from `size` bytes at `text`, called `name` in errors. */
enum lamp_err lamp_book_parse(const char *text, size_t size, const char *name, struct lamp_book **out,
                              struct lamp_error *error);

/**
 * Find a book by name: a path if it has a slash or ends in .yaml, else NAME.yaml in ./codebooks, the user's data
 * folder ($XDG_DATA_HOME/lampread/codebooks), $LAMPREAD_BOOKS, the installed folder.
 * @param out as lamp_book_open. @return as lamp_book_open; LAMP_BAD_BOOK names the nearest book where none is found.
 */
enum lamp_err lamp_book_find(const char *name, struct lamp_book **out, struct lamp_error *error);

/**
 * Every book that lamp_book_find can find, one of each id; unreadable ones are left out.
 * @param out  array of books owned by the caller: free each, then free() the array. @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_find_all(struct lamp_book ***out, size_t *count);

/** Two entries that cannot be told apart. */
struct lamp_clash {
    const struct lamp_code *a;
    const struct lamp_code *b;
};

/**
 * Pairs of entries for one lamp whose waves lie within each other's tolerance at `rate_hz` frames a second.
 * @param out  room for `room` pairs. @return how many there are, which may be more than `room`.
 */
size_t lamp_book_clashes(const struct lamp_book *book, double rate_hz, struct lamp_clash *out, size_t room);

/** Free; NULL is fine. */
void lamp_book_free(struct lamp_book *book);

#endif
