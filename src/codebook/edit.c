/* edit.c - Changes to the text of a book that leave every other byte of it as it is. */
#include "codebook/edit.h"

#include <string.h>

void lamp_edit_fail(struct lamp_edit *edit, bool has_failed, enum lamp_err err)
{
    edit->err = has_failed && edit->err == LAMP_OK ? err : edit->err;
}

void lamp_edit_put(struct lamp_edit *edit, size_t at, size_t gone, const char *text)
{
    if (edit->count == LAMP_EDIT_CHANGES_MAX || at + gone > edit->size) {
        lamp_edit_fail(edit, true, LAMP_BAD_USE);
        return;
    }
    size_t place = edit->count++;
    for (; place > 0 && edit->change[place - 1].at > at; place--) {
        edit->change[place] = edit->change[place - 1];
    }
    edit->change[place] = (struct lamp_change){.at = at, .gone = gone};
    lamp_text_add(&edit->change[place].put, "%s", text);
    lamp_edit_fail(edit, edit->change[place].put.failed, LAMP_NO_MEMORY);
}

/* The beginning of the next line, or the end of the text. */
static size_t line_after(const struct lamp_edit *edit, size_t at)
{
    const char *found = at < edit->size ? memchr(edit->text + at, '\n', edit->size - at) : NULL;
    return found != NULL ? (size_t)(found - edit->text) + 1 : edit->size;
}

/* A text over several lines may end with its line. */
static size_t line_behind(const struct lamp_edit *edit, size_t end)
{
    return end > 0 && edit->text[end - 1] == '\n' ? end : line_after(edit, end);
}

/* Where the last line of the text does not end, lines are put behind it so that the new last one
 * does not either. */
static void put_lines_at(struct lamp_edit *edit, size_t at, const char *lines)
{
    bool is_open = at == edit->size && at > 0 && edit->text[at - 1] != '\n';
    struct lamp_text turned = {0};
    size_t length = strlen(lines);
    lamp_text_add(&turned, is_open ? "\n%.*s" : "%.*s", (int)(length - is_open), lines);
    lamp_edit_fail(edit, turned.failed, LAMP_NO_MEMORY);
    lamp_edit_put(edit, at, 0, turned.failed ? "" : turned.at);
    lamp_text_fini(&turned);
}

void lamp_edit_put_lines(struct lamp_edit *edit, size_t end, const char *lines)
{
    put_lines_at(edit, line_behind(edit, end), lines);
}

/* Whether a line holds nothing but a comment, indented by more than `indent`. */
static bool is_comment_below(const struct lamp_edit *edit, size_t at, int indent)
{
    size_t first = at;
    while (first < edit->size && edit->text[first] == ' ') {
        first++;
    }
    return first < edit->size && edit->text[first] == '#' && first - at > (size_t)indent;
}

void lamp_edit_put_lines_behind_comments(struct lamp_edit *edit, size_t end, int indent,
                                         const char *lines)
{
    size_t at = line_behind(edit, end);
    while (at < edit->size && is_comment_below(edit, at, indent)) {
        at = line_after(edit, at);
    }
    put_lines_at(edit, at, lines);
}

const struct lamp_yaml_node *lamp_edit_value(const struct lamp_yaml_node *map, const char *key)
{
    for (size_t i = 0; map != NULL && map->kind == LAMP_YAML_MAP && i < map->count; i++) {
        if (strcmp(map->child[2 * i]->text, key) == 0) {
            return map->child[2 * i + 1];
        }
    }
    return NULL;
}

static void add_key(struct lamp_edit *edit, const struct lamp_yaml_node *map, const char *key,
                    const char *text)
{
    struct lamp_text line = {0};
    int indent = !map->is_flow && map->count > 0 ? map->child[0]->column - 1 : 0;
    if (map->is_flow) {
        bool is_first = map->count == 0;
        lamp_text_add(&line, is_first ? "%s: %s" : ", %s: %s", key, text);
        size_t at = is_first ? map->begin + 1 : map->child[2 * map->count - 1]->end;
        /* The last value may be an alias. */
        lamp_edit_fail(edit, at <= map->begin || at > map->end, LAMP_BAD_USE);
        lamp_edit_put(edit, at, 0, line.failed ? "" : line.at);
    } else {
        lamp_text_add(&line, "%*s%s: %s\n", indent, "", key, text);
        lamp_edit_put_lines(edit, map->end, line.failed ? "\n" : line.at);
    }
    lamp_edit_fail(edit, line.failed, LAMP_NO_MEMORY);
    lamp_text_fini(&line);
}

void lamp_edit_set(struct lamp_edit *edit, const struct lamp_yaml_node *map, const char *key,
                   const char *text)
{
    const struct lamp_yaml_node *value = lamp_edit_value(map, key);
    if (value == NULL) {
        add_key(edit, map, key, text);
        return;
    }
    bool is_here = value->begin > map->begin && value->end <= map->end;
    if (!is_here) {
        lamp_edit_fail(edit, true, LAMP_BAD_USE);
        return;
    }
    lamp_edit_put(edit, value->begin, value->end - value->begin, text);
}

/* Add `text` with line ends of the file's kind. */
static void add_lines(const char *text, bool has_returns, struct lamp_text *out)
{
    while (*text != '\0') {
        size_t length = strcspn(text, "\n");
        bool ends = text[length] == '\n';
        lamp_text_add(out, "%.*s%s", (int)length, text, !ends ? "" : has_returns ? "\r\n" : "\n");
        text += length + ends;
    }
}

enum lamp_err lamp_edit_apply(const struct lamp_edit *edit, struct lamp_text *out)
{
    const char *line_end = memchr(edit->text, '\n', edit->size);
    bool has_returns = line_end != NULL && line_end > edit->text && line_end[-1] == '\r';
    size_t done = 0;
    for (size_t i = 0; i < edit->count && edit->err == LAMP_OK; i++) {
        const struct lamp_change *change = &edit->change[i];
        if (change->at < done) {
            return LAMP_BAD_USE;
        }
        lamp_text_add(out, "%.*s", (int)(change->at - done), edit->text + done);
        add_lines(change->put.at, has_returns, out);
        done = change->at + change->gone;
    }
    lamp_text_add(out, "%.*s", (int)(edit->size - done), edit->text + done);
    return edit->err == LAMP_OK && out->failed ? LAMP_NO_MEMORY : edit->err;
}

void lamp_edit_fini(struct lamp_edit *edit)
{
    for (size_t i = 0; i < edit->count; i++) {
        lamp_text_fini(&edit->change[i].put);
    }
    edit->count = 0;
}
