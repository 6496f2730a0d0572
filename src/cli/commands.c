/* commands.c - All commands of lampread as one tree of tables. */
#include "cli/commands.h"

static const struct command *const commands[] = {&command_read, &command_watch,  &command_record,
                                                 &command_book, &command_render, &command_sources};

static const struct option_rule options[] = {
    {.name = "version", .letter = 'V', .help = "show the version"},
};

const struct command command_lampread = {
    .name = "lampread",
    .operands = "COMMAND",
    .summary = "Read the status lamp of a board that will not start",
    .notes = "'lampread COMMAND --help' explains a command.\n\n"
             "exit status: 0 every lamp has a verdict, 1 undecided or no lamp seen,\n"
             "             2 the command line, 3 the source, 4 a codebook",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .below = commands,
    .below_count = sizeof commands / sizeof commands[0],
};
