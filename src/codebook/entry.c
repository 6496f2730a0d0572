/* entry.c - The lamps, lengths and codes of a book. */
#include "codebook/entry.h"

#include <string.h>

#include "base/text.h"

/* Lengths that a book or a code gives; those it leaves out stay as they are. */
bool lamp_entry_read_timing(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                            struct lamp_timing *timing, double *tolerance)
{
    enum { SHORT, LONG, GAP, PAUSE, REST, TOLERANCE, COUNT };
    static const struct lamp_field known[COUNT + 1] = {
        {"short", false}, {"long", false},      {"gap", false}, {"pause", false},
        {"rest", false},  {"tolerance", false}, {NULL, false}};
    int64_t *const length[] = {&timing->short_ns, &timing->long_ns, &timing->gap_ns,
                               &timing->pause_ns, &timing->rest_ns};
    const struct lamp_yaml_node *value[COUNT];
    if (!lamp_field_sort(fields, node, "timing", known, value)) {
        return false;
    }
    for (size_t i = SHORT; i <= REST; i++) {
        if (value[i] != NULL && !lamp_field_duration(fields, value[i], known[i].name, length[i])) {
            return false;
        }
    }
    if (value[TOLERANCE] != NULL && !lamp_field_tolerance(fields, value[TOLERANCE], tolerance)) {
        return false;
    }
    if (timing->long_ns != 0 && timing->long_ns <= timing->short_ns) {
        return lamp_field_refuse(fields, node, 0,
                                 "'long' is not longer than 'short', expected a longer length");
    }
    if (timing->pause_ns != 0 && timing->pause_ns <= timing->gap_ns) {
        return lamp_field_refuse(fields, node, 0,
                                 "'pause' is not longer than 'gap', expected a longer length");
    }
    if (timing->rest_ns != 0 && timing->rest_ns <= timing->gap_ns) {
        return lamp_field_refuse(fields, node, 0,
                                 "'rest' is not longer than 'gap', expected a longer length");
    }
    return true;
}

static bool read_colour(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                        enum lamp_colour *out)
{
    const char *name;
    if (!lamp_field_text(fields, node, "colour", &name)) {
        return false;
    }
    *out = lamp_colour_named(name);
    return *out != LAMP_COLOUR_UNKNOWN ||
           lamp_field_refuse(fields, node, 0,
                             "'%.*s' is not a colour, expected red, orange (amber), yellow, green, "
                             "blue, purple or white",
                             lamp_field_quoted(name), name);
}

static bool read_lamp(struct lamp_fields *fields, const struct lamp_yaml_node *const *pair,
                      struct lamp_book_lamp *out)
{
    enum { COLOUR, SHOWS, COUNT };
    static const struct lamp_field known[COUNT + 1] = {
        {"colour", false}, {"shows", false}, {NULL, false}};
    const struct lamp_yaml_node *value[COUNT];
    return lamp_field_id(fields, pair[0], "a lamp's name", &out->name) &&
           lamp_field_sort(fields, pair[1], "a lamp", known, value) &&
           (value[COLOUR] == NULL || read_colour(fields, value[COLOUR], &out->colour)) &&
           (value[SHOWS] == NULL || lamp_field_text(fields, value[SHOWS], "shows", &out->shows));
}

static bool check_lamp_name(struct lamp_fields *fields, const struct lamp_yaml_node *map,
                            const struct lamp_book_lamp *lamp, size_t i)
{
    for (size_t k = 0; k < i; k++) {
        if (strcmp(lamp[k].name, lamp[i].name) == 0) {
            return lamp_field_refuse(fields, map->child[2 * i], 0,
                                     "lamp '%s' is given twice, first on line %d", lamp[i].name,
                                     map->child[2 * k]->line);
        }
    }
    return true;
}

bool lamp_entry_read_lamps(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                           struct lamp_book *book)
{
    if (node == NULL) {
        return true;
    }
    if (!lamp_field_is(fields, node, LAMP_YAML_MAP, "'lamps'", LAMP_BOOK_LAMPS_MAX)) {
        return false;
    }
    struct lamp_book_lamp *lamp = lamp_field_row(fields, node->count, sizeof *lamp);
    if (lamp == NULL) {
        return false;
    }
    for (size_t i = 0; i < node->count; i++) {
        if (!read_lamp(fields, node->child + 2 * i, &lamp[i]) ||
            !check_lamp_name(fields, node, lamp, i)) {
            return false;
        }
    }
    book->lamp = lamp;
    book->lamp_count = node->count;
    return true;
}

/* The name of a lamp of the book. */
static bool read_lamp_name(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                           const struct lamp_book *book, const char **out)
{
    const char *name;
    const char *names[LAMP_BOOK_LAMPS_MAX];
    if (!lamp_field_text(fields, node, "lamp", &name)) {
        return false;
    }
    for (size_t i = 0; i < book->lamp_count; i++) {
        names[i] = book->lamp[i].name;
        if (strcmp(name, names[i]) == 0) {
            *out = names[i];
            return true;
        }
    }
    const char *nearest = lamp_text_nearest(name, names, book->lamp_count);
    int quoted = lamp_field_quoted(name);
    return nearest != NULL
               ? lamp_field_refuse(fields, node, 0,
                                   "'%.*s' is not a lamp of this book, did you mean '%s'?", quoted,
                                   name, nearest)
               : lamp_field_refuse(fields, node, 0,
                                   "'%.*s' is not a lamp of this book, expected one from 'lamps'",
                                   quoted, name);
}

static bool read_pattern(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                         struct lamp_code *code)
{
    const char *text;
    struct lamp_error why;
    size_t at = 0;
    if (!lamp_field_text(fields, node, "pattern", &text)) {
        return false;
    }
    if (lamp_pattern_parse(node->text, &code->pattern, &at, &why) != LAMP_OK) {
        return lamp_field_refuse(fields, node, at, "%s", why.sentence);
    }
    if (lamp_pattern_play(&code->pattern, &code->timing, &code->wave, &why) != LAMP_OK) {
        return lamp_field_refuse(fields, node, 0, "%s", why.sentence);
    }
    return true;
}

enum { ID, LAMP, PATTERN, MEANS, BASIS, SUSPECT, CHECK, TIMING, TOLERANCE, CODE_FIELDS };

/* Lengths and tolerance in force for a code: the book's, then its own. */
static bool read_code_timing(struct lamp_fields *fields, const struct lamp_yaml_node *const *value,
                             const struct lamp_book *book, struct lamp_code *out)
{
    double inside = 0;
    out->timing = book->timing;
    if (value[TIMING] != NULL &&
        !lamp_entry_read_timing(fields, value[TIMING], &out->timing, &inside)) {
        return false;
    }
    out->tolerance = inside > 0 ? inside : book->tolerance;
    if (value[TOLERANCE] == NULL) {
        return true;
    }
    if (inside > 0) {
        return lamp_field_refuse(fields, value[TOLERANCE], 0,
                                 "'tolerance' is given twice in a code, also in its 'timing'");
    }
    return lamp_field_tolerance(fields, value[TOLERANCE], &out->tolerance);
}

static bool read_code(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                      const struct lamp_book *book, struct lamp_code *out)
{
    static const struct lamp_field known[CODE_FIELDS + 1] = {
        {"id", true},         {"lamp", false},    {"pattern", true}, {"means", true},
        {"basis", false},     {"suspect", false}, {"check", false},  {"timing", false},
        {"tolerance", false}, {NULL, false}};
    const struct lamp_yaml_node *value[CODE_FIELDS];
    out->line = node->line;
    return lamp_field_sort(fields, node, "a code", known, value) &&
           lamp_field_id(fields, value[ID], "an id", &out->id) &&
           (value[LAMP] == NULL || read_lamp_name(fields, value[LAMP], book, &out->lamp)) &&
           read_code_timing(fields, value, book, out) &&
           read_pattern(fields, value[PATTERN], out) &&
           lamp_field_text(fields, value[MEANS], "means", &out->means) &&
           (value[BASIS] == NULL || lamp_field_text(fields, value[BASIS], "basis", &out->basis)) &&
           lamp_field_strings(fields, value[SUSPECT], "suspect", &out->suspect) &&
           lamp_field_strings(fields, value[CHECK], "check", &out->check);
}

static bool check_code_id(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                          const struct lamp_code *code, size_t i)
{
    for (size_t k = 0; k < i; k++) {
        if (strcmp(code[k].id, code[i].id) == 0) {
            return lamp_field_refuse(fields, node, 0, "id '%s' is given twice, first on line %d",
                                     code[i].id, code[k].line);
        }
    }
    return true;
}

bool lamp_entry_read_codes(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                           struct lamp_book *book)
{
    if (!lamp_field_is(fields, node, LAMP_YAML_LIST, "'codes'", LAMP_BOOK_CODES_MAX)) {
        return false;
    }
    if (node->count == 0) {
        return lamp_field_refuse(fields, node, 0, "'codes' is empty, expected at least one code");
    }
    struct lamp_code *code = lamp_field_row(fields, node->count, sizeof *code);
    if (code == NULL) {
        return false;
    }
    for (size_t i = 0; i < node->count; i++) {
        if (!read_code(fields, node->child[i], book, &code[i]) ||
            !check_code_id(fields, node->child[i], code, i)) {
            return false;
        }
    }
    book->code = code;
    book->code_count = node->count;
    return true;
}
