/* yaml.h - YAML 1.2 text as a tree of nodes that know their place. */
#ifndef LAMP_CODEBOOK_YAML_H
#define LAMP_CODEBOOK_YAML_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "lampread/error.h"

/** Ceilings; a deeper or larger text is refused. */
#define LAMP_YAML_DEPTH_MAX   16
#define LAMP_YAML_NODES_MAX   262144
#define LAMP_YAML_ANCHORS_MAX 64

enum lamp_yaml_kind { LAMP_YAML_TEXT, LAMP_YAML_LIST, LAMP_YAML_MAP };

/** One value, key or collection. An alias is the node that it names: nodes can have several
 * parents, never a circle. */
struct lamp_yaml_node {
    enum lamp_yaml_kind kind;
    int line;         /**< From 1. */
    int column;       /**< From 1, in characters. */
    int text_column;  /**< TEXT: column of its first character, 0 where text and file differ
                         (escapes, folding). */
    const char *text; /**< TEXT: UTF-8 with a closing zero. */
    size_t size;      /**< TEXT: bytes of it, which may hold zeros. */
    size_t begin;     /**< Byte of the text where it begins, quotes and brackets included. */
    size_t end; /**< Byte behind it; of a list or map in lines of its own: behind its last value. */
    bool is_flow; /**< LIST, MAP: stands between brackets or braces. */
    size_t count; /**< LIST: items; MAP: pairs. */
    const struct lamp_yaml_node *const
        *child; /**< LIST: items; MAP: key, value, key, value, ...; keys are TEXT. */
};

/** YAML text as it came from a file. */
struct lamp_yaml_source {
    const char *text;
    size_t size;      /**< Bytes. */
    const char *name; /**< What it is called in errors. */
};

/**
 * Read one YAML document.

 * @param arena  the tree lives in it; not the text.
 * @param out    untouched on failure.
 * @param error  place is "name:line:column"; may be NULL.
 * @return LAMP_OK, LAMP_BAD_BOOK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_yaml_read(const struct lamp_yaml_source *source, struct lamp_arena *arena,
                             const struct lamp_yaml_node **out, struct lamp_error *error);

/** "name:line:column", the name shortened from its front where it is long. */
void lamp_yaml_place(const char *name, int line, int column, char out[LAMP_PLACE_MAX]);

#endif
