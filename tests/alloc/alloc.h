/* alloc.h - Memory that runs out when a test says so, for the code of the library and for the JSON
 * it writes.
 *
 * The linker turns malloc, calloc, realloc, strdup and strndup of the library into those of
 * wrap.c, which fail on demand and count what is not freed. What the C library and the media
 * libraries ask for is left alone.
 */
#ifndef LAMP_TESTS_ALLOC_H
#define LAMP_TESTS_ALLOC_H

#include <stdbool.h>

/** How memory runs out. */
enum alloc_mode {
    ALLOC_ONE, /**< One time only, so that what follows goes on with memory. */
    ALLOC_ALL  /**< From then on. */
};

/** From here on, the `nth` request fails (from 1; 0: none does), and what is held is counted. */
void alloc_begin(enum alloc_mode mode, long nth);

/** No more failures. @return whether there was one. */
bool alloc_end(void);

/** Blocks asked for since alloc_begin and not freed. */
long alloc_held(void);

#endif
