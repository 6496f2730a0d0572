/* notes.h - What a source has to warn of, in words; a note whose counts grow is said again in its
 * place. */
#ifndef LAMP_SOURCE_NOTES_H
#define LAMP_SOURCE_NOTES_H

#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** Warnings in the order they first came up; begin with all zero. */
struct lamp_notes {
    size_t count;
    uint64_t lost_count; /**< Notes that came when all places were taken. */
    int key[LAMP_SOURCE_WARNINGS_MAX];
    char text[LAMP_SOURCE_WARNINGS_MAX][LAMP_SENTENCE_MAX];
};

/** Say the note `key` printf-style, in the place of an earlier one with the same key. */
void lamp_notes_say(struct lamp_notes *notes, int key, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** The `index`-th note, NULL when there are no more. */
const char *lamp_notes_at(const struct lamp_notes *notes, size_t index);

/** Longest word that is shown, bytes with the closing zero. */
#define LAMP_WORD_SHOWN_MAX 44

/** A word as it may be shown to a person: printable ASCII, shortened. @return `out`. */
const char *lamp_word_shown(const char *word, char out[LAMP_WORD_SHOWN_MAX]);

#endif
