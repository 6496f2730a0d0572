/* cmd_book.c - lampread book: list and show codebooks, and the family of its commands. */
#include <stdio.h>
#include <stdlib.h>

#include "base/number.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/show.h"
#include "lampread/lampread.h"

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
        (void)printf("%-20s %4zu codes  %s\n%-20s %s\n", books[i]->id, books[i]->code_count,
                     books[i]->board, "", books[i]->file);
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

/* The cycle as light, to scale; its time beside it. */
static void print_strip(const struct lamp_code *code)
{
    enum { LEFT = 14, RIGHT = 8 };
    struct lamp_code_strip strip;
    char span[32];
    const struct lamp_text_rules rules = {.is_ascii = show_is_ascii(),
                                          .width = show_columns() - LEFT - RIGHT};
    if (!lamp_code_strip(code, &rules, &strip)) {
        return;
    }
    lamp_duration_format(strip.span_ns / 1000000 * 1000000, span, sizeof span);
    (void)printf("    %-9s %s %s\n", "light", strip.light, span);
    if (strip.marks[0] != '\0') {
        (void)printf("    %-9s %s\n", "", strip.marks);
    }
}

static void print_taught(const struct lamp_taught *taught)
{
    char sd[32] = "";
    if (taught->recordings == 0) {
        return;
    }
    if (taught->sd_ns > 0) {
        lamp_duration_format(taught->sd_ns, sd, sizeof sd);
    }
    (void)printf("    %-9s %u %s%s%s\n", "taught", taught->recordings,
                 taught->recordings == 1 ? "recording" : "recordings",
                 sd[0] != '\0' ? ", lengths known to " : "", sd);
}

static void print_code(const struct lamp_code *code)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_pattern_format(&code->pattern, notation);
    (void)printf("\n%s\n    %-9s %s%s%s\n    %-9s %s\n", code->id, "pattern", notation,
                 code->lamp != NULL ? ", lamp " : "", code->lamp != NULL ? code->lamp : "", "means",
                 code->means);
    print_strip(code);
    print_strings("suspect", &code->suspect);
    print_strings("check", &code->check);
    print_taught(&code->taught);
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

static const struct command book_list = {
    .name = "list",
    .operands = "",
    .summary = "List the codebooks that --book finds by name",
    .notes =
        "Books are looked for in the working folder, ./codebooks, the user's data folder\n"
        "($XDG_DATA_HOME/lampread/codebooks, by default ~/.local/share), $LAMPREAD_BOOKS, the\n"
        "system's data folders ($XDG_DATA_DIRS, each with /lampread/codebooks, by default\n"
        "/usr/local/share and /usr/share) and the installed folder. The first of an id counts.",
    .run = run_list,
};

static const struct command book_show = {
    .name = "show",
    .operands = "NAME|FILE",
    .summary = "Show a codebook: its lamps, codes as light, meanings and checks",
    .offers = "@books @files:yaml",
    .least_operands = 1,
    .most_operands = 1,
    .run = run_show,
};

static const struct command *const below[] = {&book_list,          &book_show,
                                              &command_book_check, &command_book_new,
                                              &command_book_teach, &command_book_find};

const struct command command_book = {
    .name = "book",
    .operands = "COMMAND",
    .summary = "List, show, check and extend codebooks",
    .below = below,
    .below_count = sizeof below / sizeof below[0],
};
