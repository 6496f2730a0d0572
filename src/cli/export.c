/* export.c - "--export-trace FILE" and "--export-edges FILE": the light of the lamps that were
 * told. */
#include "cli/export.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "lampread/export.h"

/* A file that takes the place of `path` only once it is whole. */
struct draft {
    const char *path;
    char part[4096];
    FILE *file;
};

static enum lamp_err fail_write(const struct draft *draft, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_CANNOT_WRITE, draft->path, "this file cannot be written: %s",
                     errno != 0 ? strerror(errno) : "no reason was given");
}

static enum lamp_err draft_open(struct draft *draft, const char *path, struct lamp_error *error)
{
    *draft = (struct draft){.path = path};
    int size = snprintf(draft->part, sizeof draft->part, "%s.part", path);
    if (size < 0 || (size_t)size >= sizeof draft->part) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, path, "the name of this file is too long");
    }
    errno = 0;
    draft->file = fopen(draft->part, "wb");
    return draft->file == NULL ? fail_write(draft, error) : LAMP_OK;
}

/* Put the draft in its place, or take it away if anything failed before. */
static enum lamp_err draft_close(struct draft *draft, enum lamp_err answer,
                                 struct lamp_error *error)
{
    errno = 0;
    bool written =
        fclose(draft->file) == 0 && answer == LAMP_OK && rename(draft->part, draft->path) == 0;
    if (written) {
        return LAMP_OK;
    }
    enum lamp_err failed = answer;
    if (answer == LAMP_OK || answer == LAMP_CANNOT_WRITE) {
        failed = fail_write(draft, error);
    } else if (answer == LAMP_NO_MEMORY) {
        failed = lamp_fail_memory(error);
    }
    (void)unlink(draft->part);
    return failed;
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

enum lamp_err export_trace(struct lamp_reader *reader, const struct lamp_report *report,
                           const char *path, struct lamp_error *error)
{
    struct draft draft;
    if (report->source.kind == LAMP_SOURCE_EDGES) {
        return lamp_fail(error, LAMP_BAD_USE, "--export-trace",
                         "edges hold no brightness; expected a clip, stills or a trace");
    }
    enum lamp_err failed = draft_open(&draft, path, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    return draft_close(&draft, write_samples(reader, report, draft.file), error);
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

enum lamp_err export_edges(const struct lamp_report *report, const char *path,
                           struct lamp_error *error)
{
    struct draft draft;
    if (report->lamp_count == 0) {
        return lamp_fail(error, LAMP_BAD_USE, "--export-edges",
                         "no lamp was seen, so there are no edges to write");
    }
    enum lamp_err failed = draft_open(&draft, path, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    (void)lamp_fail(error, LAMP_BAD_USE, "--export-edges",
                    "a lamp's name or time cannot be written in a VCD");
    return draft_close(&draft, write_edges(report, draft.file), error);
}
