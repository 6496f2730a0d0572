/* cmd_read.c - lampread read: light to verdicts. */
#include <stdio.h>
#include <stdlib.h>

#include "base/fail.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/export.h"
#include "cli/keep.h"
#include "cli/limit.h"
#include "cli/progress.h"
#include "cli/setup.h"
#include "cli/show.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    READING_OPTIONS,
    {.name = "json", .letter = 'j', .help = "for programs: one JSON object"},
    LIMIT_OPTION,
    {.name = "keep", .value = "FILE", .help = "keep the light while it is read"},
    {.name = "force", .letter = 'f', .help = "let --keep write over a file that is there"},
    EXPORT_OPTIONS,
    {.name = "explain", .help = "tell why too: lengths, repeats, what would settle it"},
    SOURCE_OPTIONS,
};

/* All that one call of the command holds. */
struct reading {
    const struct arguments *arguments;
    struct setup setup;
    struct exports exports;
    struct limit limit;
    struct keep keep;
    struct lamp_source *source;
    struct lamp_reader *reader;
    bool has_light; /* an item came */
    bool is_lost;   /* the device went away */
};

static enum lamp_err take_setup(struct reading *reading, struct lamp_error *error)
{
    enum lamp_err failed = exports_check(reading->arguments, error);
    if (failed == LAMP_OK) {
        failed = limit_take(&reading->limit, reading->arguments, error);
    }
    return failed == LAMP_OK ? setup_take(&reading->setup, reading->arguments, error) : failed;
}

static enum lamp_err open_source(struct reading *reading, struct lamp_error *error)
{
    return setup_open_source(reading->arguments, &reading->source, error);
}

static enum lamp_err open_keep(struct reading *reading, struct lamp_error *error)
{
    const char *path = options_value(reading->arguments, "keep");
    const struct lamp_recorder_rules rules = {.replaces = options_has(reading->arguments, "force"),
                                              .traces_places = false};
    return path != NULL ? keep_open(&reading->keep, path, &rules, reading->source, error) : LAMP_OK;
}

static enum lamp_err open_exports(struct reading *reading, struct lamp_error *error)
{
    enum lamp_err failed =
        exports_open(&reading->exports, reading->arguments, reading->source, error);
    reading->setup.rules.spool = reading->exports.spool;
    reading->setup.rules.keeps_portraits = options_has(reading->arguments, "plot");
    return failed;
}

static enum lamp_err open_all(struct reading *reading, struct lamp_error *error)
{
    enum lamp_err (*const steps[])(struct reading *, struct lamp_error *) = {
        take_setup, open_source, open_exports, open_keep};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        enum lamp_err failed = steps[i](reading, error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return lamp_reader_new(&reading->setup.rules, &reading->reader, error);
}

/* Keep an item; reading goes on without a file that fails. */
static void keep(struct reading *reading, const struct lamp_item *item)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    enum lamp_err failed = keep_take(&reading->keep, reading->source, item, &error);
    if (failed != LAMP_OK) {
        (void)complain(failed, &error);
    }
}

/* Take one item. @return LAMP_END once the limit is reached. */
static enum lamp_err step(struct reading *reading, struct lamp_error *error)
{
    struct lamp_item item;
    enum lamp_err answer = lamp_reader_take(reading->reader, reading->source, &item, error);
    if (answer == LAMP_NOT_YET) {
        keep(reading, NULL);
        return limit_is_waited_out(&reading->limit, reading->source) ? LAMP_END : LAMP_OK;
    }
    if (answer != LAMP_OK) {
        return answer;
    }
    reading->has_light = true;
    keep(reading, &item);
    return limit_passes(&reading->limit, &item) ? LAMP_END : LAMP_OK;
}

static bool is_live(const struct reading *reading)
{
    struct lamp_source_info info;
    lamp_source_describe(reading->source, &info);
    return info.is_live;
}

/* A device that goes away ends the reading with what was seen until then. */
static enum lamp_err pass_loss(struct reading *reading, enum lamp_err answer,
                               const struct lamp_error *error)
{
    reading->is_lost = answer == LAMP_BAD_SOURCE && reading->has_light && is_live(reading);
    if (reading->is_lost) {
        (void)complain(answer, error);
        mention("this is what was seen until then");
    }
    return reading->is_lost ? LAMP_END : answer;
}

static enum lamp_err read_all(struct reading *reading, struct lamp_error *error)
{
    struct progress progress;
    enum lamp_err answer = LAMP_OK;
    progress_catch_interrupt();
    progress_begin(&progress, "reading");
    while (answer == LAMP_OK && !progress_interrupted()) {
        answer = step(reading, error);
        progress_show(&progress, lamp_source_progress(reading->source));
    }
    progress_end(&progress);
    answer = pass_loss(reading, answer, error);
    return answer == LAMP_END ? LAMP_OK : answer;
}

/* A file that could not be kept counts, and so does a device that went away, though light was read.
 */
static int status_of(const struct reading *reading, const struct lamp_report *report)
{
    if (reading->is_lost) {
        return EXIT_SOURCE;
    }
    return reading->keep.failed ? EXIT_USAGE : show_status(report);
}

static int tell(struct reading *reading)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    const struct lamp_report *report = NULL;
    if (progress_interrupted() && !is_live(reading)) {
        mention("stopped early; this is what was seen until then");
    }
    enum lamp_err failed = lamp_reader_report(reading->reader, reading->source, &report);
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    failed = show_report(reading->arguments, report);
    if (failed == LAMP_CANNOT_WRITE) {
        return EXIT_USAGE; /* main tells of standard output, whatever wrote there */
    }
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    failed = exports_write(&reading->exports, reading->reader, report, &error);
    return failed == LAMP_OK ? status_of(reading, report) : complain(failed, &error);
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
    if (reading->keep.recorder != NULL) {
        struct lamp_error why = {.place = "", .sentence = ""};
        enum lamp_err kept = keep_finish(&reading->keep, reading->source, &why);
        (void)(kept != LAMP_OK && complain(kept, &why));
    }
    int status = failed == LAMP_OK ? tell(reading) : complain(failed, &error);
    lamp_reader_free(reading->reader);
    lamp_source_free(reading->source);
    keep_close(&reading->keep);
    setup_fini(&reading->setup);
    exports_close(&reading->exports);
    free(reading);
    return status;
}

const struct command command_read = {
    .name = "read",
    .operands = "SOURCE",
    .summary = "Read a clip, stills, a trace, a VCD, a camera or a pin",
    .notes =
        "SOURCE is a video file, a folder of numbered pictures, a brightness trace (CSV with "
        "the columns\n"
        "time_s,lamp,level[,exposure_s]), edges (VCD) or flashes (CSV, as --export-flashes "
        "writes it); or\nlive: a camera (/dev/video0), a pin (gpiochip0:17), or replay:FILE for a "
        "recording as if it were\nlive. A live source is read for as long as --for says, or until "
        "Ctrl-C. Without --lamp every lamp in\nthe picture is found; without --book the rhythm is "
        "told, and which of the books found has it.\n\n"
        "bench readings: current=0.5A, supply=5.1V, 3V3-to-ground=1ohm, storage=none",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_read,
};
