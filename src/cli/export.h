/* export.h - "--export-trace FILE", "--export-edges FILE" and "--plot FILE": the light of the lamps
 * that were told. */
#ifndef LAMP_CLI_EXPORT_H
#define LAMP_CLI_EXPORT_H

#include <stdio.h>

#include "lampread/pipeline.h"

/** Longest path that can be written to, with the ending of the part that is not whole yet. */
#define EXPORT_PATH_MAX 4096

/** A file that takes the place of `path` only once it is whole; begin with all zero. */
struct export
{
    const char *path; /**< Borrowed. */
    char part[EXPORT_PATH_MAX];
    FILE *file; /**< NULL where nothing is to be written. */
};

/** Begin to write `path`, which stays as it is for now. @return LAMP_OK, LAMP_CANNOT_WRITE. */
enum lamp_err export_open(struct export *out, const char *path, struct lamp_error *error);

/**
 * Write the samples of the lamps last reported as CSV, and put the file in its place.
 * @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err export_trace(struct export *out, struct lamp_reader *reader,
                           const struct lamp_report *report, struct lamp_error *error);

/** Write the edges of the lamps of `report` as VCD, as export_trace; LAMP_BAD_USE if there is none
 * to write. */
enum lamp_err export_edges(struct export *out, const struct lamp_report *report,
                           struct lamp_error *error);

/** Draw the lamps of `report` as the ending of the path says, as export_trace. */
enum lamp_err export_plot(struct export *out, struct lamp_reader *reader,
                          const struct lamp_report *report, struct lamp_error *error);

/** Give up what was not put in its place. */
void export_close(struct export *out);

#endif
