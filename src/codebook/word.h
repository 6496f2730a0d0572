/* word.h - Text written as YAML that every reader takes for the same text. */
#ifndef LAMP_CODEBOOK_WORD_H
#define LAMP_CODEBOOK_WORD_H

#include "base/text.h"
#include "lampread/error.h"

/** Add `word` as a YAML scalar, in quotes unless every reader takes it for text without, also
 * between brackets. */
void lamp_word_write(const char *word, struct lamp_text *out);

/**
 * Check that a text of the user can stand in a book.
 * @param what  names it in the sentence. @return LAMP_OK, LAMP_BAD_USE.
 */
enum lamp_err lamp_word_check(const char *word, const char *what, struct lamp_error *error);

/** As lamp_word_check for an id: lower-case letters, digits and hyphens. */
enum lamp_err lamp_word_check_id(const char *word, const char *what, struct lamp_error *error);

#endif
