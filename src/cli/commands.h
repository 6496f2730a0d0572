/* commands.h - Every command of lampread, each in its own file cmd_<name>.c. */
#ifndef LAMP_CLI_COMMANDS_H
#define LAMP_CLI_COMMANDS_H

#include "cli/options.h"

extern const struct command command_lampread;   /* commands.c: the root of all others */
extern const struct command command_read;       /* cmd_read.c */
extern const struct command command_watch;      /* cmd_watch.c */
extern const struct command command_record;     /* cmd_record.c */
extern const struct command command_book;       /* cmd_book.c */
extern const struct command command_book_check; /* cmd_check.c */
extern const struct command command_book_new;   /* cmd_new.c */
extern const struct command command_book_teach; /* cmd_teach.c */
extern const struct command command_book_find;  /* cmd_find.c */
extern const struct command command_render;     /* cmd_render.c */
extern const struct command command_sources;    /* cmd_sources.c */

#endif
