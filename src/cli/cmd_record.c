/* cmd_record.c - lampread record: keep the light for later. */
#include <stdlib.h>

#include "base/fail.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/keep.h"
#include "cli/limit.h"
#include "cli/progress.h"
#include "cli/setup.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    {.name = "output", .letter = 'o', .value = "FILE", .help = "where it is kept"},
    LIMIT_OPTION,
    {.name = "force", .letter = 'f', .help = "write over files that are there"},
    {.name = "no-trace", .help = "no brightness beside a film"},
    SOURCE_OPTIONS,
};

/* All that one call of the command holds. */
struct recording {
    const struct arguments *arguments;
    struct lamp_source *source;
    struct keep keep;
    struct limit limit;
};

static enum lamp_err open_all(struct recording *recording, struct lamp_error *error)
{
    const struct arguments *arguments = recording->arguments;
    const char *path = options_value(arguments, "output");
    if (path == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "--output",
                         "where to is missing: -o FILE, a name that ends in .mkv for pictures, "
                         ".csv for brightness, .csv or .vcd for a pin");
    }
    enum lamp_err failed = limit_take(&recording->limit, arguments, error);
    if (failed == LAMP_OK) {
        failed = setup_open_source(arguments, &recording->source, error);
    }
    const struct lamp_recorder_rules rules = {.replaces = options_has(arguments, "force"),
                                              .traces_places = !options_has(arguments, "no-trace")};
    return failed == LAMP_OK ? keep_open(&recording->keep, path, &rules, recording->source, error)
                             : failed;
}

/* One item to the file. @return LAMP_END once the limit is reached. */
static enum lamp_err step(struct recording *recording, struct lamp_error *error)
{
    struct lamp_item item;
    enum lamp_err answer = lamp_source_next(recording->source, &item, error);
    if (answer == LAMP_NOT_YET) {
        bool is_over = limit_is_waited_out(&recording->limit, recording->source);
        answer = keep_take(&recording->keep, recording->source, NULL, error);
        return answer == LAMP_OK && is_over ? LAMP_END : answer;
    }
    if (answer == LAMP_OK && limit_passes(&recording->limit, &item)) {
        return LAMP_END;
    }
    return answer == LAMP_OK ? keep_take(&recording->keep, recording->source, &item, error)
                             : answer;
}

static enum lamp_err record(struct recording *recording, struct lamp_error *error)
{
    struct progress progress;
    enum lamp_err answer = LAMP_OK;
    progress_catch_interrupt();
    progress_begin(&progress, "recording");
    while (answer == LAMP_OK && !progress_interrupted()) {
        answer = step(recording, error);
        progress_show(&progress, lamp_source_progress(recording->source));
    }
    progress_end(&progress);
    return answer == LAMP_END ? LAMP_OK : answer;
}

static int run_record(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct recording recording = {.arguments = arguments};
    enum lamp_err failed = open_all(&recording, &error);
    if (failed == LAMP_OK) {
        failed = record(&recording, &error);
    }
    int status = failed == LAMP_OK ? EXIT_TOLD : complain(failed, &error);
    if (recording.keep.recorder != NULL) {
        failed = keep_finish(&recording.keep, recording.source, &error);
        status = failed == LAMP_OK ? status : complain(failed, &error);
    }
    keep_close(&recording.keep);
    lamp_source_free(recording.source);
    return status;
}

const struct command command_record = {
    .name = "record",
    .operands = "SOURCE -o FILE",
    .summary = "Keep the light of a camera or a pin for later",
    .notes = "Pictures go to Matroska (.mkv) with the camera's own time stamps, JPEGs as they "
             "came, and the\nbrightness of every place that may be a lamp to a CSV beside; edges "
             "go to a CSV (.csv), which tells how\nwell each is known, or to a VCD (.vcd). What is "
             "on disk can be read up to the last second, whatever\nends the recording. Without "
             "--for: until Ctrl-C.",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_record,
};
