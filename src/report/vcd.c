/* vcd.c - Write edges as a four-state VCD file (IEEE 1364-2005, clause 18). */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/export.h"

/* The codes of signals are single printable characters, from here on. */
enum { CODE_FIRST = '!', NAME_LENGTH_MAX = 63 };

struct lamp_export_edges {
    FILE *out;
    int64_t step_ns;
    size_t count;
    int64_t last_step; /* The last time that was written. */
};

struct lamp_export_edges_rules lamp_export_edges_rules_default(void)
{
    return (struct lamp_export_edges_rules){.step_ns = 1000, .start_ns = 0};
}

static bool is_fit_name(const char *name)
{
    size_t length = strlen(name);
    for (size_t i = 0; i < length; i++) {
        if (name[i] <= ' ' || name[i] >= 0x7f) {
            return false;
        }
    }
    return length > 0 && length <= NAME_LENGTH_MAX && name[0] != '$' && name[0] != '\\';
}

static bool is_taken(const struct lamp_export_lamp *lamps, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(lamps[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

static bool are_fit(const struct lamp_export_lamp *lamps, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!is_fit_name(lamps[i].name) || is_taken(lamps, i, lamps[i].name)) {
            return false;
        }
    }
    return count > 0 && count <= LAMP_EXPORT_LAMPS_MAX;
}

static int64_t to_step(const struct lamp_export_edges *writer, int64_t t_ns)
{
    return t_ns / writer->step_ns + (t_ns % writer->step_ns >= (writer->step_ns + 1) / 2);
}

static enum lamp_err state_of(const struct lamp_export_edges *writer)
{
    return ferror(writer->out) != 0 ? LAMP_CANNOT_WRITE : LAMP_OK;
}

static void write_head(const struct lamp_export_edges *writer, const struct lamp_export_lamp *lamps)
{
    FILE *out = writer->out;
    (void)fprintf(out, "$version lampread $end\n$timescale 1 %s $end\n$scope module lamps $end\n",
                  writer->step_ns == 1 ? "ns" : "us");
    for (size_t i = 0; i < writer->count; i++) {
        (void)fprintf(out, "$var wire 1 %c %s $end\n", (char)(CODE_FIRST + i), lamps[i].name);
    }
    (void)fprintf(out, "$upscope $end\n$enddefinitions $end\n#%" PRId64 "\n$dumpvars\n",
                  writer->last_step);
    for (size_t i = 0; i < writer->count; i++) {
        (void)fprintf(out, "%d%c\n", lamps[i].starts_lit, (char)(CODE_FIRST + i));
    }
    (void)fputs("$end\n", out);
}

enum lamp_err lamp_export_edges_new(FILE *out, const struct lamp_export_edges_rules *rules,
                                    const struct lamp_export_lamp *lamps, size_t count,
                                    struct lamp_export_edges **writer)
{
    bool is_fit_step = rules->step_ns == 1 || rules->step_ns == 1000;
    if (!is_fit_step || rules->start_ns < 0 || !are_fit(lamps, count)) {
        return LAMP_BAD_USE;
    }
    struct lamp_export_edges *made = malloc(sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    *made = (struct lamp_export_edges){.out = out, .step_ns = rules->step_ns, .count = count};
    made->last_step = to_step(made, rules->start_ns);
    write_head(made, lamps);
    enum lamp_err err = state_of(made);
    if (err != LAMP_OK) {
        free(made);
        return err;
    }
    *writer = made;
    return LAMP_OK;
}

/* Write the time unless it stands there already. */
static enum lamp_err write_time(struct lamp_export_edges *writer, int64_t t_ns)
{
    int64_t step = t_ns < 0 ? -1 : to_step(writer, t_ns);
    if (step < writer->last_step) {
        return LAMP_BAD_USE;
    }
    if (step > writer->last_step) {
        (void)fprintf(writer->out, "#%" PRId64 "\n", step);
        writer->last_step = step;
    }
    return state_of(writer);
}

enum lamp_err lamp_export_edges_push(struct lamp_export_edges *writer, size_t lamp,
                                     const struct lamp_edge *edge)
{
    if (lamp >= writer->count) {
        return LAMP_BAD_USE;
    }
    enum lamp_err err = write_time(writer, edge->t_ns);
    if (err != LAMP_OK) {
        return err;
    }
    (void)fprintf(writer->out, "%d%c\n", edge->lit, (char)(CODE_FIRST + lamp));
    return state_of(writer);
}

enum lamp_err lamp_export_edges_flush(struct lamp_export_edges *writer, int64_t end_ns)
{
    enum lamp_err err = write_time(writer, end_ns);
    if (err == LAMP_OK && fflush(writer->out) != 0) {
        err = LAMP_CANNOT_WRITE;
    }
    return err;
}

void lamp_export_edges_free(struct lamp_export_edges *writer)
{
    free(writer);
}
