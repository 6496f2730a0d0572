/* complain.h - The only place that prints errors and picks exit statuses. */
#ifndef LAMP_CLI_COMPLAIN_H
#define LAMP_CLI_COMPLAIN_H

#include "lampread/error.h"

/** Exit statuses, the same for every command. */
enum exit_status {
    EXIT_TOLD = 0,      /**< Every lamp has a verdict; the work is done. */
    EXIT_UNDECIDED = 1, /**< A lamp is undecided, or none was seen. */
    EXIT_USAGE = 2,     /**< The command line cannot be used. */
    EXIT_SOURCE = 3,    /**< A source cannot be read. */
    EXIT_BOOK = 4       /**< A codebook cannot be read. */
};

/** Print one line about a failed call to standard error. @return the exit status for `code`. */
int complain(enum lamp_err code, const struct lamp_error *error);

/** Say on standard error, in one line, something that is no failure. */
void mention(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
