/* cmd_book.c - lampread book: list, show and check codebooks. */
#include <stdio.h>
#include <stdlib.h>

#include "base/number.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "lampread/lampread.h"

/* Frame rate at which a check looks for entries that cannot be told apart: that of an ordinary
 * phone. */
static const double check_rate_hz = 30;

enum { CLASHES_SHOWN = 64 };

static int run_list(const struct arguments *arguments)
{
    (void)arguments;
    struct lamp_book **books = NULL;
    size_t count = 0;
    enum lamp_err failed = lamp_book_find_all(&books, &count);
    if (failed != LAMP_OK) {
        return complain(failed, &(struct lamp_error){.place = "", .sentence = ""});
    }
    if (count == 0) {
        mention("no codebooks found; LAMPREAD_BOOKS names a folder to look in");
    }
    for (size_t i = 0; i < count; i++) {
        (void)printf("%-20s %4zu codes  %s\n", books[i]->id, books[i]->code_count, books[i]->board);
        lamp_book_free(books[i]);
    }
    free(books);
    return EXIT_TOLD;
}

static void print_strings(const char *label, const struct lamp_strings *strings)
{
    for (size_t i = 0; i < strings->count; i++) {
        (void)printf("    %-9s %s\n", i == 0 ? label : "", strings->at[i]);
    }
}

static void print_lamps(const struct lamp_book *book)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        const struct lamp_book_lamp *lamp = &book->lamp[i];
        const char *colour = lamp_colour_name(lamp->colour);
        (void)printf("lamp    %-12s %-8s %s\n", lamp->name, colour != NULL ? colour : "-",
                     lamp->shows != NULL ? lamp->shows : "");
    }
}

static void print_code(const struct lamp_code *code)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_pattern_format(&code->pattern, notation);
    (void)printf("\n%s\n    %-9s %s%s%s\n    %-9s %s\n", code->id, "pattern", notation,
                 code->lamp != NULL ? ", lamp " : "", code->lamp != NULL ? code->lamp : "", "means",
                 code->means);
    print_strings("suspect", &code->suspect);
    print_strings("check", &code->check);
    if (code->basis != NULL) {
        (void)printf("    %-9s %s\n", "basis", code->basis);
    }
}

static void print_finding(const struct lamp_finding_rule *finding)
{
    (void)printf("\nwhen");
    for (size_t i = 0; i < finding->condition_count; i++) {
        const struct lamp_condition *condition = &finding->condition[i];
        (void)printf("%s %s: %s", i > 0 ? "," : "", condition->key, condition->value);
    }
    (void)putchar('\n');
    print_strings("suspect", &finding->suspect);
    print_strings("check", &finding->check);
    print_strings("caution", &finding->caution);
}

static void print_book(const struct lamp_book *book)
{
    (void)printf("book    %s\nboard   %s\nsource  %s\nfile    %s\n", book->id, book->board,
                 book->source, book->file);
    print_lamps(book);
    for (size_t i = 0; i < book->code_count; i++) {
        print_code(&book->code[i]);
    }
    for (size_t i = 0; i < book->finding_count; i++) {
        print_finding(&book->finding[i]);
    }
    struct lamp_strings cautions = lamp_cautions();
    (void)putchar('\n');
    print_strings("care", &cautions);
}

static int run_show(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct lamp_book *book = NULL;
    enum lamp_err failed = lamp_book_find(arguments->operand[0], &book, &error);
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    print_book(book);
    lamp_book_free(book);
    return EXIT_TOLD;
}

/* Entries that look alike are no error in a book: boards have them. They are told, and each reading
 * lists both. */
static void print_clashes(const struct lamp_book *book)
{
    struct lamp_clash clash[CLASHES_SHOWN];
    size_t count = lamp_book_clashes(book, check_rate_hz, clash, CLASHES_SHOWN);
    for (size_t i = 0; i < count && i < CLASHES_SHOWN; i++) {
        (void)printf("%s:%d: '%s' cannot be told from '%s' (line %d) at %g frames/s\n", book->file,
                     clash[i].b->line, clash[i].b->id, clash[i].a->id, clash[i].a->line,
                     check_rate_hz);
    }
    if (count > CLASHES_SHOWN) {
        (void)printf("%s: and %zu more such pairs\n", book->file, count - CLASHES_SHOWN);
    }
    (void)printf("%s: good: lamps %zu, codes %zu, findings %zu, look-alike pairs %zu\n", book->file,
                 book->lamp_count, book->code_count, book->finding_count, count);
}

static int run_check(const struct arguments *arguments)
{
    int status = EXIT_TOLD;
    for (size_t i = 0; i < arguments->operand_count; i++) {
        struct lamp_error error = {.place = "", .sentence = ""};
        struct lamp_book *book = NULL;
        enum lamp_err failed = lamp_book_open(arguments->operand[i], &book, &error);
        if (failed != LAMP_OK) {
            status = complain(failed, &error);
            continue;
        }
        print_clashes(book);
        lamp_book_free(book);
    }
    return status;
}

static const struct command book_list = {
    .name = "list",
    .operands = "",
    .summary = "List the codebooks that --book finds by name",
    .notes = "Books are looked for in ./codebooks, the user's data folder\n"
             "($XDG_DATA_HOME/lampread/codebooks), $LAMPREAD_BOOKS and the installed folder.",
    .run = run_list,
};

static const struct command book_show = {
    .name = "show",
    .operands = "NAME|FILE",
    .summary = "Show a codebook: its lamps, codes, meanings and checks",
    .offers = "@books @files:yaml",
    .least_operands = 1,
    .most_operands = 1,
    .run = run_show,
};

static const struct command book_check = {
    .name = "check",
    .operands = "FILE...",
    .summary = "Check codebooks: what is wrong and where, and which entries look alike",
    .offers = "@files:yaml",
    .notes = "Entries that no camera can tell apart are reported; they are no error.",
    .least_operands = 1,
    .most_operands = 1000,
    .run = run_check,
};

static const struct command *const below[] = {&book_list, &book_show, &book_check};

const struct command command_book = {
    .name = "book",
    .operands = "COMMAND",
    .summary = "List, show and check codebooks",
    .below = below,
    .below_count = sizeof below / sizeof below[0],
};
