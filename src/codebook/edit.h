/* edit.h - Changes to the text of a book that leave every other byte of it as it is. */
#ifndef LAMP_CODEBOOK_EDIT_H
#define LAMP_CODEBOOK_EDIT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/text.h"
#include "codebook/yaml.h"

/** Most changes at once. */
#define LAMP_EDIT_CHANGES_MAX 16

/** Bytes that go, and text that comes in their place. */
struct lamp_change {
    size_t at;
    size_t gone;
    struct lamp_text put;
};

/** Changes to one text; begin with all zero but the text. */
struct lamp_edit {
    const char *text; /**< As lamp_yaml_read took it. */
    size_t size;
    size_t count;
    struct lamp_change change[LAMP_EDIT_CHANGES_MAX];
    enum lamp_err err; /**< The first that went wrong: BAD_USE, a value stands where it cannot be
                          changed (under an alias), or there were too many changes; NO_MEMORY. */
};

/** Say that something went wrong, if it did. */
void lamp_edit_fail(struct lamp_edit *edit, bool has_failed, enum lamp_err err);

/** Put `text` in place of `gone` bytes at `at`; what comes to one place keeps its order. */
void lamp_edit_put(struct lamp_edit *edit, size_t at, size_t gone, const char *text);

/** Put whole lines behind the line in which byte `end` ends. */
void lamp_edit_put_lines(struct lamp_edit *edit, size_t end, const char *lines);

/** Put whole lines behind the line in which byte `end` ends and the comments below it that are
 * indented by more than `indent`. */
void lamp_edit_put_lines_behind_comments(struct lamp_edit *edit, size_t end, int indent,
                                         const char *lines);

/** The value of `key` in a map, NULL if it has none. */
const struct lamp_yaml_node *lamp_edit_value(const struct lamp_yaml_node *map, const char *key);

/** Give `key` of a map the value `text`, one line of YAML that can stand between braces; a key that
 * the map lacks is added behind its last. */
void lamp_edit_set(struct lamp_edit *edit, const struct lamp_yaml_node *map, const char *key,
                   const char *text);

/** The text with all changes, its lines ended as the others are. @return what went wrong first,
 * here or before; then `out` is not whole. */
enum lamp_err lamp_edit_apply(const struct lamp_edit *edit, struct lamp_text *out);

/** Free the changes. */
void lamp_edit_fini(struct lamp_edit *edit);

#endif
