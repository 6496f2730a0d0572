/* export.h - "--export-trace FILE" and its like: what was read, in files that take their place only
 * once they are whole. */
#ifndef LAMP_CLI_EXPORT_H
#define LAMP_CLI_EXPORT_H

#include <stdio.h>

#include "cli/options.h"
#include "lampread/pipeline.h"

/** Longest path that can be written to, with the ending of the part that is not whole yet. */
#define EXPORT_PATH_MAX 4096

/** The options of a command that exports what it read. */
#define EXPORT_OPTIONS                                                                     \
    {.name = "export-trace",                                                               \
     .value = "FILE",                                                                      \
     .help = "write each lamp's brightness, CSV",                                          \
     .offers = "@files:csv"},                                                              \
        {.name = "export-edges",                                                           \
         .value = "FILE",                                                                  \
         .help = "write each lamp's edges and groups, VCD",                                \
         .offers = "@files:vcd"},                                                          \
        {.name = "export-flashes",                                                         \
         .value = "FILE",                                                                  \
         .help = "write each lamp's flashes, CSV",                                         \
         .offers = "@files:csv"},                                                          \
    {                                                                                      \
        .name = "plot", .value = "FILE", .help = "draw each lamp: FILE.svg, .png or .pdf", \
        .offers = "@files:svg,png,pdf"                                                     \
    }

/** A file that takes the place of `path` only once it is whole; begin with all zero. */
struct export
{
    const char *path; /**< Borrowed. */
    char part[EXPORT_PATH_MAX];
    FILE *file; /**< NULL where nothing is to be written. */
};

/** How many kinds of export there are. */
enum { EXPORT_KINDS = 4 };

/** The exports of one reading; begin with all zero. */
struct exports {
    FILE *spool; /**< What the reader keeps its samples in; NULL where none is wanted. */
    struct export file[EXPORT_KINDS];
};

/** Whether a plot that is asked for can be drawn as its name says. @return LAMP_OK, LAMP_BAD_USE.
 */
enum lamp_err exports_check(const struct arguments *arguments, struct lamp_error *error);

/**
 * Begin each export that was asked for, so that what cannot be written is told before the work.
 * Files that are there stay as they are for now.
 * @return LAMP_OK, LAMP_BAD_USE (the source has no brightness), LAMP_CANNOT_WRITE.
 */
enum lamp_err exports_open(struct exports *exports, const struct arguments *arguments,
                           const struct lamp_source *source, struct lamp_error *error);

/**
 * Write what was last reported, and put the files in their places.
 * @return LAMP_OK, LAMP_BAD_USE (nothing to write, or a name that the format cannot hold),
 * LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err exports_write(struct exports *exports, struct lamp_reader *reader,
                            const struct lamp_report *report, struct lamp_error *error);

/** Give up what was not put in its place. */
void exports_close(struct exports *exports);

#endif
