/* rule.c - The findings of a book: which lamps and readings together point at what. */
#include "codebook/rule.h"

#include <stdlib.h>
#include <string.h>

#include "base/quantity.h"
#include "base/text.h"
#include "lampread/group.h"

enum { CONDITIONS_MAX = 16, READING_NAME_MAX = 63 };

static bool is_verdict(const char *word)
{
    for (int verdict = LAMP_VERDICT_STEADY_ON; verdict <= LAMP_VERDICT_UNDECIDED; verdict++) {
        if (strcmp(lamp_verdict_name((enum lamp_verdict)verdict), word) == 0) {
            return true;
        }
    }
    return false;
}

static const struct lamp_code *code_called(const struct lamp_book *book, const char *id)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
    }
    return NULL;
}

static bool is_lamp(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

static const char *nearest_lamp(const struct lamp_book *book, const char *word)
{
    const char *names[LAMP_BOOK_LAMPS_MAX];
    for (size_t i = 0; i < book->lamp_count; i++) {
        names[i] = book->lamp[i].name;
    }
    return lamp_text_nearest(word, names, book->lamp_count);
}

/* The verdict or code of this lamp that is spelt most like `word`, NULL if none is near. */
static const char *nearest_state(const struct lamp_book *book, const char *lamp, const char *word)
{
    const char *nearest = NULL;
    for (int verdict = LAMP_VERDICT_STEADY_ON; verdict <= LAMP_VERDICT_UNDECIDED; verdict++) {
        const char *pair[] = {nearest, lamp_verdict_name((enum lamp_verdict)verdict)};
        nearest = nearest == NULL ? lamp_text_nearest(word, &pair[1], 1)
                                  : lamp_text_nearest(word, pair, 2);
    }
    for (size_t i = 0; i < book->code_count; i++) {
        const struct lamp_code *code = &book->code[i];
        const char *pair[] = {nearest, code->id};
        if (code->lamp == NULL || strcmp(code->lamp, lamp) == 0) {
            nearest = nearest == NULL ? lamp_text_nearest(word, &pair[1], 1)
                                      : lamp_text_nearest(word, pair, 2);
        }
    }
    return nearest;
}

static bool check_state(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                        const struct lamp_book *book, const struct lamp_condition *condition)
{
    const struct lamp_code *code = code_called(book, condition->value);
    if (is_verdict(condition->value) ||
        (code != NULL && (code->lamp == NULL || strcmp(code->lamp, condition->key) == 0))) {
        return true;
    }
    int quoted = lamp_field_quoted(condition->value);
    if (code != NULL) {
        return lamp_field_refuse(
            fields, node, 0, "'%.*s' is a code of lamp '%s', expected a verdict or a code of '%s'",
            quoted, condition->value, code->lamp, condition->key);
    }
    const char *nearest = nearest_state(book, condition->key, condition->value);
    if (nearest != NULL) {
        return lamp_field_refuse(
            fields, node, 0, "'%.*s' is neither a verdict nor a code of '%s', did you mean '%s'?",
            quoted, condition->value, condition->key, nearest);
    }
    return lamp_field_refuse(
        fields, node, 0,
        "'%.*s' is neither a verdict nor a code of '%s', expected one such as steady-on or flicker",
        quoted, condition->value, condition->key);
}

/* A name that is no lamp is a bench reading, unless its value is one that only lamps have. */
static bool check_reading(struct lamp_fields *fields, const struct lamp_yaml_node *const *pair,
                          const struct lamp_book *book, const struct lamp_condition *condition)
{
    int quoted = lamp_field_quoted(condition->key);
    if (condition->key[strspn(condition->key,
                              "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-")] !=
            '\0' ||
        strlen(condition->key) > READING_NAME_MAX) {
        return lamp_field_refuse(
            fields, pair[0], 0,
            "'%.*s' is not the name of a lamp or reading, expected letters, digits and hyphens",
            quoted, condition->key);
    }
    if (is_verdict(condition->value) || code_called(book, condition->value) != NULL) {
        const char *nearest = nearest_lamp(book, condition->key);
        return nearest != NULL
                   ? lamp_field_refuse(fields, pair[0], 0,
                                       "'%.*s' is not a lamp of this book, did you mean '%s'?",
                                       quoted, condition->key, nearest)
                   : lamp_field_refuse(
                         fields, pair[0], 0,
                         "'%.*s' is not a lamp of this book, expected one from 'lamps'", quoted,
                         condition->key);
    }
    if (lamp_reading_is_word(condition->value)) {
        return true;
    }
    if (strchr("0123456789.+-<>", condition->value[0]) == NULL) {
        return lamp_field_refuse(
            fields, pair[1], 0,
            "'%.*s' is not one word, expected one, or a comparison such as > 0.4 A",
            lamp_field_quoted(condition->value), condition->value);
    }
    struct lamp_comparison comparison;
    struct lamp_error why;
    size_t at;
    if (lamp_comparison_parse(pair[1]->text, &comparison, &at, &why) == LAMP_OK) {
        return true;
    }
    return lamp_field_refuse(fields, pair[1], at, "%s", why.sentence);
}

static bool read_condition(struct lamp_fields *fields, const struct lamp_yaml_node *const *pair,
                           const struct lamp_book *book, struct lamp_condition *out)
{
    if (!lamp_field_text(fields, pair[0], "a lamp or reading", &out->key) ||
        !lamp_field_text(fields, pair[1], "a condition", &out->value)) {
        return false;
    }
    out->is_lamp = is_lamp(book, out->key);
    out->line = pair[0]->line;
    return out->is_lamp ? check_state(fields, pair[1], book, out)
                        : check_reading(fields, pair, book, out);
}

static bool check_key(struct lamp_fields *fields, const struct lamp_yaml_node *key,
                      const struct lamp_condition *condition, size_t i)
{
    for (size_t k = 0; k < i; k++) {
        if (strcmp(condition[k].key, condition[i].key) == 0) {
            return lamp_field_refuse(fields, key, 0,
                                     "'%s' is given twice in 'when', first on line %d",
                                     condition[i].key, condition[k].line);
        }
    }
    return true;
}

static bool read_conditions(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                            const struct lamp_book *book, struct lamp_finding_rule *out)
{
    if (!lamp_field_is(fields, node, LAMP_YAML_MAP, "'when'", CONDITIONS_MAX)) {
        return false;
    }
    if (node->count == 0) {
        return lamp_field_refuse(fields, node, 0, "'when' is empty, expected a lamp or a reading");
    }
    struct lamp_condition *condition = lamp_field_row(fields, node->count, sizeof *condition);
    if (condition == NULL) {
        return false;
    }
    for (size_t i = 0; i < node->count; i++) {
        if (!read_condition(fields, node->child + 2 * i, book, &condition[i]) ||
            !check_key(fields, node->child[2 * i], condition, i)) {
            return false;
        }
    }
    out->condition = condition;
    out->condition_count = node->count;
    return true;
}

bool lamp_rule_read(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                    const struct lamp_book *book, struct lamp_finding_rule *out)
{
    enum { WHEN, SUSPECT, CHECK, CAUTION, COUNT };
    static const struct lamp_field known[COUNT + 1] = {
        {"when", true}, {"suspect", true}, {"check", false}, {"caution", false}, {NULL, false}};
    const struct lamp_yaml_node *value[COUNT];
    out->line = node->line;
    return lamp_field_sort(fields, node, "a finding", known, value) &&
           read_conditions(fields, value[WHEN], book, out) &&
           lamp_field_strings(fields, value[SUSPECT], "suspect", &out->suspect) &&
           lamp_field_strings(fields, value[CHECK], "check", &out->check) &&
           lamp_field_strings(fields, value[CAUTION], "caution", &out->caution);
}
