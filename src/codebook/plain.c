/* plain.c - Bytes that may stand in a codebook at all, before anything reads them as YAML. */
#include "codebook/plain.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/utf8.h"

/* A walk through the text; line and column from 1. */
struct walk {
    const char *text;
    size_t size;
    size_t at;
    int line;
    int column;
    bool in_indentation;
    size_t mark_count; /* Marks that begin or part values between braces and brackets. */
};

void lamp_yaml_place(const char *name, int line, int column, char out[LAMP_PLACE_MAX])
{
    enum { NAME_MAX_BYTES = LAMP_PLACE_MAX - 32 };
    size_t length = strlen(name);
    const char *tail = length > NAME_MAX_BYTES ? name + length - NAME_MAX_BYTES : name;
    while (tail > name && ((unsigned char)*tail & 0xc0) == 0x80) {
        tail++;
    }
    (void)snprintf(out, LAMP_PLACE_MAX, "%s%s:%d:%d", tail == name ? "" : "...", tail, line,
                   column);
}

static bool ends_line(const struct walk *walk)
{
    char now = walk->text[walk->at];
    bool is_pair = now == '\r' && walk->at + 1 < walk->size && walk->text[walk->at + 1] == '\n';
    return now == '\n' || (now == '\r' && !is_pair);
}

static void step(struct walk *walk, size_t used)
{
    bool ends = ends_line(walk);
    char now = walk->text[walk->at];
    walk->in_indentation = ends || (walk->in_indentation && (now == ' ' || now == '\r'));
    walk->column = ends ? 1 : walk->column + 1;
    walk->line += ends;
    walk->mark_count += now == '[' || now == '{' || now == ',';
    walk->at += used;
}

/* A tab that something other than a comment or the end of the line follows. */
static bool is_tab_in_indentation(const struct walk *walk)
{
    if (!walk->in_indentation || walk->text[walk->at] != '\t') {
        return false;
    }
    size_t at = walk->at;
    while (at < walk->size && (walk->text[at] == ' ' || walk->text[at] == '\t')) {
        at++;
    }
    return at < walk->size && walk->text[at] != '#' && walk->text[at] != '\n' &&
           walk->text[at] != '\r';
}

static const char *fault_of(const struct walk *walk, size_t used, uint32_t character)
{
    if (used == 0) {
        return "this is not UTF-8, expected text in UTF-8";
    }
    if (is_tab_in_indentation(walk)) {
        return "a tab stands in the indentation, expected spaces";
    }
    /* The YAML reader looks ahead over all that stands between brackets: its memory is bounded
     * here. */
    if (walk->mark_count > LAMP_YAML_NODES_MAX) {
        return "the file holds too many values, expected at most 262144";
    }
    bool is_blank = character == '\t' || character == '\n' || character == '\r';
    return lamp_utf8_is_control(character) && !is_blank
               ? "a control character stands here, expected plain text"
               : NULL;
}

enum lamp_err lamp_plain_check(const struct lamp_yaml_source *source, struct lamp_error *error)
{
    struct walk walk = {
        .text = source->text, .size = source->size, .line = 1, .column = 1, .in_indentation = true};
    while (walk.at < source->size) {
        uint32_t character = 0;
        size_t used = lamp_utf8_read(source->text + walk.at, source->size - walk.at, &character);
        const char *fault = fault_of(&walk, used, character);
        if (fault != NULL) {
            char place[LAMP_PLACE_MAX];
            lamp_yaml_place(source->name, walk.line, walk.column, place);
            return lamp_fail(error, LAMP_BAD_BOOK, place, "%s", fault);
        }
        step(&walk, used);
    }
    return LAMP_OK;
}
