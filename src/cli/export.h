/* export.h - "--export-trace FILE" and "--export-edges FILE": the light of the lamps that were
 * told. */
#ifndef LAMP_CLI_EXPORT_H
#define LAMP_CLI_EXPORT_H

#include "lampread/pipeline.h"

/**
 * Write the samples of the lamps last reported as CSV; `path` gets its new content only once all is
 * written.
 * @return LAMP_OK; LAMP_BAD_USE if there is no brightness to write; LAMP_CANNOT_WRITE;
 * LAMP_NO_MEMORY.
 */
enum lamp_err export_trace(struct lamp_reader *reader, const struct lamp_report *report,
                           const char *path, struct lamp_error *error);

/** Write the edges of the lamps of `report` as VCD, as export_trace. */
enum lamp_err export_edges(const struct lamp_report *report, const char *path,
                           struct lamp_error *error);

#endif
