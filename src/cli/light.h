/* light.h - A whole source read to a report, for commands that go on from there. */
#ifndef LAMP_CLI_LIGHT_H
#define LAMP_CLI_LIGHT_H

#include "cli/options.h"
#include "cli/setup.h"

/** A reading; begin with all zero but the setup, whose rules are taken. Too large for the stack. */
struct light {
    struct setup setup;
    struct lamp_source *source;
    struct lamp_reader *reader;
    const struct lamp_report *report; /**< Lives as long as the reading. */
};

/**
 * Read the source that the first operand names to its end, or for as long as --for says, or until
 * it is interrupted.
 * @return as lamp_source_open, lamp_reader_step.
 */
enum lamp_err light_read(struct light *light, const struct arguments *arguments,
                         struct lamp_error *error);

/** Free what it holds. */
void light_fini(struct light *light);

#endif
