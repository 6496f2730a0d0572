/* file.c - A codebook read from its file; whatever is wrong is refused at file:line:column. */
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "codebook/entry.h"
#include "codebook/field.h"
#include "codebook/plain.h"
#include "codebook/rule.h"
#include "lampread/teach.h"

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
        if (!lamp_rule_read(fields, node->child[i], book, &finding[i]) &&
            !lamp_field_goes_on(fields)) {
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
    if (!lamp_field_sort(fields, node, "a book", known, value)) {
        return false;
    }
    /* All are read, so that all faults can be told. */
    bool is_good = lamp_field_id(fields, value[BOOK], "a book's id", &book->id);
    is_good = lamp_field_text(fields, value[BOARD], "board", &book->board) && is_good;
    is_good = lamp_field_text(fields, value[SOURCE], "source", &book->source) && is_good;
    is_good = lamp_entry_read_lamps(fields, value[LAMPS], book) && is_good;
    fields->is_timing_doubtful =
        value[TIMINGS] != NULL &&
        !lamp_entry_read_timing(fields, value[TIMINGS], &book->timing, &book->tolerance);
    is_good = lamp_entry_read_codes(fields, value[CODES], book) && is_good;
    /* Findings name codes: without a list of those they cannot be blamed. */
    bool has_codes = book->code != NULL;
    return has_codes && read_findings(fields, value[FINDINGS], book) && is_good &&
           !fields->is_timing_doubtful;
}

/* Fill an empty shelf from checked text; with `faults`, all of them are told. */
static enum lamp_err fill_shelf(struct shelf *shelf, const struct lamp_yaml_source *source,
                                struct lamp_faults *faults, struct lamp_error *error)
{
    struct lamp_arena tree = {.ceiling = ARENA_BYTES_MAX};
    const struct lamp_yaml_node *node = NULL;
    struct lamp_fields fields = {source->name, &shelf->arena, error, LAMP_OK, faults, false};
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

static enum lamp_err parse(const struct lamp_yaml_source *all, struct lamp_book **out,
                           struct lamp_faults *faults, struct lamp_error *error)
{
    static const char mark[] = "\xef\xbb\xbf";
    if (all->size > (size_t)LAMP_BOOK_BYTES_MAX) {
        return lamp_fail(error, LAMP_BAD_BOOK, all->name,
                         "the file is larger than %d bytes, expected a codebook",
                         LAMP_BOOK_BYTES_MAX);
    }
    size_t skip = all->size >= 3 && memcmp(all->text, mark, 3) == 0 ? 3 : 0;
    struct lamp_yaml_source source = {all->text + skip, all->size - skip, all->name};
    enum lamp_err err = lamp_plain_check(&source, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct shelf *shelf = calloc(1, sizeof *shelf);
    if (shelf == NULL) {
        return lamp_fail_memory(error);
    }
    shelf->arena.ceiling = ARENA_BYTES_MAX;
    err = fill_shelf(shelf, &source, faults, error);
    if (err != LAMP_OK) {
        lamp_book_free(&shelf->book);
        return err;
    }
    *out = &shelf->book;
    return LAMP_OK;
}

enum lamp_err lamp_book_parse(const char *text, size_t size, const char *name,
                              struct lamp_book **out, struct lamp_error *error)
{
    struct lamp_yaml_source source = {text, size, name};
    return parse(&source, out, NULL, error);
}

enum lamp_err lamp_book_open(const char *path, struct lamp_book **out, struct lamp_error *error)
{
    char *text = NULL;
    size_t size = 0;
    enum lamp_err err = lamp_book_load(path, &text, &size, error);
    if (err == LAMP_OK) {
        err = lamp_book_parse(text, size, path, out, error);
    }
    free(text);
    return err;
}

/* What is refused before any value is looked at is the only fault that can be told. */
static void keep_only(struct lamp_faults *faults, enum lamp_err err, const struct lamp_error *error)
{
    if (err == LAMP_BAD_BOOK && faults->count == 0) {
        faults->at[faults->count++] = *error;
    }
}

enum lamp_err lamp_book_faults(const char *path, struct lamp_error fault[LAMP_FAULTS_MAX],
                               size_t *count, struct lamp_error *error)
{
    struct lamp_error first = {.place = "", .sentence = ""};
    struct lamp_yaml_source source = {.name = path};
    struct lamp_faults faults = {fault, 0};
    struct lamp_book *book = NULL;
    char *text = NULL;
    enum lamp_err err = lamp_book_load(path, &text, &source.size, &first);
    if (err == LAMP_OK) {
        source.text = text;
        err = parse(&source, &book, &faults, &first);
    }
    keep_only(&faults, err, &first);
    lamp_book_free(book);
    free(text);
    *count = faults.count;
    if (err != LAMP_OK && error != NULL) {
        *error = first;
    }
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
