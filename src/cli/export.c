/* export.c - "--export-trace FILE" and its like: what was read, in files that take their place only
 * once they are whole. */
#include "cli/export.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "lampread/export.h"
#include "lampread/plot.h"

/* -- one file -- */

static enum lamp_err fail_write(const char *path, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_CANNOT_WRITE, path, "this file cannot be written: %s",
                     errno != 0 ? strerror(errno) : "no reason was given");
}

static enum lamp_err begin(struct export *out, const char *path, struct lamp_error *error)
{
    out->path = path;
    int size = snprintf(out->part, sizeof out->part, "%s.part", path);
    if (size < 0 || (size_t)size >= sizeof out->part) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, path, "the name of this file is too long");
    }
    errno = 0;
    out->file = fopen(out->part, "wb");
    return out->file == NULL ? fail_write(path, error) : LAMP_OK;
}

/* Put the file in its place, if all of it was written. */
static enum lamp_err place(struct export *out, enum lamp_err answer, struct lamp_error *error)
{
    if (answer == LAMP_NO_MEMORY) {
        return lamp_fail_memory(error);
    }
    errno = 0;
    bool is_whole =
        ferror(out->file) == 0 && fflush(out->file) == 0 && fsync(fileno(out->file)) == 0;
    is_whole = fclose(out->file) == 0 && is_whole;
    out->file = NULL;
    if (answer == LAMP_OK && is_whole && rename(out->part, out->path) == 0) {
        return LAMP_OK;
    }
    enum lamp_err failed = fail_write(out->path, error);
    (void)unlink(out->part);
    return failed;
}

static void give_up(struct export *out)
{
    if (out->file != NULL) {
        (void)fclose(out->file);
        (void)unlink(out->part);
    }
    *out = (struct export){0};
}

/* -- what goes into each -- */

static enum lamp_err write_trace(struct lamp_reader *reader, const struct lamp_report *report,
                                 const struct export *out)
{
    size_t lamp;
    struct lamp_sample sample;
    enum lamp_err answer = lamp_export_trace_begin(out->file, true);
    lamp_reader_rewind_samples(reader);
    while (answer == LAMP_OK) {
        answer = lamp_reader_next_sample(reader, &lamp, &sample);
        if (answer == LAMP_OK) {
            answer = lamp_export_trace_push(out->file, true, report->lamp[lamp].name, &sample);
        }
    }
    return answer == LAMP_END ? LAMP_OK : answer;
}

static enum lamp_err write_edges(struct lamp_reader *reader, const struct lamp_report *report,
                                 const struct export *out)
{
    (void)reader;
    return lamp_report_write_edges(report, out->file);
}

static enum lamp_err write_flashes(struct lamp_reader *reader, const struct lamp_report *report,
                                   const struct export *out)
{
    (void)reader;
    return lamp_report_write_flashes(report, out->file);
}

/* A source of edges has no spool and no samples: its lamps are drawn from their edges. */
static enum lamp_err push_samples(struct lamp_reader *reader, struct lamp_plot *plot)
{
    size_t lamp;
    struct lamp_sample sample;
    enum lamp_err answer = LAMP_OK;
    lamp_reader_rewind_samples(reader);
    while (answer == LAMP_OK) {
        answer = lamp_reader_next_sample(reader, &lamp, &sample);
        if (answer == LAMP_OK) {
            lamp_plot_push(plot, lamp, &sample);
        }
    }
    return answer == LAMP_END || answer == LAMP_BAD_USE ? LAMP_OK : answer;
}

static enum lamp_err write_plot(struct lamp_reader *reader, const struct lamp_report *report,
                                const struct export *out)
{
    enum lamp_plot_format format = LAMP_PLOT_SVG;
    struct lamp_plot *plot = NULL;
    (void)lamp_plot_format_of(out->path, &format);
    enum lamp_err answer = lamp_plot_new(report, &plot);
    if (answer == LAMP_OK) {
        answer = push_samples(reader, plot);
    }
    if (answer == LAMP_OK) {
        answer = lamp_plot_write(plot, format, out->file);
    }
    lamp_plot_free(plot);
    return answer;
}

enum { KIND_TRACE, KIND_EDGES, KIND_FLASHES, KIND_PLOT };
static const struct {
    const char *option;
    enum lamp_err (*write)(struct lamp_reader *, const struct lamp_report *, const struct export *);
} kinds[EXPORT_KINDS] = {[KIND_TRACE] = {"export-trace", write_trace},
                         [KIND_EDGES] = {"export-edges", write_edges},
                         [KIND_FLASHES] = {"export-flashes", write_flashes},
                         [KIND_PLOT] = {"plot", write_plot}};

/* -- all of them -- */

enum lamp_err exports_check(const struct arguments *arguments, struct lamp_error *error)
{
    enum lamp_plot_format format;
    const char *path = options_value(arguments, kinds[KIND_PLOT].option);
    return path == NULL || lamp_plot_format_of(path, &format)
               ? LAMP_OK
               : lamp_fail(error, LAMP_BAD_USE, path,
                           "a plot is written as .svg, .png or .pdf, told by the ending of its "
                           "name");
}

static bool gives_edges(const struct lamp_source *source)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    return info.kind == LAMP_SOURCE_EDGES || info.kind == LAMP_SOURCE_PIN;
}

/* A trace and a plot need the samples; edges have none, and are drawn without. */
static enum lamp_err open_spool(struct exports *exports, const struct arguments *arguments,
                                const struct lamp_source *source, struct lamp_error *error)
{
    bool writes_trace = options_has(arguments, kinds[KIND_TRACE].option);
    if (gives_edges(source)) {
        return writes_trace ? lamp_fail(error, LAMP_BAD_USE, "--export-trace",
                                        "edges hold no brightness; expected a clip, stills or a "
                                        "trace")
                            : LAMP_OK;
    }
    if (!writes_trace && !options_has(arguments, kinds[KIND_PLOT].option)) {
        return LAMP_OK;
    }
    exports->spool = tmpfile();
    return exports->spool == NULL
               ? lamp_fail(error, LAMP_CANNOT_WRITE, writes_trace ? "--export-trace" : "--plot",
                           "no temporary file can be made")
               : LAMP_OK;
}

enum lamp_err exports_open(struct exports *exports, const struct arguments *arguments,
                           const struct lamp_source *source, struct lamp_error *error)
{
    enum lamp_err err = open_spool(exports, arguments, source, error);
    for (int i = 0; err == LAMP_OK && i < EXPORT_KINDS; i++) {
        const char *path = options_value(arguments, kinds[i].option);
        err = path != NULL ? begin(&exports->file[i], path, error) : LAMP_OK;
    }
    return err;
}

static enum lamp_err fail_kind(const char *option, const struct lamp_report *report,
                               struct lamp_error *error)
{
    char name[64];
    (void)snprintf(name, sizeof name, "--%s", option);
    return lamp_fail(error, LAMP_BAD_USE, name,
                     report->lamp_count == 0
                         ? "no lamp was seen, so there is nothing to write"
                         : "a VCD holds names of printable ASCII without blanks; one of the lamps "
                           "has another");
}

enum lamp_err exports_write(struct exports *exports, struct lamp_reader *reader,
                            const struct lamp_report *report, struct lamp_error *error)
{
    enum lamp_err err = LAMP_OK;
    for (int i = 0; err == LAMP_OK && i < EXPORT_KINDS; i++) {
        struct export *out = &exports->file[i];
        if (out->file == NULL) {
            continue;
        }
        err = report->lamp_count == 0 ? LAMP_BAD_USE : kinds[i].write(reader, report, out);
        err = err == LAMP_BAD_USE ? fail_kind(kinds[i].option, report, error)
                                  : place(out, err, error);
    }
    return err;
}

void exports_close(struct exports *exports)
{
    for (int i = 0; i < EXPORT_KINDS; i++) {
        give_up(&exports->file[i]);
    }
    if (exports->spool != NULL) {
        (void)fclose(exports->spool);
    }
    *exports = (struct exports){0};
}
