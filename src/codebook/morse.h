/* morse.h - The characters and procedure signals of ITU-R M.1677-1. */
#ifndef LAMP_CODEBOOK_MORSE_H
#define LAMP_CODEBOOK_MORSE_H

#include <stddef.h>

/** One character, or a procedure signal by its name in angle brackets. */
struct lamp_morse_sign {
    const char *name; /**< UTF-8, upper case: "A", "?", "<WAIT>". */
    const char *code; /**< Dots and dashes. */
};

/**
 * The sign that `text` begins with, in either case.
 * @param used  set to the bytes it takes; untouched if there is none. @return static, NULL if there
 * is none.
 */
const struct lamp_morse_sign *lamp_morse_find(const char *text, size_t *used);

/** The sign with this code, NULL if there is none; X for the code it shares with the multiplication
 * sign. */
const struct lamp_morse_sign *lamp_morse_of(const char *code);

#endif
