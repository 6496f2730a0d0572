/* field.h - The values of a book's keys: text, ids, lengths, shares and lists, each refused with
 * its place. */
#ifndef LAMP_CODEBOOK_FIELD_H
#define LAMP_CODEBOOK_FIELD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "codebook/yaml.h"
#include "lampread/codebook.h"

/** Ceilings of one text, bytes, and one list of texts. */
#define LAMP_BOOK_TEXT_MAX    4096
#define LAMP_BOOK_STRINGS_MAX 64
#define LAMP_BOOK_ID_MAX      63

/** The faults of one book. */
struct lamp_faults {
    struct lamp_error *at; /**< Room for LAMP_FAULTS_MAX. */
    size_t count;
};

/** Reads one book; the first failure is told and sticks. Every function answers false on failure.
 */
struct lamp_fields {
    const char *file;         /**< What the book is called in errors. */
    struct lamp_arena *arena; /**< The book's own; what is read lives in it. */
    struct lamp_error *error;
    enum lamp_err err;
    struct lamp_faults *faults; /**< Collects all of them; NULL: reading ends with the first. */
    bool is_timing_doubtful;    /**< The book's lengths are at fault: no pattern can be blamed. */
};

/** A key that a map may have. */
struct lamp_field {
    const char *name;
    bool is_required;
};

/**
 * Refuse the word at byte `offset` of a text node, or the node itself where it is no text.
 * @return false, so that a failing line reads `return lamp_field_refuse(...)`.
 */
bool lamp_field_refuse(struct lamp_fields *fields, const struct lamp_yaml_node *node, size_t offset,
                       const char *format, ...) __attribute__((format(printf, 4, 5)));

/** Whether reading goes on behind a fault, to find more. */
bool lamp_field_goes_on(const struct lamp_fields *fields);

/** As lamp_field_refuse for memory that could not be had. */
bool lamp_field_refuse_memory(struct lamp_fields *fields);

/** `count` zeroed items of `size` bytes for the book, NULL on failure. */
void *lamp_field_row(struct lamp_fields *fields, size_t count, size_t size);

/**
 * Sort the values of a map by key: `value[i]` is that of `known[i]`, NULL where it is left out.
 * Where reading goes on behind faults, also a required one may be NULL.
 * @param what  names the map in errors: "a code".
 */
bool lamp_field_sort(struct lamp_fields *fields, const struct lamp_yaml_node *map, const char *what,
                     const struct lamp_field *known, const struct lamp_yaml_node **value);

/** That the node is a map or list of 1 (lists: 0) to `most` members; `what` names the key. */
bool lamp_field_is(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                   enum lamp_yaml_kind kind, const char *what, size_t most);

/** Any text that is not empty; line breaks become spaces. */
bool lamp_field_text(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                     const char *what, const char **out);

/** Text of lower-case letters, digits and hyphens. */
bool lamp_field_id(struct lamp_fields *fields, const struct lamp_yaml_node *node, const char *what,
                   const char **out);

/** A length of time with its unit. */
bool lamp_field_duration(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                         const char *what, int64_t *out);

/** A tolerance in per cent, 1 to 90, as a share of one. */
bool lamp_field_tolerance(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                          double *out);

/** A list of texts, or one text as a list of one; a NULL node leaves `out` as it is. */
bool lamp_field_strings(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                        const char *what, struct lamp_strings *out);

/** Bytes of `text` to quote in a sentence, for %.*s. */
int lamp_field_quoted(const char *text);

#endif
