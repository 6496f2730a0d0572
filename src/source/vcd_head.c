/* vcd_head.c - The declarations of a VCD file (IEEE 1364-2005, 18.2.3.1 on). */
#include "source/vcd_head.h"

#include <ctype.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"

enum { NOTE_OTHERS = 101, NOTE_KEYWORD };

/* No declaration that matters has more words than this. */
enum { WORDS_MAX = 8 };

/* One signal as it was declared. */
struct signal {
    char name[LAMP_SOURCE_NAME_MAX];
    char path[LAMP_VCD_PATH_MAX]; /* "board.leds." */
};

struct reader {
    struct lamp_tokens *tokens;
    struct lamp_input *input;
    struct lamp_vcd_head head;
    bool has_scale;
    bool is_own; /* Written by lampread: what it sets beside its lamps is no news. */
    size_t depth;
    size_t path_length[LAMP_VCD_DEPTH_MAX]; /* Before each scope that is open. */
    char path[LAMP_VCD_PATH_MAX];
    size_t other_count;
    size_t word_count;
    char word[WORDS_MAX][LAMP_TOKEN_MAX];
    struct signal signal[LAMP_SOURCE_LAMPS_MAX];
};

enum lamp_err lamp_vcd_fail(const struct lamp_tokens *tokens, const char *file,
                            const char *expected, struct lamp_error *error)
{
    char place[LAMP_PLACE_MAX];
    char shown[LAMP_WORD_SHOWN_MAX];
    (void)snprintf(place, sizeof place, "%s:%" PRIu64 ":%d", file, tokens->line, tokens->column);
    if (tokens->length == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, place, "the file ends here: expected %s",
                         expected);
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, place, "\"%s\": expected %s",
                     lamp_word_shown(tokens->text, shown), expected);
}

bool lamp_vcd_skip(struct lamp_tokens *tokens)
{
    while (lamp_tokens_next(tokens)) {
        if (strcmp(tokens->text, "$end") == 0) {
            return true;
        }
    }
    return false;
}

static enum lamp_err refuse(const struct reader *reader, const char *expected,
                            struct lamp_error *error)
{
    return lamp_vcd_fail(reader->tokens, reader->input->name, expected, error);
}

/* Whether a word begins a section, so that the $end before it is missing; "$" alone may be a
 * signal's code. */
static bool begins_section(const char *word)
{
    static const char *const openings[] = {"$comment", "$date",      "$enddefinitions",
                                           "$scope",   "$timescale", "$upscope",
                                           "$var",     "$version"};
    for (size_t i = 0; i < sizeof openings / sizeof openings[0]; i++) {
        if (strcmp(word, openings[i]) == 0) {
            return true;
        }
    }
    return false;
}

/* The words of a declaration up to its $end. */
static enum lamp_err read_words(struct reader *reader, struct lamp_error *error)
{
    struct lamp_tokens *tokens = reader->tokens;
    reader->word_count = 0;
    while (lamp_tokens_next(tokens)) {
        if (strcmp(tokens->text, "$end") == 0) {
            return LAMP_OK;
        }
        if (reader->word_count == WORDS_MAX || tokens->is_cut || begins_section(tokens->text)) {
            return refuse(reader, "$end", error);
        }
        memcpy(reader->word[reader->word_count++], tokens->text, tokens->length + 1);
    }
    return refuse(reader, "$end", error);
}

/* "1ns", "100us" as a power of ten, s; false if it is none. */
static bool parse_scale(const char *text, int *out)
{
    static const char *const numbers[] = {"1", "10", "100"};
    static const char *const units[] = {"s", "ms", "us", "ns", "ps", "fs"};
    char whole[8];
    for (int i = 0; i < 18; i++) {
        (void)snprintf(whole, sizeof whole, "%s%s", numbers[i % 3], units[i / 3]);
        if (strcmp(text, whole) == 0) {
            *out = i % 3 - 3 * (i / 3);
            return true;
        }
    }
    return false;
}

static enum lamp_err read_timescale(struct reader *reader, struct lamp_error *error)
{
    enum lamp_err err = read_words(reader, error);
    if (err != LAMP_OK) {
        return err;
    }
    char whole[2 * LAMP_TOKEN_MAX];
    (void)snprintf(whole, sizeof whole, "%s%s", reader->word[0],
                   reader->word_count == 2 ? reader->word[1] : "");
    bool is_told = reader->word_count == 1 || reader->word_count == 2;
    if (!is_told || !parse_scale(whole, &reader->head.scale)) {
        return refuse(reader, "before it a time scale of 1, 10 or 100 s, ms, us, ns, ps or fs",
                      error);
    }
    reader->has_scale = true;
    return LAMP_OK;
}

static enum lamp_err open_scope(struct reader *reader, struct lamp_error *error)
{
    enum lamp_err err = read_words(reader, error);
    if (err != LAMP_OK) {
        return err;
    }
    size_t length = strlen(reader->path);
    if (reader->word_count != 2) {
        return refuse(reader, "before it a type and a name of the scope", error);
    }
    if (reader->depth == LAMP_VCD_DEPTH_MAX ||
        length + strlen(reader->word[1]) + 2 > LAMP_VCD_PATH_MAX) {
        return refuse(reader, "fewer scopes inside each other", error);
    }
    reader->path_length[reader->depth++] = length;
    (void)snprintf(reader->path + length, LAMP_VCD_PATH_MAX - length, "%s.", reader->word[1]);
    return LAMP_OK;
}

static enum lamp_err close_scope(struct reader *reader, struct lamp_error *error)
{
    enum lamp_err err = read_words(reader, error);
    if (err != LAMP_OK) {
        return err;
    }
    if (reader->depth == 0) {
        return refuse(reader, "a $scope before this $upscope", error);
    }
    reader->path[reader->path_length[--reader->depth]] = '\0';
    return LAMP_OK;
}

static bool has_levels(const char *type)
{
    static const char *const none[] = {"event", "parameter", "real", "realtime", "string", "time"};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        if (strcmp(type, none[i]) == 0) {
            return false;
        }
    }
    return true;
}

/* Two names for one wire have the same code: the first is the lamp's. */
static bool is_known(const struct lamp_vcd_head *head, const char *code)
{
    for (size_t i = 0; i < head->lamp_count; i++) {
        if (strcmp(head->code[i], code) == 0) {
            return true;
        }
    }
    return false;
}

static enum lamp_err add_signal(struct reader *reader, struct lamp_error *error)
{
    struct lamp_vcd_head *head = &reader->head;
    if (head->lamp_count == LAMP_SOURCE_LAMPS_MAX) {
        return refuse(reader, "at most 64 one-bit signals", error);
    }
    struct signal *signal = &reader->signal[head->lamp_count];
    const char *name = reader->word[3][0] == '\\' ? reader->word[3] + 1 : reader->word[3];
    const char *select = reader->word_count == 5 ? reader->word[4] : "";
    char whole[2 * LAMP_TOKEN_MAX];
    (void)snprintf(whole, sizeof whole, "%s%s", name, select);
    if (!lamp_names_is_fit(whole) || strlen(reader->word[2]) >= LAMP_VCD_CODE_MAX) {
        return refuse(reader, "before it a code of up to 31 and a name of up to 63 bytes", error);
    }
    memcpy(signal->name, whole, strlen(whole) + 1);
    memcpy(signal->path, reader->path, sizeof signal->path);
    memcpy(head->code[head->lamp_count++], reader->word[2], strlen(reader->word[2]) + 1);
    return LAMP_OK;
}

/* $var type size code name [select] $end */
static enum lamp_err read_var(struct reader *reader, struct lamp_error *error)
{
    enum lamp_err err = read_words(reader, error);
    if (err != LAMP_OK) {
        return err;
    }
    const char *size = reader->word[1];
    if (reader->word_count < 4 || reader->word_count > 5 ||
        size[strspn(size, "0123456789")] != '\0') {
        return refuse(reader, "before it type, size, code and name of a signal", error);
    }
    if (strtoul(size, NULL, 10) != 1 || !has_levels(reader->word[0])) {
        reader->other_count++;
        return LAMP_OK;
    }
    return is_known(&reader->head, reader->word[2]) ? LAMP_OK : add_signal(reader, error);
}

static bool occurs_before(const struct lamp_names *names, const char *name)
{
    for (size_t i = 0; i < names->count; i++) {
        if (strcmp(names->at[i], name) == 0) {
            return true;
        }
    }
    return false;
}

static bool is_shared(const struct reader *reader, size_t index)
{
    for (size_t i = 0; i < reader->head.lamp_count; i++) {
        if (i != index && strcmp(reader->signal[i].name, reader->signal[index].name) == 0) {
            return true;
        }
    }
    return false;
}

/* A lamp is called by its own name; lamps that share one, by their path; what is still shared, by a
 * number. */
static enum lamp_err name_lamps(struct reader *reader, struct lamp_error *error)
{
    struct lamp_names *names = &reader->input->names;
    for (size_t i = 0; i < reader->head.lamp_count; i++) {
        const struct signal *signal = &reader->signal[i];
        const char *path = is_shared(reader, i) ? signal->path : "";
        char name[LAMP_VCD_PATH_MAX + LAMP_SOURCE_NAME_MAX + 8];
        (void)snprintf(name, sizeof name, "%s%s", path, signal->name);
        for (int number = 2; occurs_before(names, name); number++) {
            (void)snprintf(name, sizeof name, "%s%s-%d", path, signal->name, number);
        }
        if (!lamp_names_is_fit(name)) {
            char shown[LAMP_WORD_SHOWN_MAX];
            return lamp_fail(error, LAMP_BAD_SOURCE, reader->input->name,
                             "the name \"%s\" with its scopes is longer than 63 bytes",
                             lamp_word_shown(signal->name, shown));
        }
        (void)lamp_names_add(names, name);
    }
    return LAMP_OK;
}

static enum lamp_err finish(struct reader *reader, struct lamp_error *error)
{
    enum lamp_err err = read_words(reader, error);
    if (err != LAMP_OK) {
        return err;
    }
    if (!reader->has_scale) {
        return refuse(reader, "a $timescale before the end of the definitions", error);
    }
    if (reader->head.lamp_count == 0) {
        return refuse(
            reader, "a one-bit signal ($var wire 1 ...) before the end of the definitions", error);
    }
    reader->head.has_others = reader->other_count > 0;
    if (reader->other_count > 0 && !reader->is_own) {
        lamp_notes_say(&reader->input->notes, NOTE_OTHERS,
                       "signals that are not of one bit and were not read: %zu",
                       reader->other_count);
    }
    return name_lamps(reader, error);
}

static enum lamp_err skip_section(struct reader *reader, struct lamp_error *error)
{
    if (!begins_section(reader->tokens->text)) {
        char shown[LAMP_WORD_SHOWN_MAX];
        lamp_notes_say(&reader->input->notes, NOTE_KEYWORD,
                       "line %" PRIu64 ": the keyword \"%s\" is not known", reader->tokens->line,
                       lamp_word_shown(reader->tokens->text, shown));
    }
    return lamp_vcd_skip(reader->tokens) ? LAMP_OK : refuse(reader, "$end", error);
}

/* A version may be any text. */
static enum lamp_err read_version(struct reader *reader, struct lamp_error *error)
{
    bool is_told = lamp_tokens_next(reader->tokens);
    reader->is_own = is_told && strcmp(reader->tokens->text, "lampread") == 0;
    bool is_over = is_told && strcmp(reader->tokens->text, "$end") == 0;
    return is_over || lamp_vcd_skip(reader->tokens) ? LAMP_OK : refuse(reader, "$end", error);
}

static enum lamp_err read_declarations(struct reader *reader, struct lamp_error *error)
{
    static const struct {
        const char *keyword;
        enum lamp_err (*read)(struct reader *, struct lamp_error *);
    } sections[] = {{"$version", read_version}, {"$timescale", read_timescale},
                    {"$scope", open_scope},     {"$upscope", close_scope},
                    {"$var", read_var},         {"$enddefinitions", finish}};
    enum { SECTION_COUNT = sizeof sections / sizeof sections[0] };
    while (lamp_tokens_next(reader->tokens)) {
        const char *keyword = reader->tokens->text;
        if (*keyword != '$') {
            return refuse(reader, "a keyword such as $var or $enddefinitions", error);
        }
        size_t at = 0;
        while (at < SECTION_COUNT && strcmp(keyword, sections[at].keyword) != 0) {
            at++;
        }
        enum lamp_err err =
            at < SECTION_COUNT ? sections[at].read(reader, error) : skip_section(reader, error);
        if (err != LAMP_OK || at == SECTION_COUNT - 1) {
            return err;
        }
    }
    return refuse(reader, "$enddefinitions", error);
}

enum lamp_err lamp_vcd_head_read(struct lamp_tokens *tokens, struct lamp_input *input,
                                 struct lamp_vcd_head *out, struct lamp_error *error)
{
    struct reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL) {
        return lamp_fail_memory(error);
    }
    reader->tokens = tokens;
    reader->input = input;
    enum lamp_err err = read_declarations(reader, error);
    if (err == LAMP_OK) {
        *out = reader->head;
    }
    free(reader);
    return err;
}
