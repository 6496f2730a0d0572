/* strand.c - One brightness over time, taken through edges to lengths; breaks in sight are kept as
 * breaks.
 *
 *   samples  ....o o o o o|  not known  |o o o o....
 *   lengths  ----lit-----cut             cut--lit---    begun again once the first edge tells the
 * state
 */
#include "pipeline/strand.h"

#include <math.h>
#include <stdlib.h>

struct lamp_strand {
    struct lamp_edger *edger; /* NULL where edges come ready */
    struct lamp_lengths *lengths;
    bool has_light; /* anything was taken */
    bool in_view;   /* lengths were begun and not ended */
    bool waits;     /* light is in view from begin_ns on, its state not told yet */
    int64_t begin_ns;
    int64_t known_ns;    /* second sample since then: an edge before it rests on one sample */
    int64_t floor_sd_ns; /* no edge is known better than that */
    bool had_edge;
    bool is_lit;          /* state after the last edge */
    int64_t last_edge_ns; /* of edges that come ready */
    uint64_t break_count;
    int64_t newest_ns; /* last sample taken */
};

enum lamp_err lamp_strand_new(const struct lamp_edger_rules *rules, struct lamp_strand **out)
{
    struct lamp_strand *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    enum lamp_err failed = lamp_lengths_new(&made->lengths);
    if (failed == LAMP_OK && rules != NULL) {
        failed = lamp_edger_new(rules, &made->edger);
    }
    if (failed != LAMP_OK) {
        lamp_strand_free(made);
        return failed;
    }
    *out = made;
    return LAMP_OK;
}

void lamp_strand_set_floor(struct lamp_strand *strand, int64_t sd_ns)
{
    strand->floor_sd_ns = sd_ns;
}

static void begin(struct lamp_strand *strand, int64_t t_ns, bool lit)
{
    lamp_lengths_begin(strand->lengths, t_ns, lit);
    strand->in_view = true;
    strand->waits = false;
    strand->is_lit = lit;
}

static void end(struct lamp_strand *strand, int64_t t_ns)
{
    if (strand->in_view) {
        lamp_lengths_end(strand->lengths, t_ns);
    }
    strand->in_view = false;
}

/* An edge placed before the light came back into view, or inside the first sample, which has none
 * before it to compare with, only tells the state in which it came back. */
static void take_edge(struct lamp_strand *strand, const struct lamp_edge *edge)
{
    bool unseen = strand->waits && edge->t_ns < strand->known_ns;
    if (strand->waits && !unseen) {
        begin(strand, strand->begin_ns, !edge->lit);
    }
    if (unseen) {
        strand->begin_ns = edge->t_ns > strand->begin_ns ? edge->t_ns : strand->begin_ns;
    } else {
        lamp_lengths_push(strand->lengths, edge);
    }
    strand->is_lit = edge->lit;
    strand->had_edge = true;
}

static void drain(struct lamp_strand *strand)
{
    struct lamp_edge edge;
    while (lamp_edger_next(strand->edger, &edge)) {
        edge.sd_ns = (int64_t)hypot((double)edge.sd_ns, (double)strand->floor_sd_ns);
        take_edge(strand, &edge);
    }
}

/* Everything up to here is decided; the state is known even if no edge ever came. */
static enum lamp_err settle(struct lamp_strand *strand)
{
    enum lamp_err failed = lamp_edger_flush(strand->edger);
    drain(strand);
    if (strand->waits) {
        bool lit = strand->had_edge ? strand->is_lit : lamp_edger_starts_lit(strand->edger);
        begin(strand, strand->begin_ns, lit);
    }
    struct lamp_light_shape shape;
    lamp_edger_describe(strand->edger, &shape);
    const struct lamp_hole hole = lamp_edger_hole(strand->edger);
    lamp_lengths_note_hole(strand->lengths, &hole);
    end(strand, shape.last_ns);
    return failed;
}

enum lamp_err lamp_strand_push(struct lamp_strand *strand, const struct lamp_sample *sample,
                               bool after_break)
{
    if (strand->has_light && after_break) {
        strand->break_count++;
        enum lamp_err failed = settle(strand);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    if (!strand->in_view && !strand->waits) {
        strand->waits = true;
        strand->begin_ns = sample->t_ns;
        strand->known_ns = INT64_MAX;
    } else if (strand->waits && strand->known_ns == INT64_MAX) {
        strand->known_ns = sample->t_ns;
    }
    strand->has_light = true;
    strand->newest_ns = sample->t_ns;
    enum lamp_err failed = lamp_edger_push(strand->edger, sample);
    drain(strand);
    return failed;
}

/* Edges were lost: nothing is known since the last one. A lamp that is as it was has been otherwise
 * meanwhile: that is kept as the shortest length of which neither end was seen, lest it be called
 * steady. */
static void break_off(struct lamp_strand *strand, bool lit)
{
    end(strand, strand->last_edge_ns);
    if (lit == strand->is_lit) {
        begin(strand, strand->last_edge_ns, !lit);
        end(strand, strand->last_edge_ns + 1);
    }
}

void lamp_strand_take_edge(struct lamp_strand *strand, const struct lamp_edge *edge)
{
    strand->has_light = true;
    if (strand->in_view && edge->sd_ns == 0) {
        break_off(strand, edge->lit);
    }
    if (strand->in_view) {
        take_edge(strand, edge);
    } else {
        begin(strand, edge->t_ns, edge->lit);
    }
    strand->last_edge_ns = edge->t_ns;
}

enum lamp_err lamp_strand_finish(struct lamp_strand *strand, int64_t end_ns)
{
    if (strand->edger != NULL) {
        return strand->has_light && (strand->in_view || strand->waits) ? settle(strand) : LAMP_OK;
    }
    end(strand, end_ns);
    return LAMP_OK;
}

enum lamp_err lamp_strand_copy(struct lamp_strand *to, const struct lamp_strand *from)
{
    struct lamp_edger *edger = to->edger;
    struct lamp_lengths *lengths = to->lengths;
    enum lamp_err failed = edger != NULL ? lamp_edger_copy(edger, from->edger) : LAMP_OK;
    if (failed != LAMP_OK) {
        return failed;
    }
    lamp_lengths_copy(lengths, from->lengths);
    *to = *from;
    to->edger = edger;
    to->lengths = lengths;
    return LAMP_OK;
}

void lamp_strand_see_tail(const struct lamp_strand *strand, struct lamp_strand_tail *out)
{
    *out = (struct lamp_strand_tail){.break_count = strand->break_count};
    if (strand->edger != NULL) {
        lamp_edger_see_tail(strand->edger, &out->light);
    }
}

bool lamp_strand_goes_on(const struct lamp_strand *strand, const struct lamp_strand_tail *tail)
{
    return strand->edger != NULL && strand->break_count == tail->break_count &&
           lamp_edger_goes_on(strand->edger, &tail->light);
}

int64_t lamp_strand_newest_ns(const struct lamp_strand *strand)
{
    return strand->newest_ns;
}

bool lamp_strand_takes_edges(const struct lamp_strand *strand)
{
    return strand->edger == NULL;
}

void lamp_strand_see(const struct lamp_strand *strand, struct lamp_strand_view *out)
{
    *out = (struct lamp_strand_view){.has_shape = strand->edger != NULL, .edger = strand->edger};
    out->length = lamp_lengths_all(strand->lengths, &out->count);
    out->lost = lamp_lengths_lost(strand->lengths);
    if (strand->edger != NULL) {
        lamp_edger_describe(strand->edger, &out->shape);
    }
}

void lamp_strand_free(struct lamp_strand *strand)
{
    if (strand == NULL) {
        return;
    }
    lamp_edger_free(strand->edger);
    lamp_lengths_free(strand->lengths);
    free(strand);
}
