/* books.h - The codebooks that a command was told to use, or all that can be found. */
#ifndef LAMP_CLI_BOOKS_H
#define LAMP_CLI_BOOKS_H

#include "cli/options.h"
#include "lampread/codebook.h"

/** Books owned together; begin with all zero. */
struct books {
    struct lamp_book **at;
    size_t count;
};

/** Open every --book that was given. @return LAMP_OK, LAMP_BAD_BOOK, LAMP_BAD_USE (one given
 * twice), LAMP_NO_MEMORY. */
enum lamp_err books_open(struct books *books, const struct arguments *arguments,
                         struct lamp_error *error);

/** Free the books. */
void books_close(struct books *books);

#endif
