/* export.c - "--export-trace FILE", "--export-edges FILE" and "--plot FILE": the light of the lamps
 * that were told. */
#include "cli/export.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "lampread/export.h"
#include "lampread/plot.h"

static enum lamp_err fail_write(const char *path, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_CANNOT_WRITE, path, "this file cannot be written: %s",
                     errno != 0 ? strerror(errno) : "no reason was given");
}

enum lamp_err export_open(struct export *out, const char *path, struct lamp_error *error)
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

/* Put the file in its place, if all that was written before went well. */
static enum lamp_err place(struct export *out, enum lamp_err answer, struct lamp_error *error)
{
    if (answer == LAMP_NO_MEMORY) {
        return lamp_fail_memory(error);
    }
    errno = 0;
    bool closed = fclose(out->file) == 0;
    out->file = NULL;
    if (answer == LAMP_OK && closed && rename(out->part, out->path) == 0) {
        return LAMP_OK;
    }
    enum lamp_err failed = fail_write(out->path, error);
    (void)unlink(out->part);
    return failed;
}

void export_close(struct export *out)
{
    if (out->file != NULL) {
        (void)fclose(out->file);
        (void)unlink(out->part);
    }
    *out = (struct export){0};
}

static enum lamp_err write_samples(struct lamp_reader *reader, const struct lamp_report *report,
                                   FILE *file)
{
    size_t lamp;
    struct lamp_sample sample;
    enum lamp_err answer = lamp_export_trace_begin(file, true);
    while (answer == LAMP_OK) {
        answer = lamp_reader_next_sample(reader, &lamp, &sample);
        if (answer == LAMP_OK) {
            answer = lamp_export_trace_push(file, true, report->lamp[lamp].name, &sample);
        }
    }
    return answer == LAMP_END ? LAMP_OK : answer;
}

enum lamp_err export_trace(struct export *out, struct lamp_reader *reader,
                           const struct lamp_report *report, struct lamp_error *error)
{
    return place(out, write_samples(reader, report, out->file), error);
}

/* Where each lamp's lengths were read to. */
struct merge {
    const struct lamp_report *report;
    size_t at[LAMP_REPORT_LAMPS_MAX];
};

/* The lamp whose next edge comes first; the count of lamps if none has one left. */
static size_t earliest(struct merge *merge)
{
    const struct lamp_report *report = merge->report;
    size_t found = report->lamp_count;
    int64_t least_ns = INT64_MAX;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &report->lamp[i];
        if (merge->at[i] < lamp->length_count && lamp->length[merge->at[i]].start_ns < least_ns) {
            least_ns = lamp->length[merge->at[i]].start_ns;
            found = i;
        }
    }
    return found;
}

static enum lamp_err write_merged(const struct lamp_report *report,
                                  struct lamp_export_edges *writer)
{
    struct merge merge = {.report = report};
    int64_t end_ns = 0;
    for (size_t i = earliest(&merge); i < report->lamp_count; i = earliest(&merge)) {
        const struct lamp_length *length = &report->lamp[i].length[merge.at[i]++];
        struct lamp_edge edge = {
            .t_ns = length->start_ns, .sd_ns = length->sd_ns, .lit = length->lit};
        bool changes = merge.at[i] > 1 && length->lit != length[-1].lit;
        enum lamp_err failed = changes ? lamp_export_edges_push(writer, i, &edge) : LAMP_OK;
        if (failed != LAMP_OK) {
            return failed;
        }
        int64_t length_end_ns = length->start_ns + length->ns;
        end_ns = length_end_ns > end_ns ? length_end_ns : end_ns;
    }
    return lamp_export_edges_flush(writer, end_ns);
}

static enum lamp_err write_edges(const struct lamp_report *report, FILE *file)
{
    struct lamp_export_lamp lamp[LAMP_REPORT_LAMPS_MAX];
    struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    rules.start_ns = INT64_MAX;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *told = &report->lamp[i];
        bool has_light = told->length_count > 0;
        lamp[i] = (struct lamp_export_lamp){.name = told->name,
                                            .starts_lit = has_light && told->length[0].lit};
        if (has_light && told->length[0].start_ns < rules.start_ns) {
            rules.start_ns = told->length[0].start_ns;
        }
    }
    rules.start_ns = rules.start_ns == INT64_MAX || rules.start_ns < 0 ? 0 : rules.start_ns;
    struct lamp_export_edges *writer = NULL;
    enum lamp_err answer = lamp_export_edges_new(file, &rules, lamp, report->lamp_count, &writer);
    if (answer == LAMP_OK) {
        answer = write_merged(report, writer);
    }
    lamp_export_edges_free(writer);
    return answer;
}

enum lamp_err export_edges(struct export *out, const struct lamp_report *report,
                           struct lamp_error *error)
{
    if (report->lamp_count == 0) {
        return lamp_fail(error, LAMP_BAD_USE, "--export-edges",
                         "no lamp was seen, so there are no edges to write");
    }
    enum lamp_err answer = write_edges(report, out->file);
    if (answer == LAMP_BAD_USE) {
        return lamp_fail(
            error, LAMP_BAD_USE, "--export-edges",
            "a VCD holds names of printable ASCII without blanks; one of the lamps has another");
    }
    return place(out, answer, error);
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

enum lamp_err export_plot(struct export *out, struct lamp_reader *reader,
                          const struct lamp_report *report, struct lamp_error *error)
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
    return place(out, answer, error);
}
