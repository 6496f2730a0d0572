/* show.h - A report on standard output, as suits whoever reads it, and the exit status that goes
 * with it. */
#ifndef LAMP_CLI_SHOW_H
#define LAMP_CLI_SHOW_H

#include <stdbool.h>

#include "cli/options.h"
#include "lampread/report.h"

/** Columns of standard output; 80 where it is no terminal. */
int show_columns(void);

/** Whether the user's locale shows ASCII alone. */
bool show_is_ascii(void);

/** Whether standard output takes terminal colours: a terminal, and NO_COLOR is not set. */
bool show_has_colour(void);

/** Write the report: JSON with --json, else text. @return LAMP_OK, LAMP_CANNOT_WRITE,
 * LAMP_NO_MEMORY. */
enum lamp_err show_report(const struct arguments *arguments, const struct lamp_report *report);

/** EXIT_TOLD if every lamp has a verdict, else EXIT_UNDECIDED. */
int show_status(const struct lamp_report *report);

#endif
