/* cmd_new.c - lampread book new: a book for a board that has none. */
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "base/text.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/light.h"
#include "cli/limit.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    {.name = "id", .value = "ID", .help = "the book's name; otherwise that of the file"},
    {.name = "board", .value = "TEXT", .help = "the board that it is of; otherwise the id"},
    {.name = "source", .value = "TEXT", .help = "where its facts come from"},
    {.name = "lamp",
     .letter = 'l',
     .value = "NAME=COLOUR[:SHOWS]",
     .help = "a lamp of the board and what it shows",
     .repeats = true},
    {.name = "from",
     .value = "SOURCE",
     .help = "take lamps, colours and lengths from a recording",
     .offers = "@files"},
    {.name = "force", .letter = 'f', .help = "write over a file that is there"},
    LIMIT_OPTION,
    SOURCE_OPTIONS,
};

/* A book in the making; the texts of its outline are kept here. Too large for the stack. */
struct making {
    const struct arguments *arguments;
    char id[LAMP_NAME_MAX];
    char name[LAMP_BOOK_LAMPS_MAX][LAMP_NAME_MAX];
    struct lamp_outline_lamp lamp[LAMP_BOOK_LAMPS_MAX];
    struct lamp_outline outline;
    struct light light;
    char *text;
};

/* The file's name without folder and ending, as an id is spelt. */
static void name_of(const char *path, char out[LAMP_NAME_MAX])
{
    const char *slash = strrchr(path, '/');
    const char *name = slash != NULL ? slash + 1 : path;
    size_t length = strcspn(name, ".");
    length = length < LAMP_NAME_MAX - 1 ? length : LAMP_NAME_MAX - 1;
    for (size_t i = 0; i < length; i++) {
        char now = lamp_text_lower(name[i]);
        out[i] = now;
        if (strchr("abcdefghijklmnopqrstuvwxyz0123456789", now) == NULL) {
            out[i] = '-';
        }
    }
    out[length] = '\0';
}

/* "status=green:processor" */
static enum lamp_err take_lamp(struct making *making, const char *text, struct lamp_error *error)
{
    size_t at = making->outline.lamp_count;
    struct lamp_outline_lamp *lamp = &making->lamp[at];
    const char *equals = strchr(text, '=');
    const char *colon = equals != NULL ? strchr(equals, ':') : NULL;
    char colour[32] = "";
    if (at == LAMP_BOOK_LAMPS_MAX) {
        return lamp_fail(error, LAMP_FULL, "--lamp", "more than %d lamps", LAMP_BOOK_LAMPS_MAX);
    }
    if (equals == NULL || equals == text || (size_t)(equals - text) >= LAMP_NAME_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%.80s' has no name or no '='; expected NAME=COLOUR or "
                         "NAME=COLOUR:SHOWS",
                         text);
    }
    (void)snprintf(making->name[at], LAMP_NAME_MAX, "%.*s", (int)(equals - text), text);
    size_t length = colon != NULL ? (size_t)(colon - equals - 1) : strlen(equals + 1);
    (void)snprintf(colour, sizeof colour, "%.*s", length < 31 ? (int)length : 31, equals + 1);
    *lamp = (struct lamp_outline_lamp){.name = making->name[at],
                                       .colour = lamp_colour_named(colour),
                                       .shows = colon != NULL ? colon + 1 : NULL};
    if (lamp->colour == LAMP_COLOUR_UNKNOWN) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%s' is not a colour, expected red, orange (amber), yellow, green, blue, "
                         "purple or white",
                         colour);
    }
    making->outline.lamp_count++;
    return LAMP_OK;
}

static enum lamp_err take_words(struct making *making, struct lamp_error *error)
{
    const struct arguments *arguments = making->arguments;
    struct lamp_outline *outline = &making->outline;
    name_of(arguments->operand[0], making->id);
    outline->id = options_value(arguments, "id");
    outline->id = outline->id != NULL ? outline->id : making->id;
    outline->board = options_value(arguments, "board");
    outline->board = outline->board != NULL ? outline->board : outline->id;
    outline->source = options_value(arguments, "source");
    outline->source = outline->source != NULL ? outline->source : "seen on the board itself";
    outline->lamp = making->lamp;
    for (size_t i = 0; i < options_count(arguments, "lamp"); i++) {
        enum lamp_err failed = take_lamp(making, options_each(arguments, "lamp", i), error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return LAMP_OK;
}

/* What can be refused is refused before a recording is read. */
static enum lamp_err check_words(struct making *making, struct lamp_error *error)
{
    char *text = NULL;
    const char *path = making->arguments->operand[0];
    enum lamp_err failed = lamp_book_outline(&making->outline, &text, error);
    free(text);
    if (failed == LAMP_OK && !options_has(making->arguments, "force") && access(path, F_OK) == 0) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, path,
                         "the file is there already; --force writes over it");
    }
    return failed;
}

/* Whether a lamp of that colour was named, which the user then knows better. */
static bool has_colour(const struct lamp_outline *outline, enum lamp_colour colour)
{
    for (size_t i = 0; i < outline->lamp_count; i++) {
        if (outline->lamp[i].colour == colour) {
            return true;
        }
    }
    return false;
}

/* "green", or "green-2" where there is one already. */
static void name_by_colour(struct making *making, enum lamp_colour colour)
{
    size_t at = making->outline.lamp_count;
    const char *word = lamp_colour_name(colour);
    size_t before = 0;
    for (size_t i = 0; i < at; i++) {
        before += making->lamp[i].colour == colour;
    }
    (void)snprintf(making->name[at], LAMP_NAME_MAX, before > 0 ? "%s-%zu" : "%s", word, before + 1);
}

static void add_seen_lamp(struct making *making, const struct lamp_report_lamp *seen)
{
    struct lamp_outline *outline = &making->outline;
    size_t at = outline->lamp_count;
    bool is_named = seen->colour != LAMP_COLOUR_UNKNOWN;
    if (at == LAMP_BOOK_LAMPS_MAX) {
        return;
    }
    if (is_named) {
        name_by_colour(making, seen->colour);
    } else {
        name_of(seen->name, making->name[at]);
    }
    making->lamp[at] = (struct lamp_outline_lamp){.name = making->name[at], .colour = seen->colour};
    outline->lamp_count++;
}

/* Lamps that the user did not name, and the lengths of the first lamp that flashes in groups. */
static void take_report(struct making *making)
{
    const struct lamp_report *report = making->light.report;
    const struct lamp_outline named = making->outline;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *seen = &report->lamp[i];
        if (!has_colour(&named, seen->colour)) {
            add_seen_lamp(making, seen);
        }
        if (seen->rhythm.verdict == LAMP_VERDICT_UNLISTED && making->outline.timing.rest_ns == 0) {
            making->outline.timing = seen->rhythm.timing;
        }
    }
}

static enum lamp_err take_light(struct making *making, struct lamp_error *error)
{
    const char *from = options_value(making->arguments, "from");
    struct arguments arguments = *making->arguments;
    if (from == NULL) {
        return LAMP_OK;
    }
    char *path = strdup(from);
    if (path == NULL) {
        return lamp_fail_memory(error);
    }
    arguments.operand = &path;
    making->light.setup.rules = lamp_reader_rules_default();
    enum lamp_err failed = light_read(&making->light, &arguments, error);
    if (failed == LAMP_OK) {
        take_report(making);
    }
    if (failed == LAMP_OK && making->light.report->lamp_count == 0) {
        mention("%s: no lamp is seen, so the book names none", from);
    }
    free(path);
    return failed;
}

static enum lamp_err write_book(struct making *making, struct lamp_error *error)
{
    const char *path = making->arguments->operand[0];
    enum lamp_err failed = lamp_book_outline(&making->outline, &making->text, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    assert(making->text != NULL);
    return lamp_book_create(path, making->text, strlen(making->text),
                            options_has(making->arguments, "force"), error);
}

static int run_new(const struct arguments *arguments)
{
    enum lamp_err (*const steps[])(struct making *, struct lamp_error *) = {take_words, check_words,
                                                                            take_light, write_book};
    struct lamp_error error = {.place = "", .sentence = ""};
    struct making *making = calloc(1, sizeof *making);
    enum lamp_err failed = making == NULL ? LAMP_NO_MEMORY : LAMP_OK;
    if (failed == LAMP_OK) {
        making->arguments = arguments;
    }
    for (size_t i = 0; failed == LAMP_OK && i < sizeof steps / sizeof steps[0]; i++) {
        failed = steps[i](making, &error);
    }
    int status = failed == LAMP_OK ? EXIT_TOLD : complain(failed, &error);
    if (failed == LAMP_OK) {
        (void)printf("%s: book '%s' with %zu %s; 'lampread book teach RECORDING --book %s' adds "
                     "codes\n",
                     arguments->operand[0], making->outline.id, making->outline.lamp_count,
                     making->outline.lamp_count == 1 ? "lamp" : "lamps", arguments->operand[0]);
    }
    if (making != NULL) {
        light_fini(&making->light);
        free(making->text);
        free(making);
    }
    return status;
}

const struct command command_book_new = {
    .name = "new",
    .operands = "FILE",
    .summary = "Write a book for a new board, with comments that tell how to go on",
    .notes = "The book has no codes yet. Without --from it has common lengths: short 200 ms, long\n"
             "600 ms. A file that is there is written over only with --force.",
    .offers = "@files:yaml",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_new,
};
