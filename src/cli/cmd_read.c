/* cmd_read.c - lampread read: a recording to verdicts. */
#include <langinfo.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "base/fail.h"
#include "cli/books.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/export.h"
#include "cli/pointer.h"
#include "cli/progress.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    {.name = "book",
     .letter = 'b',
     .value = "NAME|FILE",
     .help = "codebook to look the rhythm up in",
     .repeats = true},
    {.name = "lamp",
     .letter = 'l',
     .value = "NAME=X,Y[,W,H]",
     .help = "a lamp, pointed at in the picture",
     .repeats = true},
    {.name = "given",
     .letter = 'g',
     .value = "KEY=VALUE",
     .help = "a bench reading",
     .repeats = true},
    {.name = "json", .letter = 'j', .help = "for programs: one JSON object"},
    {.name = "export-trace", .value = "FILE", .help = "write the brightness of each lamp as CSV"},
    {.name = "export-edges", .value = "FILE", .help = "write the edges of each lamp as VCD"},
    {.name = "stills-rate", .value = "HZ", .help = "pictures a second of numbered stills"},
};

/* All that one call of the command holds. */
struct reading {
    const struct arguments *arguments;
    struct books books; /* chosen */
    struct books shelf; /* all, only to be named where none is chosen */
    struct lamp_pointer pointer[LAMP_PLACES_MAX];
    struct lamp_given given[LAMP_GIVEN_MAX];
    struct lamp_reader_rules rules;
    FILE *spool; /* only where a trace is wanted */
    struct export trace;
    struct export edges;
    struct lamp_source *source;
    struct lamp_reader *reader;
};

static enum lamp_err take_pointers(struct reading *reading, struct lamp_error *error)
{
    size_t count = options_count(reading->arguments, "lamp");
    if (count > LAMP_PLACES_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp", "%zu lamps are given; at most %d can be",
                         count, LAMP_PLACES_MAX);
    }
    for (size_t i = 0; i < count; i++) {
        const char *text = options_each(reading->arguments, "lamp", i);
        enum lamp_err failed = pointer_parse(text, &reading->pointer[i], error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    reading->rules.pointer = reading->pointer;
    reading->rules.pointer_count = count;
    return LAMP_OK;
}

static enum lamp_err take_given(struct reading *reading, struct lamp_error *error)
{
    size_t count = options_count(reading->arguments, "given");
    if (count > LAMP_GIVEN_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--given",
                         "%zu readings are given; at most %d can be", count, LAMP_GIVEN_MAX);
    }
    for (size_t i = 0; i < count; i++) {
        const char *text = options_each(reading->arguments, "given", i);
        enum lamp_err failed = lamp_given_parse(text, &reading->given[i], error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    reading->rules.given = reading->given;
    reading->rules.given_count = count;
    return LAMP_OK;
}

static enum lamp_err take_books(struct reading *reading, struct lamp_error *error)
{
    enum lamp_err failed = books_open(&reading->books, reading->arguments, error);
    if (failed == LAMP_OK && reading->books.count == 0) {
        failed = lamp_book_find_all(&reading->shelf.at, &reading->shelf.count);
    }
    reading->rules.book = (const struct lamp_book *const *)reading->books.at;
    reading->rules.book_count = reading->books.count;
    reading->rules.shelf = (const struct lamp_book *const *)reading->shelf.at;
    reading->rules.shelf_count = reading->shelf.count;
    return failed;
}

/* Live sources have names of their own kind, which no file is meant by. */
static enum lamp_err refuse_live(const char *name, struct lamp_error *error)
{
    if (access(name, F_OK) == 0 && strncmp(name, "/dev/", 5) != 0) {
        return LAMP_OK;
    }
    bool is_camera = strncmp(name, "/dev/video", 10) == 0;
    bool is_pin = strncmp(name, "gpiochip", 8) == 0 || strncmp(name, "/dev/gpiochip", 13) == 0;
    if (!is_camera && !is_pin) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "%s cannot be read live by this version; expected a recorded clip, stills, a "
                     "trace or a VCD",
                     is_camera ? "a camera" : "a pin");
}

static enum lamp_err open_source(struct reading *reading, struct lamp_error *error)
{
    static const double rates_hz[2] = {0.5, 10000};
    const char *name = reading->arguments->operand[0];
    struct lamp_source_rules rules = lamp_source_rules_default();
    enum lamp_err failed =
        options_number(reading->arguments, "stills-rate", rates_hz, &rules.stills_rate_hz, error);
    if (failed == LAMP_OK) {
        failed = refuse_live(name, error);
    }
    return failed == LAMP_OK ? lamp_source_open(name, &rules, &reading->source, error) : failed;
}

static enum lamp_err open_trace(struct reading *reading, const char *path, struct lamp_error *error)
{
    struct lamp_source_info info;
    lamp_source_describe(reading->source, &info);
    if (info.kind == LAMP_SOURCE_EDGES) {
        return lamp_fail(error, LAMP_BAD_USE, "--export-trace",
                         "edges hold no brightness; expected a clip, stills or a trace");
    }
    reading->spool = tmpfile();
    reading->rules.spool = reading->spool;
    if (reading->spool == NULL) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, "--export-trace",
                         "no temporary file can be made");
    }
    return export_open(&reading->trace, path, error);
}

/* What cannot be written is told before the work, not after it. */
static enum lamp_err open_exports(struct reading *reading, struct lamp_error *error)
{
    const char *trace = options_value(reading->arguments, "export-trace");
    const char *edges = options_value(reading->arguments, "export-edges");
    enum lamp_err failed = trace != NULL ? open_trace(reading, trace, error) : LAMP_OK;
    return failed == LAMP_OK && edges != NULL ? export_open(&reading->edges, edges, error) : failed;
}

static enum lamp_err open_all(struct reading *reading, struct lamp_error *error)
{
    reading->rules = lamp_reader_rules_default();
    enum lamp_err (*const steps[])(struct reading *, struct lamp_error *) = {
        take_pointers, take_given, take_books, open_source, open_exports};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        enum lamp_err failed = steps[i](reading, error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return lamp_reader_new(&reading->rules, &reading->reader, error);
}

static enum lamp_err read_all(struct reading *reading, struct lamp_error *error)
{
    struct progress progress;
    enum lamp_err answer = LAMP_OK;
    progress_catch_interrupt();
    progress_begin(&progress, "reading");
    while (answer == LAMP_OK && !progress_interrupted()) {
        answer = lamp_reader_step(reading->reader, reading->source, error);
        progress_show(&progress, lamp_source_progress(reading->source));
    }
    progress_end(&progress);
    return answer == LAMP_END ? LAMP_OK : answer;
}

static int columns_of_terminal(void)
{
    enum { COLUMNS = 80, COLUMNS_MAX = 120 };
    struct winsize size;
    if (isatty(STDOUT_FILENO) != 1 || ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 ||
        size.ws_col == 0) {
        return COLUMNS;
    }
    return size.ws_col < COLUMNS_MAX ? size.ws_col : COLUMNS_MAX;
}

/* Blocks are drawn where the user's locale can show them; the rest of the program stays in the C
 * locale. */
static bool is_ascii_terminal(void)
{
    locale_t user = newlocale(LC_CTYPE_MASK, "", (locale_t)0);
    if (user == (locale_t)0) {
        return true;
    }
    bool is_ascii = strcmp(nl_langinfo_l(CODESET, user), "UTF-8") != 0;
    freelocale(user);
    return is_ascii;
}

static enum lamp_err write_report(const struct reading *reading, const struct lamp_report *report)
{
    if (options_has(reading->arguments, "json")) {
        return lamp_report_write_json(report, stdout);
    }
    const char *no_colour = getenv("NO_COLOR");
    const struct lamp_text_rules rules = {
        .has_colour = isatty(STDOUT_FILENO) == 1 && (no_colour == NULL || no_colour[0] == '\0'),
        .is_ascii = is_ascii_terminal(),
        .width = columns_of_terminal(),
    };
    return lamp_report_write_text(report, &rules, stdout);
}

static enum lamp_err export_all(struct reading *reading, const struct lamp_report *report,
                                struct lamp_error *error)
{
    enum lamp_err failed = reading->trace.file != NULL
                               ? export_trace(&reading->trace, reading->reader, report, error)
                               : LAMP_OK;
    return failed == LAMP_OK && reading->edges.file != NULL
               ? export_edges(&reading->edges, report, error)
               : failed;
}

static int status_of(const struct lamp_report *report)
{
    bool decided = report->lamp_count > 0;
    for (size_t i = 0; i < report->lamp_count; i++) {
        decided &= report->lamp[i].match.verdict != LAMP_VERDICT_UNDECIDED;
    }
    return decided ? EXIT_TOLD : EXIT_UNDECIDED;
}

static int tell(struct reading *reading)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    const struct lamp_report *report = NULL;
    if (progress_interrupted()) {
        mention("stopped early; this is what was seen until then");
    }
    enum lamp_err failed = lamp_reader_report(reading->reader, reading->source, &report);
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    failed = write_report(reading, report);
    if (failed == LAMP_CANNOT_WRITE) {
        return EXIT_USAGE; /* main tells of standard output, whatever wrote there */
    }
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    failed = export_all(reading, report, &error);
    return failed == LAMP_OK ? status_of(report) : complain(failed, &error);
}

static int run_read(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct reading *reading = calloc(1, sizeof *reading);
    if (reading == NULL) {
        return complain(LAMP_NO_MEMORY, &error);
    }
    reading->arguments = arguments;
    enum lamp_err failed = open_all(reading, &error);
    if (failed == LAMP_OK) {
        failed = read_all(reading, &error);
    }
    int status = failed == LAMP_OK ? tell(reading) : complain(failed, &error);
    lamp_reader_free(reading->reader);
    lamp_source_free(reading->source);
    books_close(&reading->books);
    books_close(&reading->shelf);
    export_close(&reading->trace);
    export_close(&reading->edges);
    if (reading->spool != NULL) {
        (void)fclose(reading->spool);
    }
    free(reading);
    return status;
}

const struct command command_read = {
    .name = "read",
    .operands = "SOURCE",
    .summary = "Read a recorded clip, stills, a trace or a VCD",
    .notes = "SOURCE is a video file, a folder of numbered pictures, a brightness trace (CSV with "
             "the columns\n"
             "time_s,lamp,level[,exposure_s]) or edges (VCD). Without --lamp every lamp in the "
             "picture is\n"
             "found; without --book the rhythm is told, and which of the books found has it.\n\n"
             "bench readings: current=0.5A, supply=5.1V, 3V3-to-ground=1ohm, storage=none",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_read,
};
