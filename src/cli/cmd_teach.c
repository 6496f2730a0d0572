/* cmd_teach.c - lampread book teach: a board known to show a code, made an entry of a book. */
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "cli/ask.h"
#include "cli/choose.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/light.h"
#include "cli/limit.h"
#include "cli/pointer.h"
#include "lampread/lampread.h"

/* Entries that a camera of an ordinary phone cannot tell apart are refused. */
static const double clash_rate_hz = 30;

enum { ANSWER_MAX = 512, WORDS_MAX = 64, BASIS_MAX = 1024 };

static const struct option_rule options[] = {
    {.name = "book",
     .letter = 'b',
     .value = "NAME|FILE",
     .help = "the codebook that is extended",
     .offers = "@books @files:yaml"},
    {.name = "id", .value = "ID", .help = "the code, in lower-case letters, digits and hyphens"},
    {.name = "means", .value = "TEXT", .help = "what it means"},
    {.name = "lamp",
     .letter = 'l',
     .value = "NAME[=X,Y[,W,H]]",
     .help = "the lamp that shows it, pointed at where several change"},
    {.name = "suspect", .value = "TEXT", .help = "a part to suspect", .repeats = true},
    {.name = "check", .value = "TEXT", .help = "what to measure next", .repeats = true},
    {.name = "note", .value = "TEXT", .help = "where this is known from"},
    {.name = "exact", .help = "write every length of the cycle in place of notation"},
    {.name = "flicker", .help = "light without a rhythm is what the code looks like"},
    {.name = "anyway", .help = "take it though it looks like another entry, or the colour differs"},
    LIMIT_OPTION,
    SOURCE_OPTIONS,
};

/* All that one call holds. */
struct teaching {
    const struct arguments *arguments;
    struct light light;
    struct lamp_book *book;
    char *text; /* Of the book's file. */
    size_t size;
    struct lamp_pointer pointer; /* --lamp; no place where only a name was given. */
    const struct lamp_report_lamp *lamp;
    char id[ANSWER_MAX];
    char means[ANSWER_MAX];
    char basis[BASIS_MAX];
    const char *suspect[WORDS_MAX];
    const char *check[WORDS_MAX];
    struct lamp_draft draft;
    struct lamp_teaching made;
};

static enum lamp_err open_book(struct teaching *teaching, struct lamp_error *error)
{
    const char *name = options_value(teaching->arguments, "book");
    if (name == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "--book",
                         "the book to extend is missing; 'lampread book new' makes one");
    }
    enum lamp_err failed = lamp_book_find(name, &teaching->book, error);
    return failed == LAMP_OK
               ? lamp_book_load(teaching->book->file, &teaching->text, &teaching->size, error)
               : failed;
}

static const struct lamp_code *code_called(const struct lamp_book *book, const char *id)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
    }
    return NULL;
}

/* What is missing is told before the light is read, unless a person can be asked for it afterwards.
 */
static enum lamp_err check_words(const struct teaching *teaching, struct lamp_error *error)
{
    const char *id = options_value(teaching->arguments, "id");
    assert(teaching->book != NULL);
    if (ask_can()) {
        return LAMP_OK;
    }
    if (id == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "--id",
                         "the code that the board shows is missing; expected a name for it");
    }
    if (options_value(teaching->arguments, "means") == NULL &&
        code_called(teaching->book, id) == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "--means",
                         "what '%.63s' means is missing; expected a text", id);
    }
    return LAMP_OK;
}

static enum lamp_err take_lamp(struct teaching *teaching, struct lamp_error *error)
{
    const char *text = options_value(teaching->arguments, "lamp");
    struct lamp_reader_rules *rules = &teaching->light.setup.rules;
    if (text == NULL) {
        return LAMP_OK;
    }
    if (strchr(text, '=') == NULL) {
        (void)snprintf(teaching->pointer.name, sizeof teaching->pointer.name, "%s", text);
        return choose_check_name(teaching->book, teaching->pointer.name, error);
    }
    enum lamp_err failed = pointer_parse(text, &teaching->pointer, error);
    rules->pointer = &teaching->pointer;
    rules->pointer_count = 1;
    return failed == LAMP_OK ? choose_check_name(teaching->book, teaching->pointer.name, error)
                             : failed;
}

static enum lamp_err read_light(struct teaching *teaching, struct lamp_error *error)
{
    teaching->light.setup.rules = lamp_reader_rules_default();
    teaching->light.setup.rules.book = (const struct lamp_book *const *)&teaching->book;
    teaching->light.setup.rules.book_count = 1;
    enum lamp_err failed = take_lamp(teaching, error);
    return failed == LAMP_OK ? light_read(&teaching->light, teaching->arguments, error) : failed;
}

static enum lamp_err pick_lamp(struct teaching *teaching, struct lamp_error *error)
{
    teaching->lamp = choose_lamp(teaching->light.report, teaching->pointer.name, error);
    return teaching->lamp != NULL ? LAMP_OK : LAMP_BAD_USE;
}

/* The name the entry gets: as it was given, else that of the book's lamp it was taken for. */
static const char *lamp_name(const struct teaching *teaching)
{
    if (teaching->pointer.name[0] != '\0') {
        return teaching->pointer.name;
    }
    return choose_book_lamp(teaching->book, teaching->lamp->name) != NULL ? teaching->lamp->name
                                                                          : NULL;
}

static void show_light(const struct teaching *teaching)
{
    char line[LAMP_SENTENCE_MAX];
    if (lamp_report_headline(teaching->lamp, line, sizeof line) == LAMP_OK) {
        (void)printf("%s\n", line);
    }
}

/* A line on standard output before a question, what was seen, so that the answer can be right. */
static void ask_for(struct teaching *teaching)
{
    const char *id = options_value(teaching->arguments, "id");
    const char *means = options_value(teaching->arguments, "means");
    struct lamp_error error = {.place = "", .sentence = ""};
    while (id == NULL &&
           ask("id of this code (lower-case letters, digits, hyphens)", teaching->id,
               sizeof teaching->id) &&
           lamp_book_check_id(teaching->id, &error) != LAMP_OK) {
        (void)printf("%s\n", error.sentence); /* the light was read: that is not lost for a slip */
    }
    bool is_known = code_called(teaching->book, teaching->draft.id) != NULL;
    if (means == NULL && teaching->draft.id[0] != '\0' && !is_known) {
        (void)ask("what it means", teaching->means, sizeof teaching->means);
    }
}

static struct lamp_strings words_of(const struct arguments *arguments, const char *name,
                                    const char *words[WORDS_MAX])
{
    size_t count = options_count(arguments, name);
    count = count < WORDS_MAX ? count : WORDS_MAX;
    for (size_t i = 0; i < count; i++) {
        words[i] = options_each(arguments, name, i);
    }
    return (struct lamp_strings){count, words};
}

/* Where the facts come from: the recording, and what the user says of it. */
static void write_basis(struct teaching *teaching)
{
    const char *path = teaching->arguments->operand[0];
    const char *slash = strrchr(path, '/');
    const char *note = options_value(teaching->arguments, "note");
    const char *name = slash != NULL && slash[1] != '\0' ? slash + 1 : path;
    (void)snprintf(teaching->basis, sizeof teaching->basis, "taught from %s%s%s", name,
                   note != NULL ? ": " : "", note != NULL ? note : "");
}

static enum lamp_err draft(struct teaching *teaching, struct lamp_error *error)
{
    const struct arguments *arguments = teaching->arguments;
    struct lamp_draft *draft = &teaching->draft;
    const char *means = options_value(arguments, "means");
    struct lamp_draft_rules rules = lamp_draft_rules_default();
    rules.is_exact = options_has(arguments, "exact");
    rules.takes_flicker = options_has(arguments, "flicker");
    enum lamp_err failed = lamp_book_draft(&teaching->lamp->rhythm, teaching->lamp->length,
                                           teaching->lamp->length_count, &rules, draft, error);
    if (failed != LAMP_OK) {
        bool flickers = teaching->lamp->rhythm.verdict == LAMP_VERDICT_FLICKER;
        struct lamp_error why = *error;
        return flickers ? lamp_fail(error, failed, teaching->lamp->name,
                                    "%s; --flicker takes it as what it is", why.sentence)
                        : lamp_fail(error, failed, teaching->lamp->name, "%s", why.sentence);
    }
    write_basis(teaching);
    draft->lamp = lamp_name(teaching);
    draft->colour = teaching->lamp->colour;
    draft->basis = teaching->basis;
    draft->suspect = words_of(arguments, "suspect", teaching->suspect);
    draft->check = words_of(arguments, "check", teaching->check);
    (void)snprintf(teaching->id, sizeof teaching->id, "%s",
                   options_value(arguments, "id") != NULL ? options_value(arguments, "id") : "");
    (void)snprintf(teaching->means, sizeof teaching->means, "%s", means != NULL ? means : "");
    draft->id = teaching->id;
    show_light(teaching);
    if (ask_can()) {
        ask_for(teaching);
    }
    draft->means = teaching->means[0] != '\0' ? teaching->means : NULL;
    if (draft->id[0] == '\0') {
        return lamp_fail(error, LAMP_BAD_USE, "--id", "no id was given; nothing was written");
    }
    return options_has(arguments, "anyway")
               ? LAMP_OK
               : choose_check_colour(teaching->book, draft->lamp, draft->colour, error);
}

static enum lamp_err check_clash(const struct teaching *teaching, struct lamp_error *error)
{
    const struct lamp_code *clash = lamp_teaching_clash(&teaching->made, clash_rate_hz);
    if (clash == NULL || options_has(teaching->arguments, "anyway")) {
        return LAMP_OK;
    }
    return lamp_fail(
        error, LAMP_BAD_USE, teaching->book->file,
        "this light cannot be told from '%s' (line %d), which means '%.150s'; --anyway "
        "adds it all the same",
        clash->id, clash->line, clash->means);
}

static enum lamp_err write_book(struct teaching *teaching, struct lamp_error *error)
{
    struct lamp_error why = {.place = "", .sentence = ""};
    const char *path = teaching->book->file;
    enum lamp_err failed = lamp_book_add(teaching->text, teaching->size, path, &teaching->draft,
                                         &teaching->made, &why);
    if (failed != LAMP_OK) {
        return lamp_fail(error, failed, why.place[0] != '\0' ? why.place : path, "%s",
                         why.sentence);
    }
    failed = check_clash(teaching, error);
    return failed == LAMP_OK ? lamp_book_replace(path, teaching->text, teaching->size,
                                                 teaching->made.text, teaching->made.size, error)
                             : failed;
}

static void tell(const struct teaching *teaching)
{
    const struct lamp_code *code = teaching->made.code;
    const struct lamp_rhythm *rhythm = &teaching->lamp->rhythm;
    char sd[32] = "";
    if (code->taught.sd_ns > 0) {
        lamp_duration_format(code->taught.sd_ns, sd, sizeof sd);
    }
    if (teaching->made.adds_lamp) {
        (void)printf("lamp '%s' is new in the book\n", code->lamp);
    }
    (void)printf("%s:%d: '%s' %s, from %u %s%s%s; the book as it was is in %s~\n",
                 teaching->book->file, code->line, code->id,
                 teaching->made.taking == LAMP_TAKING_ADDED ? "added" : "has better lengths",
                 code->taught.recordings, code->taught.recordings == 1 ? "recording" : "recordings",
                 sd[0] != '\0' ? ", lengths known to " : "", sd, teaching->book->file);
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS && rhythm->repeats_agreeing < 3) {
        mention("only %u repeats were alike; teach it again from another recording",
                rhythm->repeats_agreeing);
    }
}

/* Whether it failed because light is missing, not because of what was asked for. */
static bool is_unclear(const struct teaching *teaching)
{
    if (teaching->lamp != NULL) {
        return teaching->lamp->rhythm.verdict == LAMP_VERDICT_UNDECIDED;
    }
    return teaching->light.report != NULL && teaching->light.report->lamp_count == 0;
}

static int teach(struct teaching *teaching)
{
    enum lamp_err (*const steps[])(struct teaching *, struct lamp_error *) = {
        open_book, NULL, read_light, pick_lamp, draft, write_book};
    struct lamp_error error = {.place = "", .sentence = ""};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        enum lamp_err failed =
            steps[i] != NULL ? steps[i](teaching, &error) : check_words(teaching, &error);
        if (failed != LAMP_OK) {
            int status = complain(failed, &error);
            return is_unclear(teaching) ? EXIT_UNDECIDED : status;
        }
    }
    tell(teaching);
    return EXIT_TOLD;
}

static int run_teach(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct teaching *teaching = calloc(1, sizeof *teaching);
    if (teaching == NULL) {
        return complain(LAMP_NO_MEMORY, &error);
    }
    teaching->arguments = arguments;
    int status = teach(teaching);
    light_fini(&teaching->light);
    lamp_teaching_fini(&teaching->made);
    lamp_book_free(teaching->book);
    free(teaching->text);
    free(teaching);
    return status;
}

const struct command command_book_teach = {
    .name = "teach",
    .operands = "SOURCE",
    .summary = "Add a code to a book from a board that is known to show it",
    .notes =
        "SOURCE is all that 'lampread read' takes. Nothing but the entry changes in the file,\n"
        "which is replaced in one step; the old one is kept as FILE~. An id that is in the\n"
        "book already gets its lengths from this recording too, each weighed by how well it\n"
        "is known. A rhythm that did not repeat is refused, and so is light that no camera\n"
        "could tell from another entry. On a terminal --id and --means are asked for.",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_teach,
};
