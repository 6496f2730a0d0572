/* write.h - What is made of the tables of the commands: a page of the manual, a completion. */
#ifndef LAMP_MANUAL_WRITE_H
#define LAMP_MANUAL_WRITE_H

#include <stdio.h>

#include "cli/options.h"

/** Most bytes of a command's path, "lampread book list". */
#define PATH_BYTES_MAX 64

/** The path of a command below another. */
void manual_path(char out[PATH_BYTES_MAX], const char *above, const char *name);

/** Copy the page `in` (mdoc) to `out`, the commands below `root` in place of its line ".\"
 * @commands@". */
void manual_write_page(const struct command *root, FILE *in, FILE *out);

/** Write a completion for bash. */
void manual_write_bash(const struct command *root, FILE *out);

#endif
