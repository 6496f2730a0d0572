/* states.c - Edges into a trace as they come: each as two rows, what the lamp was and what it is.
 */
#include "record/states.h"

#include "lampread/export.h"

static void begin(struct lamp_states *states)
{
    /* Row by row: a run that is killed leaves no half of one. */
    (void)setvbuf(states->sink->file, NULL, _IOLBF, BUFSIZ);
    (void)lamp_export_states_begin(states->sink->file);
    states->has_head = true;
}

static void write_row(struct lamp_states *states, const struct lamp_source *source, size_t lamp,
                      const struct lamp_edge *row)
{
    (void)lamp_export_states_push(states->sink->file, lamp_source_lamp_name(source, lamp), row);
    states->last_ns[lamp] = row->t_ns;
}

/* The lamp is as it was until `t_ns`. */
static void write_still(struct lamp_states *states, const struct lamp_source *source, size_t lamp,
                        int64_t t_ns)
{
    const struct lamp_edge row = {
        .t_ns = t_ns, .sd_ns = LAMP_EXPORT_NO_SD, .lit = states->is_lit[lamp]};
    if (states->has_begun[lamp] && t_ns > states->last_ns[lamp]) {
        write_row(states, source, lamp, &row);
    }
}

void lamp_states_push(struct lamp_states *states, const struct lamp_source *source,
                      const struct lamp_item *item)
{
    size_t lamp = item->lamp;
    if (!states->has_head) {
        begin(states);
    }
    if (item->kind == LAMP_ITEM_BREAK) {
        write_still(states, source, lamp, item->break_ns);
        states->has_begun[lamp] = false;
        return;
    }
    struct lamp_edge edge = item->edge;
    edge.sd_ns = states->has_begun[lamp] ? edge.sd_ns : 0;
    if (states->has_begun[lamp] && edge.t_ns < states->last_ns[lamp]) {
        edge.t_ns = states->last_ns[lamp];
    }
    if (edge.sd_ns > 0) {
        write_still(states, source, lamp, edge.t_ns - 1);
    }
    write_row(states, source, lamp, &edge);
    states->has_begun[lamp] = true;
    states->is_lit[lamp] = edge.lit;
}

void lamp_states_run_on(struct lamp_states *states, const struct lamp_source *source, int64_t t_ns)
{
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        write_still(states, source, i, t_ns);
    }
}
