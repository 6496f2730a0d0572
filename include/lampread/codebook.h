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

/** What an entry's lengths rest on, where they were measured. */
struct lamp_taught {
    unsigned recordings; /**< 0: the lengths were not measured. */
    int64_t sd_ns;       /**< Standard deviation of each length, measurement only; 0 where the book does not say. */
};

/** Most recordings an entry may say that it rests on. */
#define LAMP_TAUGHT_MAX 9999

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
    struct lamp_taught taught;   /**< Key `taught: 2`, or `taught: {recordings: 2, sd: 0.8 ms}`. */
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
 * Find a book by name: a path if it has a slash or ends in .yaml, else NAME.yaml in the working folder, ./codebooks, the
 * user's data folder ($XDG_DATA_HOME/lampread/codebooks), $LAMPREAD_BOOKS, the system's data folders
 * ($XDG_DATA_DIRS, each with /lampread/codebooks), the installed folder (XDG Base Directory Specification 0.8).
 * @param out as lamp_book_open. @return as lamp_book_open; LAMP_BAD_BOOK names the nearest book where none is found.
 */
enum lamp_err lamp_book_find(const char *name, struct lamp_book **out, struct lamp_error *error);

/**
 * Every book that lamp_book_find can find, one of each id; unreadable ones are left out.
 * @param out  array of books owned by the caller: free each, then free() the array. @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_find_all(struct lamp_book ***out, size_t *count);

/** Most faults of one book that are told. */
#define LAMP_FAULTS_MAX 64

/**
 * Every fault of the book at `path` that can be found in one go, part by part: of text that is no YAML only the first.
 * @param fault  room for LAMP_FAULTS_MAX.
 * @param count  set to how many were found; at LAMP_FAULTS_MAX there may be more.
 * @return LAMP_OK where there is none, LAMP_BAD_BOOK, LAMP_NO_MEMORY; the first is also in `error`, which may be NULL.
 */
enum lamp_err lamp_book_faults(const char *path, struct lamp_error fault[LAMP_FAULTS_MAX], size_t *count,
                               struct lamp_error *error);

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

/** How long two entries may look alike. */
struct lamp_parting {
    const struct lamp_code *a;
    const struct lamp_code *b;
    bool never;       /**< They cannot be told apart. */
    int64_t watch_ns; /**< Otherwise: however it begins, light that lasts longer than this is one of them only. */
};

/**
 * How long light of the one may pass for light of the other at `rate_hz` frames a second: the longest stretch of its nominal light
 * that, with one time scale, stays within the other's tolerance, cut anywhere; the worse of both ways round.
 * @return false where they belong to different lamps, and where one of them is flicker, which has no wave; `out` is untouched then.
 */
bool lamp_codes_part(const struct lamp_code *a, const struct lamp_code *b, double rate_hz, struct lamp_parting *out);

/** Most entries of a book whose pairs are compared by lamp_book_partings. */
#define LAMP_PARTINGS_CODES_MAX 512

/**
 * The pairs of a book that have to be watched longest, those that never part first.
 * @param out  room for `room` pairs.
 * @return how many there are, at most `room`; 0 where the book has more than LAMP_PARTINGS_CODES_MAX entries.
 */
size_t lamp_book_partings(const struct lamp_book *book, double rate_hz, struct lamp_parting *out, size_t room);

/** Free; NULL is fine. */
void lamp_book_free(struct lamp_book *book);

#endif
