/* wires.c - Edges into a VCD as they come; the first values are known once time goes on. */
#include "record/wires.h"

#include <stdio.h>

#include "base/fail.h"

/* A VCD parts its words by blanks and holds printable ASCII alone. */
static void take_name(char *out, size_t size, const char *name)
{
    (void)snprintf(out, size, "%s", name != NULL && name[0] != '\0' ? name : "lamp");
    for (char *c = out; *c != '\0'; c++) {
        if (*c <= ' ' || *c > '~') {
            *c = '_';
        }
    }
}

static enum lamp_err begin(struct lamp_wires *wires, const struct lamp_source *source,
                           struct lamp_error *error)
{
    struct lamp_export_lamp lamp[LAMP_EXPORT_LAMPS_MAX];
    size_t count = lamp_source_lamp_count(source);
    for (size_t i = 0; i < count; i++) {
        take_name(wires->name[i], sizeof wires->name[i], lamp_source_lamp_name(source, i));
        lamp[i] =
            (struct lamp_export_lamp){.name = wires->name[i], .starts_lit = wires->starts_lit[i]};
    }
    struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    enum lamp_err err =
        lamp_export_edges_new(wires->sink->file, &rules, lamp, count, &wires->writer);
    if (err == LAMP_BAD_USE) {
        return lamp_fail(error, err, wires->sink->path,
                         "a VCD holds 1 to %d lamps, each with a name of its own",
                         LAMP_EXPORT_LAMPS_MAX);
    }
    return err == LAMP_NO_MEMORY ? lamp_fail_memory(error) : LAMP_OK;
}

/* What a write answered; one that failed is told by the sink. */
static enum lamp_err pass(enum lamp_err err)
{
    return err == LAMP_CANNOT_WRITE ? LAMP_OK : err;
}

enum lamp_err lamp_wires_push(struct lamp_wires *wires, const struct lamp_source *source,
                              const struct lamp_item *item, struct lamp_error *error)
{
    bool is_break = item->kind == LAMP_ITEM_BREAK;
    struct lamp_edge edge = is_break ? (struct lamp_edge){.t_ns = item->break_ns} : item->edge;
    if (!wires->has_first) {
        wires->has_first = true;
        wires->first_ns = edge.t_ns;
    }
    edge.t_ns -= wires->first_ns;
    if (wires->writer == NULL && edge.t_ns <= 0) {
        wires->starts_lit[item->lamp] = edge.lit;
        return LAMP_OK;
    }
    enum lamp_err err = wires->writer == NULL ? begin(wires, source, error) : LAMP_OK;
    if (err != LAMP_OK || wires->writer == NULL) {
        return err;
    }
    edge.t_ns = edge.t_ns > wires->last_ns ? edge.t_ns : wires->last_ns;
    wires->last_ns = edge.t_ns;
    enum lamp_err wrote = LAMP_OK;
    if (is_break || edge.sd_ns == 0) { /* what came before this value is not known */
        wrote = lamp_export_edges_lose(wires->writer, item->lamp, edge.t_ns);
    }
    if (!is_break && wrote == LAMP_OK) {
        wrote = lamp_export_edges_push(wires->writer, item->lamp, &edge);
    }
    return pass(wrote);
}

enum lamp_err lamp_wires_run_on(struct lamp_wires *wires, const struct lamp_source *source,
                                int64_t t_ns, struct lamp_error *error)
{
    int64_t end_ns = t_ns - wires->first_ns;
    if (!wires->has_first || end_ns <= wires->last_ns) {
        return LAMP_OK;
    }
    enum lamp_err err = wires->writer == NULL ? begin(wires, source, error) : LAMP_OK;
    if (err != LAMP_OK || wires->writer == NULL) {
        return err;
    }
    wires->last_ns = end_ns;
    return pass(lamp_export_edges_flush(wires->writer, end_ns));
}

void lamp_wires_fini(struct lamp_wires *wires)
{
    lamp_export_edges_free(wires->writer);
    wires->writer = NULL;
}
