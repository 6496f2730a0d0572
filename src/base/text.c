/* text.c - A string that grows; the first failure sticks and is asked for once, at the end. */
#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool make_room(struct lamp_text *text, size_t more)
{
    size_t wanted = text->length + more + 1;
    if (wanted <= text->room) {
        return true;
    }
    size_t room = text->room < 64 ? 64 : text->room;
    while (room < wanted) {
        room *= 2;
    }
    char *grown = room > (size_t)LAMP_TEXT_MAX ? NULL : realloc(text->at, room);
    if (grown == NULL) {
        text->failed = true;
        return false;
    }
    text->at = grown;
    text->room = room;
    return true;
}

void lamp_text_add(struct lamp_text *text, const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    int more = vsnprintf(NULL, 0, format, rest);
    va_end(rest);
    if (more < 0 || text->failed || !make_room(text, (size_t)more)) {
        text->failed = true;
        return;
    }
    va_start(rest, format);
    (void)vsnprintf(text->at + text->length, (size_t)more + 1, format, rest);
    va_end(rest);
    text->length += (size_t)more;
}

void lamp_text_fini(struct lamp_text *text)
{
    free(text->at);
    *text = (struct lamp_text){0};
}

char lamp_text_lower(char byte)
{
    static const char capitals[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    const char *found = byte == '\0' ? NULL : strchr(capitals, byte);
    if (found == NULL) {
        return byte;
    }
    return "abcdefghijklmnopqrstuvwxyz"[found - capitals];
}

/* Levenshtein's distance over one row; words longer than the row are called far apart. */
size_t lamp_text_distance(const char *a, const char *b)
{
    enum { ROW = 64 };
    size_t row[ROW];
    size_t length_b = strlen(b);
    if (length_b >= ROW || strlen(a) >= ROW) {
        return strcmp(a, b) == 0 ? 0 : ROW;
    }
    for (size_t j = 0; j <= length_b; j++) {
        row[j] = j;
    }
    for (size_t i = 0; a[i] != '\0'; i++) {
        size_t diagonal = row[0];
        row[0] = i + 1;
        for (size_t j = 0; j < length_b; j++) {
            size_t best = diagonal + (a[i] != b[j]);
            diagonal = row[j + 1];
            best = row[j] + 1 < best ? row[j] + 1 : best;
            row[j + 1] = diagonal + 1 < best ? diagonal + 1 : best;
        }
    }
    return row[length_b];
}

const char *lamp_text_nearest(const char *word, const char *const *words, size_t count)
{
    const char *nearest = NULL;
    size_t least = strlen(word) / 2 + 1;
    for (size_t i = 0; i < count; i++) {
        size_t distance = lamp_text_distance(word, words[i]);
        if (distance < least) {
            least = distance;
            nearest = words[i];
        }
    }
    return nearest;
}
