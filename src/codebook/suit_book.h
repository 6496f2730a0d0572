/* suit_book.h - A draft made to stand in a book: its words checked, its lengths beside the book's.
 */
#ifndef LAMP_CODEBOOK_SUIT_BOOK_H
#define LAMP_CODEBOOK_SUIT_BOOK_H

#include "lampread/teach.h"

/** Refuse texts that cannot stand in a book. @return LAMP_OK, LAMP_BAD_USE. */
enum lamp_err lamp_suit_words(const struct lamp_draft *draft, struct lamp_error *error);

/**
 * Name flashes as the book does; write lengths one by one where its own forbid notation.
 * @return LAMP_OK, LAMP_BAD_USE.
 */
enum lamp_err lamp_suit_book(struct lamp_draft *draft, const struct lamp_book *book,
                             struct lamp_error *error);

#endif
