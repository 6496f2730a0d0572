/* text.h - A string that grows; the first failure sticks and is asked for once, at the end. */
#ifndef LAMP_BASE_TEXT_H
#define LAMP_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/** Longest text, bytes. */
#define LAMP_TEXT_MAX (64 * 1024 * 1024)

/** A growing string; begin with all zero. */
struct lamp_text {
    char *at;      /**< Zero-terminated once anything was added; freed by lamp_text_fini. */
    size_t length; /**< Bytes without the closing zero. */
    size_t room;
    bool failed;   /**< Memory ran out or the ceiling was reached: the text is not whole. */
};

/** Add printf-style. */
void lamp_text_add(struct lamp_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** Free what the text holds. */
void lamp_text_fini(struct lamp_text *text);

/** The lower-case letter of an ASCII capital, any other byte as it is; the same in every locale. */
char lamp_text_lower(char byte);

/** Edit distance between two words, 0 if equal; used to name the nearest known word. */
size_t lamp_text_distance(const char *a, const char *b);

/** The word of `words` nearest to `word`, NULL if none is near enough to be meant. */
const char *lamp_text_nearest(const char *word, const char *const *words, size_t count);

#endif
