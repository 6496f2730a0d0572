/* options.h - Commands and their options as tables: read, checked and explained from one place. */
#ifndef LAMP_CLI_OPTIONS_H
#define LAMP_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "lampread/error.h"

/** Most options one command may have, and most that one call may give. */
#define OPTIONS_MAX       32
#define OPTIONS_GIVEN_MAX 256

/** An option of a command. */
struct option_rule {
    const char *name;   /**< Long name without its dashes. */
    const char *value;  /**< What it takes, as the help calls it ("FILE"); NULL: nothing. */
    const char *help;   /**< One line. */
    char letter;        /**< Short name, 0 for none. */
    bool repeats;       /**< May be given more than once. */
    const char *offers; /**< What a shell offers for its value, see options_offers; NULL: as `value`
                           says. */
};

/** An option as it was given. */
struct option_given {
    const struct option_rule *rule;
    const char *value; /**< NULL where the option takes none. */
};

/** What followed the name of a command; begin with all zero. Borrows from argv. */
struct arguments {
    bool wants_help;
    size_t option_count;
    struct option_given option[OPTIONS_GIVEN_MAX];
    size_t operand_count;
    char **operand;
};

/** A command, or a family of them where it has some below it. */
struct command {
    const char *name;
    const char *operands; /**< As the help shows them, "" for none. */
    const char *summary;  /**< One line, without a full stop. */
    const char *notes;    /**< Further lines of its help, NULL for none. */
    const char *offers;   /**< What a shell offers for its operands; NULL: as `operands` says. */
    const struct option_rule *option;
    size_t option_count;
    size_t least_operands;
    size_t most_operands;
    const struct command *const
        *below; /**< Commands of the family, NULL if this one runs itself. */
    size_t below_count;
    int (*run)(const struct arguments *arguments); /**< @return exit status, see complain.h. */
};

/**
 * Read what follows the command's name (argv[0]), in any order.
 * @return LAMP_OK; LAMP_BAD_USE with the option at fault and the nearest known one; LAMP_FULL.
 */
enum lamp_err options_read(const struct command *command, int argc, char **argv,
                           struct arguments *out, struct lamp_error *error);

/** The command of `command`'s family called `name`, NULL with the nearest one named in `error`. */
const struct command *options_command(const struct command *command, const char *name,
                                      struct lamp_error *error);

/** Whether option `name` was given. */
bool options_has(const struct arguments *arguments, const char *name);

/** Value of option `name`, NULL if it was not given. */
const char *options_value(const struct arguments *arguments, const char *name);

/** How often option `name` was given. */
size_t options_count(const struct arguments *arguments, const char *name);

/** The `index`-th value of option `name`, NULL if there are not so many. */
const char *options_each(const struct arguments *arguments, const char *name, size_t index);

/**
 * The value of option `name` as a number in least..most, `absent` where it was not given.
 * @return LAMP_OK, LAMP_BAD_USE with the range.
 */
enum lamp_err options_number(const struct arguments *arguments, const char *name,
                             const double range[2], double *value, struct lamp_error *error);

/**
 * What a shell offers where a value called `value` is to come: words parted by blanks, of which
 * "@files" stands for files, "@files:csv" for those of an ending, "@books" for the names of books.
 * @param offers  what the table says; NULL: files where `value` has FILE or SOURCE in it, its own
 * words where it is made of some ("up|down"), else nothing.
 * @param out     set to a text of at most `size` bytes.
 */
void options_offers(const char *offers, const char *value, char *out, size_t size);

/** Explain a command, called as `path` ("lampread book list"), from its table. */
void options_explain(const struct command *command, const char *path, FILE *out);

#endif
