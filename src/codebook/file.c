/* file.c - A codebook read from its file; whatever is wrong is refused at file:line:column. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "codebook/entry.h"
#include "codebook/field.h"
#include "codebook/plain.h"
#include "codebook/rule.h"
#include "lampread/codebook.h"

/* Memory of one book and of the tree it is read from. */
#define ARENA_BYTES_MAX ((size_t)128 * 1024 * 1024)

#define TOLERANCE_DEFAULT 0.25

/* A book beside the memory that everything in it lives in. */
struct shelf {
    struct lamp_book book;
    struct lamp_arena arena;
};

static bool read_findings(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                          struct lamp_book *book)
{
    if (node == NULL) {
        return true;
    }
    if (!lamp_field_is(fields, node, LAMP_YAML_LIST, "'findings'", LAMP_BOOK_FINDINGS_MAX)) {
        return false;
    }
    struct lamp_finding_rule *finding = lamp_field_row(fields, node->count, sizeof *finding);
    if (finding == NULL) {
        return false;
    }
    for (size_t i = 0; i < node->count; i++) {
        if (!lamp_rule_read(fields, node->child[i], book, &finding[i])) {
            return false;
        }
    }
    book->finding = finding;
    book->finding_count = node->count;
    return true;
}

static bool read_book(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                      struct lamp_book *book)
{
    enum { BOOK, BOARD, SOURCE, LAMPS, TIMINGS, CODES, FINDINGS, COUNT };
    static const struct lamp_field known[COUNT + 1] = {
        {"book", true},    {"board", true}, {"source", true},    {"lamps", false},
        {"timing", false}, {"codes", true}, {"findings", false}, {NULL, false}};
    const struct lamp_yaml_node *value[COUNT];
    book->tolerance = TOLERANCE_DEFAULT;
    return lamp_field_sort(fields, node, "a book", known, value) &&
           lamp_field_id(fields, value[BOOK], "a book's id", &book->id) &&
           lamp_field_text(fields, value[BOARD], "board", &book->board) &&
           lamp_field_text(fields, value[SOURCE], "source", &book->source) &&
           lamp_entry_read_lamps(fields, value[LAMPS], book) &&
           (value[TIMINGS] == NULL ||
            lamp_entry_read_timing(fields, value[TIMINGS], &book->timing, &book->tolerance)) &&
           lamp_entry_read_codes(fields, value[CODES], book) &&
           read_findings(fields, value[FINDINGS], book);
}

/* Fill an empty shelf from checked text. */
static enum lamp_err fill_shelf(struct shelf *shelf, const struct lamp_yaml_source *source,
                                struct lamp_error *error)
{
    struct lamp_arena tree = {.ceiling = ARENA_BYTES_MAX};
    const struct lamp_yaml_node *node = NULL;
    struct lamp_fields fields = {source->name, &shelf->arena, error, LAMP_OK};
    enum lamp_err err = lamp_yaml_read(source, &tree, &node, error);
    if (err == LAMP_OK) {
        shelf->book.file = lamp_arena_copy(&shelf->arena, source->name, strlen(source->name));
        err = shelf->book.file == NULL ? lamp_fail_memory(error) : LAMP_OK;
    }
    if (err == LAMP_OK && !read_book(&fields, node, &shelf->book)) {
        err = fields.err;
    }
    lamp_arena_fini(&tree);
    return err;
}

enum lamp_err lamp_book_parse(const char *text, size_t size, const char *name,
                              struct lamp_book **out, struct lamp_error *error)
{
    static const char mark[] = "\xef\xbb\xbf";
    if (size > (size_t)LAMP_BOOK_BYTES_MAX) {
        return lamp_fail(error, LAMP_BAD_BOOK, name,
                         "the file is larger than %d bytes, expected a codebook",
                         LAMP_BOOK_BYTES_MAX);
    }
    size_t skip = size >= 3 && memcmp(text, mark, 3) == 0 ? 3 : 0;
    struct lamp_yaml_source source = {text + skip, size - skip, name};
    enum lamp_err err = lamp_plain_check(&source, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct shelf *shelf = calloc(1, sizeof *shelf);
    if (shelf == NULL) {
        return lamp_fail_memory(error);
    }
    shelf->arena.ceiling = ARENA_BYTES_MAX;
    err = fill_shelf(shelf, &source, error);
    if (err != LAMP_OK) {
        lamp_book_free(&shelf->book);
        return err;
    }
    *out = &shelf->book;
    return LAMP_OK;
}

/* Why a file cannot be read, in the same words in every locale. */
static const char *reason_of(int number)
{
    switch (number) {
    case ENOENT: return "there is no such file";
    case ENOTDIR: return "there is no such folder";
    case EACCES: return "reading it is not permitted";
    case EISDIR: return "it is a folder";
    default: return "it cannot be read";
    }
}

enum lamp_err lamp_book_open(const char *path, struct lamp_book **out, struct lamp_error *error)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        return lamp_fail(error, LAMP_BAD_BOOK, path, "%s, expected a codebook", reason_of(errno));
    }
    enum lamp_err err = LAMP_OK;
    char *text = malloc((size_t)LAMP_BOOK_BYTES_MAX + 1);
    size_t size = 0;
    if (text == NULL) {
        err = lamp_fail_memory(error);
        goto done;
    }
    errno = 0;
    size = fread(text, 1, (size_t)LAMP_BOOK_BYTES_MAX + 1, file);
    if (ferror(file) != 0) {
        err = lamp_fail(error, LAMP_BAD_BOOK, path, "%s, expected a codebook", reason_of(errno));
        goto done;
    }
    err = lamp_book_parse(text, size, path, out, error);
done:
    free(text);
    (void)fclose(file);
    return err;
}

void lamp_book_free(struct lamp_book *book)
{
    if (book == NULL) {
        return;
    }
    /* The arena must leave the shelf before the memory it is in goes. */
    struct shelf *shelf = (struct shelf *)(void *)book;
    lamp_arena_fini(&shelf->arena);
    free(shelf);
}
