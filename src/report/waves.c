/* waves.c - The edges of a report as VCD, each lamp's groups beside its wire. */
#include "lampread/export.h"
#include "report/turns.h"

/* A VCD on its way. Its times begin at `origin_ns`: 0, or the first light where that is earlier. */
struct waves {
    const struct lamp_report *report;
    struct lamp_export_edges *writer;
    int64_t origin_ns;
    int64_t start_ns;
    int64_t end_ns;
    int64_t
        lost_ns[LAMP_REPORT_LAMPS_MAX]; /* When a lamp went out of view; INT64_MAX: it did not. */
};

static int64_t end_of(const struct lamp_length *length)
{
    return length->start_ns + length->ns;
}

/* When the light of all lamps begins and ends. */
static void find_span(struct waves *waves)
{
    waves->start_ns = INT64_MAX;
    waves->end_ns = 0;
    for (size_t i = 0; i < waves->report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &waves->report->lamp[i];
        waves->lost_ns[i] = INT64_MAX;
        if (lamp->length_count > 0) {
            int64_t start_ns = lamp->length[0].start_ns;
            int64_t end_ns = end_of(&lamp->length[lamp->length_count - 1]);
            waves->start_ns = start_ns < waves->start_ns ? start_ns : waves->start_ns;
            waves->end_ns = end_ns > waves->end_ns ? end_ns : waves->end_ns;
        }
    }
    waves->start_ns = waves->start_ns == INT64_MAX ? 0 : waves->start_ns;
    waves->origin_ns = waves->start_ns < 0 ? waves->start_ns : 0;
}

static enum lamp_err open_writer(struct waves *waves, FILE *out)
{
    struct lamp_export_lamp lamp[LAMP_REPORT_LAMPS_MAX];
    struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    for (size_t i = 0; i < waves->report->lamp_count; i++) {
        const struct lamp_report_lamp *told = &waves->report->lamp[i];
        bool is_seen = told->length_count > 0 && told->length[0].start_ns <= waves->start_ns;
        lamp[i] = (struct lamp_export_lamp){.name = told->name,
                                            .starts_lit = is_seen && told->length[0].lit,
                                            .starts_unseen = !is_seen};
    }
    rules.start_ns = waves->start_ns - waves->origin_ns;
    rules.has_marks = true;
    return lamp_export_edges_new(out, &rules, lamp, waves->report->lamp_count, &waves->writer);
}

/* The lamp that went out of view first, no later than `t_ns`; the count of lamps if none did. */
static size_t find_lost(const struct waves *waves, int64_t t_ns)
{
    size_t found = waves->report->lamp_count;
    for (size_t i = 0; i < waves->report->lamp_count; i++) {
        if (waves->lost_ns[i] <= t_ns) {
            t_ns = waves->lost_ns[i];
            found = i;
        }
    }
    return found;
}

/* The lamps that went out of view no later than `t_ns`. */
static enum lamp_err write_losses(struct waves *waves, int64_t t_ns)
{
    size_t lamp;
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && (lamp = find_lost(waves, t_ns)) < waves->report->lamp_count) {
        const struct lamp_export_mark none = {.class = ""};
        int64_t lost_ns = waves->lost_ns[lamp] - waves->origin_ns;
        waves->lost_ns[lamp] = INT64_MAX;
        err = lamp_export_edges_lose(waves->writer, lamp, lost_ns);
        if (err == LAMP_OK) {
            err = lamp_export_edges_mark(waves->writer, lamp, lost_ns, &none);
        }
    }
    return err;
}

/* The value that a lamp has from this length on, unless its wire has it already. */
static enum lamp_err write_length(struct waves *waves, const struct lamp_turn *turn)
{
    const struct lamp_length *length = turn->length;
    bool is_there = turn->is_first ? length->start_ns <= waves->start_ns
                                   : !length->cut_before && length->lit == length[-1].lit;
    const struct lamp_edge edge = {
        .t_ns = length->start_ns - waves->origin_ns, .sd_ns = length->sd_ns, .lit = length->lit};
    const struct lamp_export_mark mark = {.class = lamp_class_name(turn->role.class),
                                          .group = turn->role.group,
                                          .repeat = turn->role.repeat};
    enum lamp_err err =
        is_there ? LAMP_OK : lamp_export_edges_push(waves->writer, turn->lamp, &edge);
    return err == LAMP_OK ? lamp_export_edges_mark(waves->writer, turn->lamp, edge.t_ns, &mark)
                          : err;
}

static enum lamp_err write_all(struct waves *waves)
{
    struct lamp_turns turns;
    struct lamp_turn turn;
    enum lamp_err err = LAMP_OK;
    lamp_turns_begin(&turns, waves->report);
    while (err == LAMP_OK && lamp_turns_next(&turns, &turn)) {
        int64_t end_ns = end_of(turn.length);
        err = write_losses(waves, turn.length->start_ns);
        if (err == LAMP_OK) {
            err = write_length(waves, &turn);
        }
        if (turn.length->cut_after && end_ns < waves->end_ns) {
            waves->lost_ns[turn.lamp] = end_ns;
        }
    }
    if (err == LAMP_OK) {
        err = write_losses(waves, waves->end_ns);
    }
    return err == LAMP_OK ? lamp_export_edges_flush(waves->writer, waves->end_ns - waves->origin_ns)
                          : err;
}

enum lamp_err lamp_report_write_edges(const struct lamp_report *report, FILE *out)
{
    struct waves waves = {.report = report};
    find_span(&waves);
    enum lamp_err err = open_writer(&waves, out);
    if (err == LAMP_OK) {
        err = write_all(&waves);
    }
    lamp_export_edges_free(waves.writer);
    return err;
}
