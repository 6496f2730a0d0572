/* export.c - "--export-trace FILE" and its like: what was read, in files that take their place only
 * once they are whole. */
#include "cli/export.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "lampread/export.h"

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

static enum lamp_err write_edges(struct lamp_reader *reader, const struct lamp_report *report,
                                 FILE *file)
{
    (void)reader;
    return lamp_report_write_edges(report, file);
}

static enum lamp_err write_flashes(struct lamp_reader *reader, const struct lamp_report *report,
                                   FILE *file)
{
    (void)reader;
    return lamp_report_write_flashes(report, file);
}

enum { KIND_TRACE };
static const struct {
    const char *option;
    enum lamp_err (*write)(struct lamp_reader *, const struct lamp_report *, FILE *);
} kinds[EXPORT_KINDS] = {[KIND_TRACE] = {"export-trace", write_trace},
                         {"export-edges", write_edges},
                         {"export-flashes", write_flashes}};

/* -- all of them -- */

static enum lamp_err open_spool(struct exports *exports, const struct lamp_source *source,
                                struct lamp_error *error)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    if (info.kind == LAMP_SOURCE_EDGES || info.kind == LAMP_SOURCE_PIN) {
        return lamp_fail(error, LAMP_BAD_USE, "--export-trace",
                         "edges hold no brightness; expected a clip, stills or a trace");
    }
    exports->spool = tmpfile();
    return exports->spool == NULL ? lamp_fail(error, LAMP_CANNOT_WRITE, "--export-trace",
                                              "no temporary file can be made")
                                  : LAMP_OK;
}

enum lamp_err exports_open(struct exports *exports, const struct arguments *arguments,
                           const struct lamp_source *source, struct lamp_error *error)
{
    enum lamp_err err = options_has(arguments, kinds[KIND_TRACE].option)
                            ? open_spool(exports, source, error)
                            : LAMP_OK;
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
        err = report->lamp_count == 0 ? LAMP_BAD_USE : kinds[i].write(reader, report, out->file);
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
