/* arena.c - Memory that is freed all at once, with a ceiling. */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK_BYTES = 16 * 1024, ALIGN = alignof(max_align_t) };

struct lamp_arena_chunk {
    struct lamp_arena_chunk *older;
    size_t size;
    max_align_t first[];
};

static struct lamp_arena_chunk *add_chunk(struct lamp_arena *arena, size_t size)
{
    if (size > arena->ceiling - arena->total) {
        return NULL;
    }
    struct lamp_arena_chunk *chunk = calloc(1, sizeof *chunk + size);
    if (chunk == NULL) {
        return NULL;
    }
    chunk->size = size;
    chunk->older = arena->newest;
    arena->newest = chunk;
    arena->total += size;
    arena->used = 0;
    return chunk;
}

void *lamp_arena_take(struct lamp_arena *arena, size_t size)
{
    if (size > arena->ceiling) {
        return NULL;
    }
    size_t wanted = (size + ALIGN - 1) / ALIGN * ALIGN;
    struct lamp_arena_chunk *chunk = arena->newest;
    if (chunk == NULL || wanted > chunk->size - arena->used) {
        chunk = add_chunk(arena, wanted > CHUNK_BYTES ? wanted : CHUNK_BYTES);
    }
    if (chunk == NULL) {
        return NULL;
    }
    void *taken = (char *)chunk->first + arena->used;
    arena->used += wanted;
    return taken;
}

void *lamp_arena_take_row(struct lamp_arena *arena, size_t count, size_t size)
{
    return count > SIZE_MAX / size ? NULL : lamp_arena_take(arena, count * size);
}

char *lamp_arena_copy(struct lamp_arena *arena, const char *text, size_t size)
{
    char *copy = lamp_arena_take(arena, size + 1);
    if (copy != NULL) {
        memcpy(copy, text, size);
    }
    return copy;
}

void lamp_arena_fini(struct lamp_arena *arena)
{
    while (arena->newest != NULL) {
        struct lamp_arena_chunk *older = arena->newest->older;
        free(arena->newest);
        arena->newest = older;
    }
    arena->used = 0;
    arena->total = 0;
}
