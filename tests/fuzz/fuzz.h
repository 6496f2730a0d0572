/* fuzz.h - What every target shares: bytes handed out piece by piece, and what must hold whatever
 * they are. */
#ifndef LAMP_TESTS_FUZZ_H
#define LAMP_TESTS_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/source.h"

/** One input. A target gives 0, whatever the bytes; it aborts where something that must hold does
 * not. */
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

/** Abort with the place and the words of what does not hold. */
#define MUST(holds) ((holds) ? (void)0 : fuzz_fail(__FILE__, __LINE__, #holds))

static inline void fuzz_fail(const char *file, int line, const char *what)
{
    (void)fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, what);
    abort();
}

/** What is left of an input. */
struct bytes {
    const uint8_t *at;
    size_t left;
};

/** The next byte; 0 once all are taken. */
static inline uint8_t take_byte(struct bytes *bytes)
{
    if (bytes->left == 0) {
        return 0;
    }
    bytes->left--;
    return *bytes->at++;
}

/** The next `count` bytes as a number, the most significant first. */
static inline uint64_t take_number(struct bytes *bytes, int count)
{
    uint64_t number = 0;
    for (int i = 0; i < count; i++) {
        number = number << 8 | take_byte(bytes);
    }
    return number;
}

/** The bytes as text with a closing zero. @return freed by the caller. */
static inline char *text_of(const uint8_t *bytes, size_t size)
{
    char *text = malloc(size + 1);
    MUST(text != NULL);
    memcpy(text, bytes, size);
    text[size] = '\0';
    return text;
}

/** A refusal is one sentence on one line. */
static inline void must_be_told(const struct lamp_error *error)
{
    MUST(error->sentence[0] != '\0');
    MUST(strchr(error->sentence, '\n') == NULL && strchr(error->place, '\n') == NULL);
}

/** Open a file of these bytes, whose name ends with `ending`. @return NULL if it was refused, in
 * words. */
struct lamp_source *fuzz_open(const uint8_t *bytes, size_t size, const char *ending);

/** Take items until there are none or `most` were taken; what each must be, it is. @return how
 * many. */
size_t fuzz_read(struct lamp_source *source, size_t most);

#endif
