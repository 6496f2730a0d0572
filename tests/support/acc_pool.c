/* acc_pool.c - Books to read with, and all that their lamps can play. */
#include "support/acc_pool.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_read.h"

static enum lamp_colour colour_of(const struct lamp_book *book, const char *lamp)
{
    for (size_t i = 0; lamp != NULL && i < book->lamp_count; i++) {
        bool is_known = book->lamp[i].colour != LAMP_COLOUR_UNKNOWN;
        if (strcmp(book->lamp[i].name, lamp) == 0 && is_known) {
            return book->lamp[i].colour;
        }
    }
    return LAMP_COLOUR_GREEN;
}

static void take_entries(struct acc_pool *pool, const struct lamp_book *book)
{
    for (size_t i = 0; i < book->code_count && pool->count < ACC_ENTRIES_MAX; i++) {
        const struct lamp_code *code = &book->code[i];
        pool->entry[pool->count++] = (struct acc_entry){book, code, colour_of(book, code->lamp)};
    }
}

void acc_pool_open(struct acc_pool *pool, const char *const *names, size_t count)
{
    *pool = (struct acc_pool){.book_count = 0};
    for (size_t i = 0; i < count && i < ACC_BOOKS_MAX; i++) {
        char path[512];
        struct lamp_error error = {.place = ""};
        (void)snprintf(path, sizeof path, "%s/codebooks/%s.yaml", LAMP_PROJECT_DIR, names[i]);
        acc_must(lamp_book_open(path, &pool->book[i], &error), &error);
        pool->book_count++;
        take_entries(pool, pool->book[i]);
    }
}

const struct acc_entry *acc_pool_find(const struct acc_pool *pool, const char *book, const char *id)
{
    for (size_t i = 0; i < pool->count; i++) {
        const struct acc_entry *entry = &pool->entry[i];
        if (strcmp(entry->book->id, book) == 0 && strcmp(entry->code->id, id) == 0) {
            return entry;
        }
    }
    return NULL;
}

struct lamp_script_rules acc_entry_script(const struct acc_entry *entry)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    struct lamp_error error = {.place = ""};
    const struct lamp_code *code = entry->code;
    acc_must(lamp_script_rules_play(&code->pattern, &code->timing, &rules, &error), &error);
    return rules;
}

int64_t acc_cycle_ns(const struct lamp_code *code)
{
    int64_t sum_ns = 0;
    for (size_t i = 0; i < code->wave.count; i++) {
        sum_ns += code->wave.length_ns[i];
    }
    return sum_ns;
}

void acc_pool_close(struct acc_pool *pool)
{
    for (size_t i = 0; i < pool->book_count; i++) {
        lamp_book_free(pool->book[i]);
    }
    pool->book_count = 0;
}
