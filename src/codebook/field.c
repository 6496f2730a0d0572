/* field.c - The values of a book's keys: text, ids, lengths, shares and lists, each refused with
 * its place. */
#include "codebook/field.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "base/utf8.h"

enum { QUOTED_MAX = 48, FIELDS_MAX = 16 };

#define TOLERANCE_LEAST_PERCENT 1
#define TOLERANCE_MOST_PERCENT  90

int lamp_field_quoted(const char *text)
{
    return (int)lamp_utf8_fit(text, strcspn(text, "\r\n"), QUOTED_MAX);
}

static int column_at(const struct lamp_yaml_node *node, size_t offset)
{
    if (node->kind != LAMP_YAML_TEXT || node->text_column == 0 || offset > node->size) {
        return node->column;
    }
    int column = node->text_column;
    for (size_t at = 0; at < offset; at++) {
        column += ((unsigned char)node->text[at] & 0xc0) != 0x80;
    }
    return column;
}

bool lamp_field_goes_on(const struct lamp_fields *fields)
{
    return fields->faults != NULL && fields->err != LAMP_NO_MEMORY &&
           fields->faults->count < LAMP_FAULTS_MAX;
}

/* The first fault is the one that is told where only one is. */
static void keep_fault(struct lamp_fields *fields, const char *place, const char *sentence)
{
    if (fields->faults != NULL && fields->faults->count < LAMP_FAULTS_MAX) {
        (void)lamp_fail(&fields->faults->at[fields->faults->count++], LAMP_BAD_BOOK, place, "%s",
                        sentence);
    }
    if (fields->err == LAMP_OK) {
        fields->err = lamp_fail(fields->error, LAMP_BAD_BOOK, place, "%s", sentence);
    }
}

bool lamp_field_refuse(struct lamp_fields *fields, const struct lamp_yaml_node *node, size_t offset,
                       const char *format, ...)
{
    char place[LAMP_PLACE_MAX];
    char sentence[LAMP_SENTENCE_MAX];
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(sentence, sizeof sentence, format, rest);
    va_end(rest);
    lamp_yaml_place(fields->file, node->line, column_at(node, offset), place);
    keep_fault(fields, place, sentence);
    return false;
}

bool lamp_field_refuse_memory(struct lamp_fields *fields)
{
    fields->err = lamp_fail_memory(fields->error);
    return false;
}

void *lamp_field_row(struct lamp_fields *fields, size_t count, size_t size)
{
    void *row = lamp_arena_take_row(fields->arena, count, size);
    if (row == NULL) {
        (void)lamp_field_refuse_memory(fields);
    }
    return row;
}

static const char *kind_name(const struct lamp_yaml_node *node)
{
    switch (node->kind) {
    case LAMP_YAML_LIST: return "a list";
    case LAMP_YAML_MAP: return "keys with values";
    default: return node->size == 0 ? "nothing" : "text";
    }
}

bool lamp_field_is(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                   enum lamp_yaml_kind kind, const char *what, size_t most)
{
    const char *expected = kind == LAMP_YAML_LIST ? "a list" : "keys with values";
    if (node == NULL) { /* Told by lamp_field_sort. */
        return false;
    }
    if (node->kind != kind) {
        return lamp_field_refuse(fields, node, 0, "%s is %s, expected %s", what, kind_name(node),
                                 expected);
    }
    if (node->count > most) {
        return lamp_field_refuse(fields, node, 0, "%s has %zu members, expected at most %zu", what,
                                 node->count, most);
    }
    return true;
}

/* A key nobody knows: the nearest known one, or all of them; a hint where a comma has cut a text
 * into keys. */
static bool refuse_key(struct lamp_fields *fields, const struct lamp_yaml_node *pair,
                       const struct lamp_yaml_node *value, const char *what,
                       const char *const *names)
{
    struct lamp_text list = {0};
    size_t count = 0;
    for (; names[count] != NULL; count++) {
        lamp_text_add(&list, "%s%s", count == 0 ? "" : ", ", names[count]);
    }
    const char *nearest = lamp_text_nearest(pair->text, names, count);
    bool is_cut = value->kind == LAMP_YAML_TEXT && value->size == 0;
    if (nearest != NULL) {
        (void)lamp_field_refuse(fields, pair, 0, "unknown key '%.*s' in %s, did you mean '%s'?",
                                lamp_field_quoted(pair->text), pair->text, what, nearest);
    } else {
        (void)lamp_field_refuse(fields, pair, 0, "unknown key '%.*s' in %s, expected one of %s%s",
                                lamp_field_quoted(pair->text), pair->text, what,
                                list.failed ? "the known keys" : list.at,
                                is_cut ? "; between braces, text with a comma stands in quotes"
                                       : "");
    }
    lamp_text_fini(&list);
    return false;
}

static bool require_fields(struct lamp_fields *fields, const struct lamp_yaml_node *map,
                           const char *what, const struct lamp_field *known,
                           const struct lamp_yaml_node **value)
{
    for (size_t i = 0; known[i].name != NULL; i++) {
        if (known[i].is_required && value[i] == NULL &&
            !lamp_field_refuse(fields, map, 0, "%s has no '%s', expected one", what,
                               known[i].name) &&
            !lamp_field_goes_on(fields)) {
            return false;
        }
    }
    return true;
}

bool lamp_field_sort(struct lamp_fields *fields, const struct lamp_yaml_node *map, const char *what,
                     const struct lamp_field *known, const struct lamp_yaml_node **value)
{
    const char *names[FIELDS_MAX + 1] = {NULL};
    const struct lamp_yaml_node *key[FIELDS_MAX] = {NULL};
    size_t known_count = 0;
    for (; known[known_count].name != NULL; known_count++) {
        names[known_count] = known[known_count].name;
        value[known_count] = NULL;
    }
    if (!lamp_field_is(fields, map, LAMP_YAML_MAP, what, LAMP_YAML_NODES_MAX)) {
        return false;
    }
    for (size_t i = 0; i < map->count; i++) {
        const struct lamp_yaml_node *now = map->child[2 * i];
        size_t k = 0;
        while (k < known_count && strcmp(names[k], now->text) != 0) {
            k++;
        }
        bool is_good = k < known_count && key[k] == NULL;
        if (is_good) {
            key[k] = now;
            value[k] = map->child[2 * i + 1];
        } else if (k == known_count) {
            (void)refuse_key(fields, now, map->child[2 * i + 1], what, names);
        } else {
            (void)lamp_field_refuse(fields, now, 0, "'%s' is given twice in %s, first on line %d",
                                    names[k], what, key[k]->line);
        }
        if (!is_good && !lamp_field_goes_on(fields)) {
            return false;
        }
    }
    return require_fields(fields, map, what, known, value);
}

/* The offset of a character that an escape smuggled in, `size` if there is none. */
static size_t find_control(const char *text, size_t size)
{
    size_t at = 0;
    while (at < size) {
        uint32_t character = 0;
        size_t used = lamp_utf8_read(text + at, size - at, &character);
        bool is_blank = character == '\t' || character == '\n' || character == '\r';
        if (used == 0 || (lamp_utf8_is_control(character) && !is_blank)) {
            return at;
        }
        at += used;
    }
    return size;
}

static bool check_text(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                       const char *what)
{
    if (node == NULL) { /* Told by lamp_field_sort. */
        return false;
    }
    if (node->kind != LAMP_YAML_TEXT || node->size == 0) {
        return lamp_field_refuse(fields, node, 0, "%s is %s, expected text", what, kind_name(node));
    }
    if (node->size > LAMP_BOOK_TEXT_MAX) {
        return lamp_field_refuse(fields, node, 0, "%s has %zu bytes, expected at most %d", what,
                                 node->size, LAMP_BOOK_TEXT_MAX);
    }
    size_t control = find_control(node->text, node->size);
    if (control < node->size) {
        return lamp_field_refuse(fields, node, 0,
                                 "%s holds a control character, expected plain text", what);
    }
    return true;
}

bool lamp_field_text(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                     const char *what, const char **out)
{
    static const char blanks[] = " \t\r\n";
    if (!check_text(fields, node, what)) {
        return false;
    }
    size_t begin = strspn(node->text, blanks);
    size_t end = node->size;
    while (end > begin && strchr(blanks, node->text[end - 1]) != NULL) {
        end--;
    }
    if (begin == end) {
        return lamp_field_refuse(fields, node, 0, "%s is blank, expected text", what);
    }
    char *copy = lamp_arena_copy(fields->arena, node->text + begin, end - begin);
    if (copy == NULL) {
        return lamp_field_refuse_memory(fields);
    }
    for (char *at = copy; *at != '\0'; at++) {
        if (strchr(blanks, *at) != NULL) {
            *at = ' ';
        }
    }
    *out = copy;
    return true;
}

bool lamp_field_id(struct lamp_fields *fields, const struct lamp_yaml_node *node, const char *what,
                   const char **out)
{
    const char *id;
    if (!lamp_field_text(fields, node, what, &id)) {
        return false;
    }
    size_t good = strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-");
    if (id[good] != '\0') {
        return lamp_field_refuse(
            fields, node, 0, "'%.*s' is not %s, expected lower-case letters, digits and hyphens",
            lamp_field_quoted(id), id, what);
    }
    if (good > LAMP_BOOK_ID_MAX) {
        return lamp_field_refuse(fields, node, 0, "%s has %zu characters, expected at most %d",
                                 what, good, LAMP_BOOK_ID_MAX);
    }
    *out = id;
    return true;
}

bool lamp_field_duration(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                         const char *what, int64_t *out)
{
    double number;
    if (!check_text(fields, node, what)) {
        return false;
    }
    if (lamp_duration_parse(node->text, out)) {
        return true;
    }
    if (lamp_number_parse(node->text, &number)) {
        return lamp_field_refuse(fields, node, 0,
                                 "'%.*s' has no unit, expected a length such as 200 ms",
                                 lamp_field_quoted(node->text), node->text);
    }
    return lamp_field_refuse(fields, node, 0,
                             "'%.*s' is not a length of time, expected one such as 200 ms or 1.5 s",
                             lamp_field_quoted(node->text), node->text);
}

bool lamp_field_tolerance(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                          double *out)
{
    double percent;
    if (!check_text(fields, node, "tolerance")) {
        return false;
    }
    size_t used = lamp_number_read(node->text, &percent);
    size_t sign = used + strspn(node->text + used, " ");
    if (used > 0 && node->text[sign] == '\0') {
        return lamp_field_refuse(fields, node, 0,
                                 "'%.*s' has no unit, expected a share such as 25 %%",
                                 lamp_field_quoted(node->text), node->text);
    }
    bool is_percent = used > 0 && strcmp(node->text + sign, "%") == 0;
    if (!is_percent || percent < TOLERANCE_LEAST_PERCENT || percent > TOLERANCE_MOST_PERCENT) {
        return lamp_field_refuse(fields, node, 0,
                                 "'%.*s' is not a tolerance, expected a share from 1 %% to 90 %%",
                                 lamp_field_quoted(node->text), node->text);
    }
    *out = percent / 100;
    return true;
}

bool lamp_field_strings(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                        const char *what, struct lamp_strings *out)
{
    if (node == NULL) {
        return true;
    }
    if (node->kind == LAMP_YAML_MAP) {
        return lamp_field_refuse(fields, node, 0, "%s is %s, expected a text or a list of texts",
                                 what, kind_name(node));
    }
    bool is_one = node->kind == LAMP_YAML_TEXT;
    size_t count = is_one ? 1 : node->count;
    if (!is_one && !lamp_field_is(fields, node, LAMP_YAML_LIST, what, LAMP_BOOK_STRINGS_MAX)) {
        return false;
    }
    const char **at = lamp_field_row(fields, count + 1, sizeof *at);
    if (at == NULL) {
        return false;
    }
    char item[64];
    (void)snprintf(item, sizeof item, "an item of %s", what);
    for (size_t i = 0; i < count; i++) {
        if (!lamp_field_text(fields, is_one ? node : node->child[i], is_one ? what : item,
                             &at[i])) {
            return false;
        }
    }
    *out = (struct lamp_strings){count, at};
    return true;
}
