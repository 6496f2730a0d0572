/* plot.h - Draw what was read so that a person can check it by eye: SVG, PNG or PDF. */
#ifndef LAMPREAD_PLOT_H
#define LAMPREAD_PLOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "lampread/error.h"
#include "lampread/report.h"
#include "lampread/trace.h"

/** What a plot is written as. PDF has a page for each lamp, the others one figure below another. */
enum lamp_plot_format { LAMP_PLOT_SVG, LAMP_PLOT_PNG, LAMP_PLOT_PDF };

/** The format that the ending of `path` asks for; false if it is none of .svg, .png, .pdf. */
bool lamp_plot_format_of(const char *path, enum lamp_plot_format *out);

struct lamp_plot;

/**
 * Begin a plot of all lamps of `report`.
 * @param report  borrowed until the plot is freed. @param out  freed by the caller.
 * @return LAMP_OK, LAMP_NO_MEMORY.
 * @note Some 60 kB a lamp, however long the recording.
 */
enum lamp_err lamp_plot_new(const struct lamp_report *report, struct lamp_plot **out);

/** Add a sample of lamp `lamp` of the report; its times do not go back. Lamps without samples are drawn from their edges. */
void lamp_plot_push(struct lamp_plot *plot, size_t lamp, const struct lamp_sample *sample);

/** Draw it. @param out  written to and not closed. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err lamp_plot_write(const struct lamp_plot *plot, enum lamp_plot_format format, FILE *out);

/** Free; NULL is fine. */
void lamp_plot_free(struct lamp_plot *plot);

#endif
