/* add.c - A draft taken into the text of a book: a new entry, or an old one with better lengths. */
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/text.h"
#include "codebook/clash.h"
#include "codebook/edit.h"
#include "codebook/refine.h"
#include "codebook/same.h"
#include "codebook/suit_book.h"
#include "codebook/word.h"
#include "codebook/write.h"

/* Memory of the tree that a text is edited by. */
#define TREE_BYTES_MAX ((size_t)128 * 1024 * 1024)

/* Bytes before the text that is edited: a byte order mark. */
static size_t mark_of(const char *text, size_t size)
{
    return size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
}

/* A draft on its way into a book. */
struct taking {
    const struct lamp_book *book;
    const struct lamp_yaml_node *root;
    struct lamp_edit edit;
    struct lamp_draft draft;
    struct lamp_error *error;
};

static const struct lamp_code *code_called(const struct lamp_book *book, const char *id)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
    }
    return NULL;
}

static bool names_lamp(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

/* Where the value before 'codes' ends, 0 where there is none. */
static size_t end_before_codes(const struct lamp_yaml_node *root)
{
    size_t end = 0;
    for (size_t i = 0; i < root->count && strcmp(root->child[2 * i]->text, "codes") != 0; i++) {
        end = root->child[2 * i + 1]->end;
    }
    return end;
}

/* Name the lamp of the draft in the book. */
static void add_lamp(struct taking *taking)
{
    const struct lamp_yaml_node *lamps = lamp_edit_value(taking->root, "lamps");
    const char *colour = lamp_colour_name(taking->draft.colour);
    struct lamp_text name = {0};
    struct lamp_text value = {0};
    lamp_word_write(taking->draft.lamp, &name);
    lamp_text_add(&value, colour != NULL ? "{colour: %s}" : "{}", colour);
    lamp_edit_fail(&taking->edit, name.failed || value.failed, LAMP_NO_MEMORY);
    if (taking->edit.err == LAMP_OK && lamps != NULL) {
        lamp_edit_set(&taking->edit, lamps, name.at, value.at);
    } else if (taking->edit.err == LAMP_OK) {
        struct lamp_text all = {0};
        bool is_flow = taking->root->is_flow;
        lamp_text_add(&all, is_flow ? "{%s: %s}" : "lamps:\n  %s: %s\n", name.at, value.at);
        lamp_edit_fail(&taking->edit, all.failed, LAMP_NO_MEMORY);
        if (!all.failed && is_flow) {
            lamp_edit_set(&taking->edit, taking->root, "lamps", all.at);
        } else if (!all.failed) {
            lamp_edit_put_lines(&taking->edit, end_before_codes(taking->root), all.at);
        }
        lamp_text_fini(&all);
    }
    lamp_text_fini(&name);
    lamp_text_fini(&value);
}

/* Between brackets: behind the last item, or in place of what an empty list holds. */
static void put_flow(struct taking *taking, const struct lamp_yaml_node *codes)
{
    struct lamp_text item = {0};
    lamp_text_add(&item, "%s", codes->count > 0 ? ", " : "");
    lamp_write_flow(&taking->draft, &item);
    size_t at = codes->count > 0 ? codes->child[codes->count - 1]->end : codes->begin + 1;
    lamp_edit_fail(&taking->edit, item.failed, LAMP_NO_MEMORY);
    lamp_edit_fail(&taking->edit, at <= codes->begin || at > codes->end, LAMP_BAD_USE);
    lamp_edit_put(&taking->edit, at, 0, item.failed ? "" : item.at);
    lamp_text_fini(&item);
}

/* In lines of its own; the brackets of an empty list go. */
static void put_block(struct taking *taking, const struct lamp_yaml_node *codes)
{
    enum { INDENT = 2 };
    struct lamp_edit *edit = &taking->edit;
    struct lamp_text item = {0};
    int indent = codes->is_flow ? INDENT : codes->column - 1;
    lamp_write_block(&taking->draft, indent, &item);
    lamp_edit_fail(edit, item.failed, LAMP_NO_MEMORY);
    if (codes->is_flow && !item.failed) {
        size_t begin = codes->begin;
        while (begin > 0 && edit->text[begin - 1] == ' ') {
            begin--;
        }
        lamp_edit_put(edit, begin, codes->end - begin, "");
        lamp_edit_put_lines(edit, codes->end, item.at);
    } else if (!item.failed) {
        lamp_edit_put_lines_behind_comments(edit, codes->end, indent, item.at);
    }
    lamp_text_fini(&item);
}

static enum lamp_err add_entry(struct taking *taking)
{
    const struct lamp_yaml_node *codes = lamp_edit_value(taking->root, "codes");
    if (taking->draft.means == NULL) {
        return lamp_fail(taking->error, LAMP_BAD_USE, "",
                         "a new code has no meaning, expected one");
    }
    enum lamp_err err = lamp_suit_book(&taking->draft, taking->book, taking->error);
    if (err != LAMP_OK) {
        return err;
    }
    if (taking->draft.lamp != NULL && !names_lamp(taking->book, taking->draft.lamp)) {
        add_lamp(taking);
    }
    if (codes->is_flow && (codes->count > 0 || taking->root->is_flow)) {
        put_flow(taking, codes);
    } else {
        put_block(taking, codes);
    }
    return LAMP_OK;
}

static const struct lamp_yaml_node *node_of(const struct taking *taking,
                                            const struct lamp_code *code)
{
    const struct lamp_yaml_node *codes = lamp_edit_value(taking->root, "codes");
    return codes->child[code - taking->book->code];
}

static void set(struct taking *taking, const struct lamp_yaml_node *map, const char *key,
                struct lamp_text *text)
{
    lamp_edit_fail(&taking->edit, text->failed, LAMP_NO_MEMORY);
    if (!text->failed) {
        lamp_edit_set(&taking->edit, map, key, text->at);
    }
    lamp_text_fini(text);
}

static void set_timing(struct taking *taking, const struct lamp_yaml_node *entry,
                       const struct lamp_timing *timing)
{
    const struct lamp_yaml_node *map = lamp_edit_value(entry, "timing");
    struct lamp_text text = {0};
    if (map == NULL) {
        lamp_write_timing(timing, &text);
        set(taking, entry, "timing", &text);
        return;
    }
    lamp_edit_fail(&taking->edit, map->begin < entry->begin, LAMP_BAD_USE); /* Under an alias. */
    for (size_t i = 0; i < LAMP_WRITE_KEYS; i++) {
        int64_t ns = lamp_write_key_ns(timing, &lamp_write_keys[i]);
        if (ns > 0) {
            lamp_write_length(ns, &text);
            set(taking, map, lamp_write_keys[i].name, &text);
        }
    }
}

static void set_taught(struct taking *taking, const struct lamp_yaml_node *entry,
                       const struct lamp_taught *taught)
{
    const struct lamp_yaml_node *map = lamp_edit_value(entry, "taught");
    struct lamp_text text = {0};
    if (map == NULL || map->kind != LAMP_YAML_MAP) {
        lamp_write_taught(taught, &text);
        set(taking, entry, "taught", &text);
        return;
    }
    lamp_edit_fail(&taking->edit, map->begin < entry->begin, LAMP_BAD_USE);
    lamp_text_add(&text, "%u", taught->recordings);
    set(taking, map, "recordings", &text);
    if (taught->sd_ns > 0) {
        lamp_write_length(taught->sd_ns, &text);
        set(taking, map, "sd", &text);
    }
}

/* What is said of the entry this time must not gainsay the book. */
static enum lamp_err check_words_of(const struct taking *taking, const struct lamp_code *code)
{
    const struct lamp_draft *draft = &taking->draft;
    if (draft->lamp != NULL && code->lamp != NULL && strcmp(draft->lamp, code->lamp) != 0) {
        return lamp_fail(taking->error, LAMP_BAD_USE, "",
                         "'%s' (line %d) is a code of lamp '%s', not of '%s'", code->id, code->line,
                         code->lamp, draft->lamp);
    }
    if (draft->means != NULL && strcmp(draft->means, code->means) != 0) {
        return lamp_fail(taking->error, LAMP_BAD_USE, "",
                         "'%s' (line %d) means '%.100s'; expected another --id, or no --means to "
                         "teach that code again",
                         code->id, code->line, code->means);
    }
    return LAMP_OK;
}

static enum lamp_err refine_entry(struct taking *taking, const struct lamp_code *code)
{
    struct lamp_refined refined;
    enum lamp_err err = check_words_of(taking, code);
    if (err == LAMP_OK) {
        err = lamp_refine(code, &taking->draft, &refined, taking->error);
    }
    if (err != LAMP_OK) {
        return err;
    }
    const struct lamp_yaml_node *entry = node_of(taking, code);
    if (code->pattern.kind == LAMP_PATTERN_EXACT || code->pattern.kind == LAMP_PATTERN_BLINK) {
        struct lamp_text text = {0};
        lamp_write_pattern(&refined.pattern, &text);
        set(taking, entry, "pattern", &text);
    } else if (code->wave.count > 0) {
        set_timing(taking, entry, &refined.timing);
    }
    set_taught(taking, entry, &refined.taught);
    return LAMP_OK;
}

/* Whether the entry that was read back says what was meant. */
static bool is_as_meant(const struct lamp_code *code, const struct lamp_draft *draft,
                        enum lamp_taking taking)
{
    return taking == LAMP_TAKING_REFINED ||
           (lamp_same_text(code->lamp, draft->lamp) && lamp_same_text(code->means, draft->means) &&
            lamp_same_text(code->basis, draft->basis) &&
            lamp_same_strings(&code->suspect, &draft->suspect) &&
            lamp_same_strings(&code->check, &draft->check) &&
            code->pattern.kind == draft->pattern.kind &&
            code->taught.recordings == draft->taught.recordings);
}

/* Read the outcome back, and look that nothing else changed. */
static enum lamp_err read_back(const struct taking *taking, const char *name,
                               struct lamp_teaching *out)
{
    struct lamp_error why = {.place = "", .sentence = ""};
    enum lamp_err err = lamp_book_parse(out->text, out->size, name, &out->book, &why);
    if (err == LAMP_NO_MEMORY) {
        return lamp_fail_memory(taking->error);
    }
    if (err != LAMP_OK) {
        return lamp_fail(taking->error, LAMP_BAD_USE, "",
                         "the book cannot be extended: it would be refused at %s: %.300s",
                         why.place, why.sentence);
    }
    out->code = code_called(out->book, taking->draft.id);
    bool is_good = out->code != NULL && lamp_same_but(taking->book, out->book, taking->draft.id) &&
                   is_as_meant(out->code, &taking->draft, out->taking);
    return is_good ? LAMP_OK
                   : lamp_fail(taking->error, LAMP_BAD_USE, "",
                               "the book is written in a way that cannot be extended here; add the "
                               "entry by hand");
}

static enum lamp_err take(struct taking *taking, struct lamp_teaching *out)
{
    const struct lamp_code *code = code_called(taking->book, taking->draft.id);
    out->taking = code != NULL ? LAMP_TAKING_REFINED : LAMP_TAKING_ADDED;
    out->adds_lamp =
        code == NULL && taking->draft.lamp != NULL && !names_lamp(taking->book, taking->draft.lamp);
    return code != NULL ? refine_entry(taking, code) : add_entry(taking);
}

/* Take the draft and write the text anew. */
static enum lamp_err rewrite(struct taking *taking, const char *text, size_t mark,
                             struct lamp_teaching *out)
{
    struct lamp_text all = {0};
    enum lamp_err err = take(taking, out);
    if (err != LAMP_OK) {
        return err;
    }
    lamp_text_add(&all, "%.*s", (int)mark, text);
    err = lamp_edit_apply(&taking->edit, &all);
    if (err != LAMP_OK) {
        lamp_text_fini(&all);
        return err == LAMP_NO_MEMORY
                   ? lamp_fail_memory(taking->error)
                   : lamp_fail(taking->error, LAMP_BAD_USE, "",
                               "what would change is shared by an alias; change it by hand");
    }
    out->text = all.at;
    out->size = all.length;
    return LAMP_OK;
}

/* NOLINTNEXTLINE(readability-function-size): the signature is the public one. */
enum lamp_err lamp_book_add(const char *text, size_t size, const char *name,
                            const struct lamp_draft *draft, struct lamp_teaching *out,
                            struct lamp_error *error)
{
    struct lamp_book *book = NULL;
    struct lamp_arena tree = {.ceiling = TREE_BYTES_MAX};
    struct lamp_teaching made = {0};
    size_t mark = mark_of(text, size);
    struct lamp_yaml_source source = {text + mark, size - mark, name};
    struct taking taking = {
        .edit = {.text = source.text, .size = source.size}, .draft = *draft, .error = error};
    enum lamp_err err = lamp_suit_words(draft, error);
    if (err == LAMP_OK) {
        err = lamp_book_parse(text, size, name, &book, error);
    }
    if (err == LAMP_OK) {
        taking.book = book;
        err = lamp_yaml_read(&source, &tree, &taking.root, error);
    }
    if (err == LAMP_OK) {
        err = rewrite(&taking, text, mark, &made);
    }
    if (err == LAMP_OK) {
        err = read_back(&taking, name, &made);
    }
    lamp_edit_fini(&taking.edit);
    lamp_arena_fini(&tree);
    lamp_book_free(book);
    if (err != LAMP_OK) {
        lamp_teaching_fini(&made);
        return err;
    }
    *out = made;
    return LAMP_OK;
}

void lamp_teaching_fini(struct lamp_teaching *teaching)
{
    free(teaching->text);
    lamp_book_free(teaching->book);
    *teaching = (struct lamp_teaching){0};
}

const struct lamp_code *lamp_teaching_clash(const struct lamp_teaching *teaching, double rate_hz)
{
    for (size_t i = 0; i < teaching->book->code_count; i++) {
        const struct lamp_code *code = &teaching->book->code[i];
        struct lamp_parting parting;
        if (code != teaching->code && lamp_codes_part(code, teaching->code, rate_hz, &parting) &&
            parting.never) {
            return code;
        }
    }
    return NULL;
}
