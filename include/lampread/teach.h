/* teach.h - Extend codebooks: a new book, an entry measured from light, and their file replaced in one step. */
#ifndef LAMPREAD_TEACH_H
#define LAMPREAD_TEACH_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/codebook.h"
#include "lampread/error.h"
#include "lampread/flash.h"
#include "lampread/group.h"

/** An entry to be written. Holds nothing to free; texts are borrowed. */
struct lamp_draft {
    const char *id;
    const char *lamp;            /**< Name of a lamp; NULL: any lamp. */
    enum lamp_colour colour;     /**< Of that lamp, where the book does not know it yet; UNKNOWN is left out. */
    struct lamp_pattern pattern;
    struct lamp_timing timing;   /**< The lengths that a GROUPS pattern uses; 0 for others. */
    struct lamp_taught taught;   /**< What the lengths rest on; recordings 0: not measured. */
    const char *means;
    const char *basis;           /**< NULL: none is written. */
    struct lamp_strings suspect;
    struct lamp_strings check;
};

/** Check that a text can name a code or a book. @param error  says what it should be; its place is left empty.
 * @return LAMP_OK, LAMP_BAD_USE. */
enum lamp_err lamp_book_check_id(const char *id, struct lamp_error *error);

/** How a rhythm becomes an entry. */
struct lamp_draft_rules {
    bool is_exact;       /**< Every length of the cycle as it was measured, in place of notation. */
    bool takes_flicker;  /**< Light without a rhythm is what the code looks like. */
    double least_confidence; /**< Of the rhythm, below which nothing is drafted; default 0.9. */
};

struct lamp_draft_rules lamp_draft_rules_default(void);

/**
 * Draft the pattern and the lengths of light that was seen to repeat. Texts and lamp are the caller's to set.
 * @param out    pattern, timing and taught are set; untouched on failure.
 * @param error  says what is missing; its place is left empty.
 * @return LAMP_OK; LAMP_BAD_USE for light that no entry can be written of: it did not repeat, swells and fades, flickers.
 */
enum lamp_err lamp_book_draft(const struct lamp_rhythm *rhythm, const struct lamp_length *length, size_t count,
                              const struct lamp_draft_rules *rules, struct lamp_draft *out, struct lamp_error *error);

/** A lamp of a new book. */
struct lamp_outline_lamp {
    const char *name;
    enum lamp_colour colour; /**< UNKNOWN is left out. */
    const char *shows;       /**< NULL is left out. */
};

/** A new book without codes. Everything is borrowed. */
struct lamp_outline {
    const char *id;
    const char *board;
    const char *source;
    const struct lamp_outline_lamp *lamp;
    size_t lamp_count;
    struct lamp_timing timing; /**< Nominal lengths; those that are 0 get common ones. */
};

/**
 * Write the text of a new book, with comments that tell how to go on.
 * @param out  freed by the caller with free(); untouched on failure.
 * @return LAMP_OK; LAMP_BAD_USE where a name or text cannot stand in a book, with the reason; LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_outline(const struct lamp_outline *outline, char **out, struct lamp_error *error);

/** What became of a draft. */
enum lamp_taking {
    LAMP_TAKING_ADDED,  /**< A new entry. */
    LAMP_TAKING_REFINED /**< The entry of this id, whose lengths now rest on one recording more. */
};

/** A book's text with a draft taken into it. */
struct lamp_teaching {
    char *text;               /**< Freed by the caller with free(). */
    size_t size;
    struct lamp_book *book;   /**< The text as a book; freed by the caller with lamp_book_free. */
    const struct lamp_code *code; /**< The entry in it. */
    enum lamp_taking taking;
    bool adds_lamp;           /**< The book did not name the lamp yet. */
};

/**
 * Take a draft into the text of a book. An entry of its id and pattern has its lengths combined with the draft's, each weighted by
 * what is known of it; otherwise the entry is added behind the last one, and its lamp where the book does not name it.
 * Every other byte of the text stays as it is. The outcome is read back: it is the book as it was and this entry, or the call fails.
 * @param name   what the text is called in errors.
 * @param out    untouched on failure.
 * @return LAMP_OK; LAMP_BAD_BOOK for text that is no book; LAMP_BAD_USE where the draft cannot be taken (an id with another pattern or
 *         lamp, lengths beyond the tolerance, text that cannot stand in a book), with the reason; LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_add(const char *text, size_t size, const char *name, const struct lamp_draft *draft,
                            struct lamp_teaching *out, struct lamp_error *error);

/**
 * The first other entry that a camera of `rate_hz` frames a second could not tell from the one that was taken; NULL if there is none.
 * @return owned by the teaching's book.
 */
const struct lamp_code *lamp_teaching_clash(const struct lamp_teaching *teaching, double rate_hz);

/** Free what a teaching holds. */
void lamp_teaching_fini(struct lamp_teaching *teaching);

/** Read the bytes of a book. @param text  freed by the caller with free(). @return LAMP_OK, LAMP_BAD_BOOK, LAMP_NO_MEMORY. */
enum lamp_err lamp_book_load(const char *path, char **text, size_t *size, struct lamp_error *error);

/**
 * Write a book that must not be there yet; with `replaces`, one that may.
 * @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_create(const char *path, const char *text, size_t size, bool replaces, struct lamp_error *error);

/**
 * Replace a book in one step: whoever reads it sees the old or the new one whole, also after a crash. A symbolic link is followed, the
 * file's permissions are kept, the old text is kept as PATH~ beside the file.
 * @param was  the text that was read; where the file holds another by now, nothing is written.
 * @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_book_replace(const char *path, const char *was, size_t was_size, const char *text, size_t size,
                                struct lamp_error *error);

#endif
