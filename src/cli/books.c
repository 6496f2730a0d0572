/* books.c - The codebooks that a command was told to use, or all that can be found. */
#include "cli/books.h"

#include <stdlib.h>
#include <string.h>

#include "base/fail.h"

/* Two books of one id would tell each code twice. */
static bool has_id(const struct books *books, const char *id)
{
    for (size_t i = 0; i < books->count; i++) {
        if (strcmp(books->at[i]->id, id) == 0) {
            return true;
        }
    }
    return false;
}

static enum lamp_err open_one(struct books *books, const char *name, struct lamp_error *error)
{
    struct lamp_book *book = NULL;
    enum lamp_err failed = lamp_book_find(name, &book, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    if (has_id(books, book->id)) {
        failed =
            lamp_fail(error, LAMP_BAD_USE, name, "the codebook '%s' was given twice", book->id);
        lamp_book_free(book);
        return failed;
    }
    books->at[books->count++] = book;
    return LAMP_OK;
}

enum lamp_err books_open(struct books *books, const struct arguments *arguments,
                         struct lamp_error *error)
{
    size_t wanted = options_count(arguments, "book");
    if (wanted == 0) {
        return LAMP_OK;
    }
    struct books opened = {.at = calloc(wanted, sizeof(struct lamp_book *))};
    if (opened.at == NULL) {
        return lamp_fail_memory(error);
    }
    for (size_t i = 0; i < wanted; i++) {
        enum lamp_err failed = open_one(&opened, options_each(arguments, "book", i), error);
        if (failed != LAMP_OK) {
            books_close(&opened);
            return failed;
        }
    }
    *books = opened;
    return LAMP_OK;
}

void books_close(struct books *books)
{
    for (size_t i = 0; i < books->count; i++) {
        lamp_book_free(books->at[i]);
    }
    free(books->at);
    *books = (struct books){0};
}
