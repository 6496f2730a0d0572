/* wrap.c - The memory functions that the linker puts in place of the library's. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "alloc/alloc.h"

/* The names are those that the linker's --wrap wants. */
void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t size);
void __real_free(void *block);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t size);
void __wrap_free(void *block);

static struct {
    bool is_on;
    enum alloc_mode mode;
    long left; /* requests until one fails; below 0: it did */
    bool has_failed;
    long held;
} memory;

void alloc_begin(enum alloc_mode mode, long nth)
{
    memory.is_on = nth > 0;
    memory.mode = mode;
    memory.left = nth;
    memory.has_failed = false;
    memory.held = 0;
    /* The writer of JSON tries a text a second time, so that one failure alone need not be told. */
    bool is_with_json = mode == ALLOC_ALL;
    json_set_alloc_funcs(is_with_json ? __wrap_malloc : __real_malloc,
                         is_with_json ? __wrap_free : __real_free);
}

bool alloc_end(void)
{
    memory.is_on = false;
    return memory.has_failed;
}

long alloc_held(void)
{
    return memory.held;
}

static bool fails(void)
{
    if (!memory.is_on) {
        return false;
    }
    memory.left--;
    bool is_due = memory.left == 0 || (memory.mode == ALLOC_ALL && memory.left < 0);
    memory.has_failed = memory.has_failed || is_due;
    return is_due;
}

static void *count(void *block)
{
    memory.held += block != NULL;
    return block;
}

void *__wrap_malloc(size_t size)
{
    return fails() ? NULL : count(__real_malloc(size));
}

void *__wrap_calloc(size_t number, size_t size)
{
    return fails() ? NULL : count(__real_calloc(number, size));
}

void *__wrap_realloc(void *block, size_t size)
{
    if (fails()) {
        return NULL;
    }
    void *grown = __real_realloc(block, size);
    return block == NULL ? count(grown) : grown;
}

char *__wrap_strdup(const char *text)
{
    return fails() ? NULL : count(__real_strdup(text));
}

char *__wrap_strndup(const char *text, size_t size)
{
    return fails() ? NULL : count(__real_strndup(text, size));
}

void __wrap_free(void *block)
{
    memory.held -= block != NULL;
    __real_free(block);
}
