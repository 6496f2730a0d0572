/* acc_pool.h - Books to read with, and all that their lamps can play. */
#ifndef LAMP_TESTS_ACC_POOL_H
#define LAMP_TESTS_ACC_POOL_H

#include <stddef.h>

#include "lampread/codebook.h"
#include "lampread/render.h"

/** Most books in one pool, and most entries. */
#define ACC_BOOKS_MAX   16
#define ACC_ENTRIES_MAX 256

/** One entry, and the lamp that plays it. */
struct acc_entry {
    const struct lamp_book *book;
    const struct lamp_code *code;
    enum lamp_colour colour; /**< Of its lamp; green where the book does not say. */
};

/** Books and their entries. */
struct acc_pool {
    struct lamp_book *book[ACC_BOOKS_MAX];
    size_t book_count;
    struct acc_entry entry[ACC_ENTRIES_MAX];
    size_t count;
};

/** Open `count` shipped books by name; what cannot be read ends the program with a line. */
void acc_pool_open(struct acc_pool *pool, const char *const *names, size_t count);

/** The entry `id` of the book `book`; NULL if there is none. */
const struct acc_entry *acc_pool_find(const struct acc_pool *pool, const char *book,
                                      const char *id);

/** What a lamp does that plays `entry`; lengths as the book has them. */
struct lamp_script_rules acc_entry_script(const struct acc_entry *entry);

/** Length of one cycle of `code`, ns; 0 where it has none. */
int64_t acc_cycle_ns(const struct lamp_code *code);

void acc_pool_close(struct acc_pool *pool);

#endif
