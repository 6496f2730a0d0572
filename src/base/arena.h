/* arena.h - Memory that is freed all at once, with a ceiling. */
#ifndef LAMP_BASE_ARENA_H
#define LAMP_BASE_ARENA_H

#include <stddef.h>

struct lamp_arena_chunk;

/** Memory for many small things that live equally long; begin with all zero but the ceiling. */
struct lamp_arena {
    struct lamp_arena_chunk *newest;
    size_t used;    /**< Bytes of the newest chunk that are taken. */
    size_t total;   /**< Bytes of all chunks. */
    size_t ceiling; /**< Most bytes of all chunks. */
};

/** `size` zeroed bytes, aligned for anything, until the arena is freed; NULL if memory or the
 * ceiling ran out. */
void *lamp_arena_take(struct lamp_arena *arena, size_t size);

/** Zeroed room for `count` items of `size` bytes, as lamp_arena_take. */
void *lamp_arena_take_row(struct lamp_arena *arena, size_t count, size_t size);

/** A copy of `size` bytes of text with a closing zero, as lamp_arena_take. */
char *lamp_arena_copy(struct lamp_arena *arena, const char *text, size_t size);

/** Free everything that was taken. */
void lamp_arena_fini(struct lamp_arena *arena);

#endif
