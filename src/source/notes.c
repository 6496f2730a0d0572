/* notes.c - What a source has to warn of, in words. */
#include "source/notes.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static size_t find_place(const struct lamp_notes *notes, int key)
{
    size_t at = 0;
    while (at < notes->count && notes->key[at] != key) {
        at++;
    }
    return at;
}

void lamp_notes_say(struct lamp_notes *notes, int key, const char *format, ...)
{
    size_t at = find_place(notes, key);
    if (at == LAMP_SOURCE_WARNINGS_MAX) {
        notes->lost_count++;
        return;
    }
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(notes->text[at], LAMP_SENTENCE_MAX, format, rest);
    va_end(rest);
    for (char *c = notes->text[at]; *c != '\0'; c++) {
        if ((unsigned char)*c < ' ' || *c == 0x7f) {
            *c = ' ';
        }
    }
    notes->key[at] = key;
    if (at == notes->count) {
        notes->count++;
    }
}

const char *lamp_notes_at(const struct lamp_notes *notes, size_t index)
{
    return index < notes->count ? notes->text[index] : NULL;
}

const char *lamp_word_shown(const char *word, char out[LAMP_WORD_SHOWN_MAX])
{
    size_t length = strlen(word);
    size_t shown = length < LAMP_WORD_SHOWN_MAX ? length : LAMP_WORD_SHOWN_MAX - 4;
    for (size_t i = 0; i < shown; i++) {
        out[i] = (char)(word[i] >= ' ' && word[i] < 0x7f ? word[i] : '?');
    }
    memcpy(out + shown, shown < length ? "..." : "", shown < length ? 4 : 1);
    return out;
}
