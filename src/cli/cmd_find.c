/* cmd_find.c - lampread book find: which books know a rhythm. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "base/text.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/json_text.h"
#include "cli/light.h"
#include "cli/limit.h"
#include "lampread/lampread.h"

enum { FOUND_MAX = 16 };

/* Candidates of a recording that are less likely than this are told only to make up the number. */
static const double least_told = 0.001;

static const struct option_rule options[] = {
    {.name = "book",
     .letter = 'b',
     .value = "NAME|FILE",
     .help = "look in this book only",
     .offers = "@books @files:yaml",
     .repeats = true},
    {.name = "lamp",
     .letter = 'l',
     .value = "NAME=X,Y[,W,H]",
     .help = "a lamp, pointed at in the picture",
     .repeats = true},
    {.name = "json", .letter = 'j', .help = "for programs: one JSON object"},
    LIMIT_OPTION,
    SOURCE_OPTIONS,
};

/* One entry that was found. */
struct hit {
    const struct lamp_book *book;
    const struct lamp_code *code;
    const char *against;
    double confidence; /* Below 0: a pattern was asked for, nothing was seen. */
};

/* What is written: a text, for people or for programs. */
struct page {
    bool is_json;
    struct lamp_text text;
    size_t hits;
};

static void add_json(const struct hit *hit, struct lamp_text *out)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_pattern_format(&hit->code->pattern, notation);
    lamp_text_add(out, "{");
    json_text_member(out, "book", hit->book->id);
    lamp_text_add(out, ", ");
    json_text_member(out, "file", hit->book->file);
    lamp_text_add(out, ", ");
    json_text_member(out, "id", hit->code->id);
    lamp_text_add(out, ", ");
    json_text_member(out, "lamp", hit->code->lamp != NULL ? hit->code->lamp : "");
    lamp_text_add(out, ", ");
    json_text_member(out, "pattern", notation);
    lamp_text_add(out, ", ");
    json_text_member(out, "means", hit->code->means);
    lamp_text_add(out, ", ");
    json_text_member(out, "against", hit->against);
    if (hit->confidence >= 0) {
        lamp_text_add(out, ", \"confidence\": %.3f", hit->confidence);
    }
    lamp_text_add(out, "}");
}

static void add_line(const struct hit *hit, struct lamp_text *out)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_pattern_format(&hit->code->pattern, notation);
    lamp_text_add(out, "%-16s %-20s %s\n", hit->book->id, hit->code->id, hit->code->means);
    lamp_text_add(out, "    %s%s%s", notation, hit->code->lamp != NULL ? ", lamp " : "",
                  hit->code->lamp != NULL ? hit->code->lamp : "");
    if (hit->confidence >= 0) {
        lamp_text_add(out, "; %.0f %%", 100 * hit->confidence);
    }
    lamp_text_add(out, "; %s%s\n", hit->against[0] != '\0' ? "not quite: " : "fits", hit->against);
}

static void add_hit(struct page *page, size_t i, const struct hit *hit)
{
    page->hits++;
    if (!page->is_json) {
        add_line(hit, &page->text);
        return;
    }
    lamp_text_add(&page->text, i > 0 ? ", " : "");
    add_json(hit, &page->text);
}

static void find_pattern(const struct lamp_pattern *pattern, const struct books *books,
                         struct page *page)
{
    static struct lamp_found found[FOUND_MAX];
    char notation[LAMP_NOTATION_MAX];
    size_t count = lamp_find_pattern(pattern, NULL, (const struct lamp_book *const *)books->at,
                                     books->count, found, FOUND_MAX);
    lamp_pattern_format(pattern, notation);
    if (page->is_json) {
        lamp_text_add(&page->text, "{\"name\": null, ");
        json_text_member(&page->text, "pattern", notation);
        lamp_text_add(&page->text, ", \"found\": [");
    }
    for (size_t i = 0; i < count; i++) {
        add_hit(page, i, &(struct hit){found[i].book, found[i].code, found[i].against, -1});
    }
    lamp_text_add(&page->text, page->is_json ? "]}" : "");
    if (count == 0 && !page->is_json) {
        lamp_text_add(&page->text, "no book knows %s, nor anything near it\n", notation);
    }
}

static void add_lamp(const struct lamp_report_lamp *lamp, struct page *page)
{
    char line[LAMP_SENTENCE_MAX] = "";
    char notation[LAMP_NOTATION_MAX];
    lamp_pattern_format(&lamp->rhythm.pattern, notation);
    if (page->is_json) {
        lamp_text_add(&page->text, "{");
        json_text_member(&page->text, "name", lamp->name);
        lamp_text_add(&page->text, ", ");
        json_text_member(&page->text, "pattern", notation);
        lamp_text_add(&page->text, ", \"found\": [");
    } else if (lamp_report_headline(lamp, line, sizeof line) == LAMP_OK) {
        lamp_text_add(&page->text, "%s\n", line);
    }
    size_t told = 0;
    for (size_t i = 0; i < lamp->match.candidate_count; i++) {
        const struct lamp_candidate *from = &lamp->match.candidate[i];
        if (told < 3 || from->confidence >= least_told) {
            add_hit(page, told++,
                    &(struct hit){from->book, from->code, from->against, from->confidence});
        }
    }
    lamp_text_add(&page->text, page->is_json ? "]}"
                               : told == 0   ? "no book has anything like it\n"
                                             : "");
}

static enum lamp_err find_light(const struct arguments *arguments, struct books *books,
                                struct page *page, struct lamp_error *error)
{
    struct light *light = calloc(1, sizeof *light);
    if (light == NULL) {
        return lamp_fail_memory(error);
    }
    enum lamp_err failed = setup_take_pointers(&light->setup, arguments, error);
    light->setup.rules.shelf = (const struct lamp_book *const *)books->at;
    light->setup.rules.shelf_count = books->count;
    if (failed == LAMP_OK) {
        failed = light_read(light, arguments, error);
    }
    for (size_t i = 0; failed == LAMP_OK && i < light->report->lamp_count; i++) {
        lamp_text_add(&page->text, i == 0 ? "" : page->is_json ? ", " : "\n");
        add_lamp(&light->report->lamp[i], page);
    }
    if (failed == LAMP_OK && light->report->lamp_count == 0) {
        mention("%s: no lamp is seen", arguments->operand[0]);
    }
    light_fini(light);
    free(light);
    return failed;
}

/* Words that begin notation: whoever writes one means no file. */
static bool is_notation(const char *text)
{
    static const char *const words[] = {"on ", "blink", "morse", "steady", "flicker"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strncmp(text, words[i], strlen(words[i])) == 0) {
            return true;
        }
    }
    return strchr("123456789", text[0]) != NULL && strpbrk(text, "./") == NULL;
}

static enum lamp_err find(const struct arguments *arguments, struct books *books, struct page *page,
                          struct lamp_error *error)
{
    const char *what = arguments->operand[0];
    struct lamp_pattern pattern;
    struct lamp_error why = {.place = "", .sentence = ""};
    if (access(what, F_OK) == 0 || what[0] == '\0') {
        return find_light(arguments, books, page, error);
    }
    if (lamp_pattern_parse(what, &pattern, NULL, &why) == LAMP_OK) {
        find_pattern(&pattern, books, page);
        return LAMP_OK;
    }
    return is_notation(what) ? lamp_fail(error, LAMP_BAD_USE, what, "%s", why.sentence)
                             : find_light(arguments, books, page, error);
}

static int run_find(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct books books = {0};
    struct page page = {.is_json = options_has(arguments, "json")};
    enum lamp_err failed = books_open(&books, arguments, &error);
    if (failed == LAMP_OK && books.count == 0) {
        failed = lamp_book_find_all(&books.at, &books.count);
    }
    lamp_text_add(&page.text, page.is_json ? "{\"format\": 1, \"lamps\": [" : "");
    if (failed == LAMP_OK) {
        failed = find(arguments, &books, &page, &error);
    }
    lamp_text_add(&page.text, page.is_json ? "]}\n" : "");
    if (failed == LAMP_OK && page.text.failed) {
        failed = LAMP_NO_MEMORY;
    }
    int status = page.hits > 0 ? EXIT_TOLD : EXIT_UNDECIDED;
    if (failed == LAMP_OK) {
        (void)fputs(page.text.at, stdout);
    } else {
        status = complain(failed, &error);
    }
    lamp_text_fini(&page.text);
    books_close(&books);
    return status;
}

const struct command command_book_find = {
    .name = "find",
    .operands = "PATTERN|SOURCE",
    .summary = "Find the books that know a rhythm, nearest first",
    .notes =
        "PATTERN is codebook notation, such as \"2 long 5 short\", \"on 200 ms, off 1 s\",\n"
        "\"blink 2.5 Hz\" or \"morse SOS\"; SOURCE is all that 'lampread read' takes. Without\n"
        "--book all books of this machine are looked in. Exit status 1: nothing is near.",
    .offers = "@files",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_find,
};
