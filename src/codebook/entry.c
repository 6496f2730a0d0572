/* entry.c - The lamps, lengths and codes of a book. */
#include "codebook/entry.h"

#include <stdlib.h>
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
    bool is_good = true;
    for (size_t i = SHORT; i <= REST; i++) {
        is_good =
            (value[i] == NULL || lamp_field_duration(fields, value[i], known[i].name, length[i])) &&
            is_good;
    }
    is_good =
        (value[TOLERANCE] == NULL || lamp_field_tolerance(fields, value[TOLERANCE], tolerance)) &&
        is_good;
    if (!is_good) {
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
    out->name = ""; /* Until it is known to be one. */
    return lamp_field_id(fields, pair[0], "a lamp's name", &out->name) &&
           lamp_field_sort(fields, pair[1], "a lamp", known, value) &&
           (value[COLOUR] == NULL || read_colour(fields, value[COLOUR], &out->colour)) &&
           (value[SHOWS] == NULL || lamp_field_text(fields, value[SHOWS], "shows", &out->shows));
}

static bool check_lamp_name(struct lamp_fields *fields, const struct lamp_yaml_node *map,
                            const struct lamp_book_lamp *lamp, size_t i)
{
    for (size_t k = 0; k < i && lamp[i].name[0] != '\0'; k++) {
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
        bool is_good = read_lamp(fields, node->child + 2 * i, &lamp[i]) &&
                       check_lamp_name(fields, node, lamp, i);
        if (!is_good && !lamp_field_goes_on(fields)) {
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
    if (!fields->is_timing_doubtful &&
        lamp_pattern_play(&code->pattern, &code->timing, &code->wave, &why) != LAMP_OK) {
        return lamp_field_refuse(fields, node, 0, "%s", why.sentence);
    }
    return true;
}

/* How many recordings: a whole number. */
static bool read_recordings(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                            unsigned *out)
{
    const char *text;
    if (!lamp_field_text(fields, node, "taught", &text)) {
        return false;
    }
    char *end = NULL;
    unsigned long count = strspn(text, "0123456789") > 0 ? strtoul(text, &end, 10) : 0;
    if (count < 1 || count > LAMP_TAUGHT_MAX || *end != '\0') {
        return lamp_field_refuse(fields, node, 0,
                                 "'%.*s' is not a number of recordings, expected one from 1 to %d",
                                 lamp_field_quoted(text), text, LAMP_TAUGHT_MAX);
    }
    *out = (unsigned)count;
    return true;
}

/* What the lengths rest on: a number of recordings, or that and how well the lengths are known. */
static bool read_taught(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                        struct lamp_taught *out)
{
    enum { RECORDINGS, SD, COUNT };
    static const struct lamp_field known[COUNT + 1] = {
        {"recordings", true}, {"sd", false}, {NULL, false}};
    const struct lamp_yaml_node *value[COUNT];
    if (node->kind == LAMP_YAML_TEXT) {
        return read_recordings(fields, node, &out->recordings);
    }
    return lamp_field_sort(fields, node, "taught", known, value) &&
           read_recordings(fields, value[RECORDINGS], &out->recordings) &&
           (value[SD] == NULL || lamp_field_duration(fields, value[SD], "sd", &out->sd_ns));
}

enum { ID, LAMP, PATTERN, MEANS, BASIS, SUSPECT, CHECK, TIMING, TOLERANCE, TAUGHT, CODE_FIELDS };

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
        {"tolerance", false}, {"taught", false},  {NULL, false}};
    const struct lamp_yaml_node *value[CODE_FIELDS];
    out->line = node->line;
    out->id = ""; /* Until it is known to be one. */
    if (!lamp_field_sort(fields, node, "a code", known, value)) {
        return false;
    }
    /* All are read, so that all faults can be told. */
    bool is_good = lamp_field_id(fields, value[ID], "an id", &out->id);
    is_good =
        (value[LAMP] == NULL || read_lamp_name(fields, value[LAMP], book, &out->lamp)) && is_good;
    is_good = read_code_timing(fields, value, book, out) &&
              read_pattern(fields, value[PATTERN], out) && is_good;
    is_good = lamp_field_text(fields, value[MEANS], "means", &out->means) && is_good;
    is_good =
        (value[BASIS] == NULL || lamp_field_text(fields, value[BASIS], "basis", &out->basis)) &&
        is_good;
    is_good = lamp_field_strings(fields, value[SUSPECT], "suspect", &out->suspect) && is_good;
    is_good = lamp_field_strings(fields, value[CHECK], "check", &out->check) && is_good;
    return (value[TAUGHT] == NULL || read_taught(fields, value[TAUGHT], &out->taught)) && is_good;
}

static bool check_code_id(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                          const struct lamp_code *code, size_t i)
{
    for (size_t k = 0; k < i && code[i].id[0] != '\0'; k++) {
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
    struct lamp_code *code = lamp_field_row(fields, node->count, sizeof *code);
    if (code == NULL) {
        return false;
    }
    for (size_t i = 0; i < node->count; i++) {
        bool is_good = read_code(fields, node->child[i], book, &code[i]) &&
                       check_code_id(fields, node->child[i], code, i);
        if (!is_good && !lamp_field_goes_on(fields)) {
            return false;
        }
    }
    book->code = code;
    book->code_count = node->count;
    return true;
}
