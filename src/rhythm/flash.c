/* flash.c - Edges to lengths: lit and dark by turns, each with its uncertainty. */
#include "lampread/flash.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Twice the lengths kept: when it is full the newer half moves down, so that they always lie in one
 * row. */
#define ROOM ((size_t)2 * LAMP_LENGTHS_MAX)

struct lamp_lengths {
    bool is_open; /* In view: `open` has begun. */
    struct lamp_length open;
    int64_t open_sd_ns; /* Of its beginning. */
    size_t first;
    size_t count;
    uint64_t lost;
    uint64_t ignored;
    struct lamp_length at[ROOM];
};

enum lamp_err lamp_lengths_new(struct lamp_lengths **out)
{
    struct lamp_lengths *lengths = calloc(1, sizeof *lengths);
    if (lengths == NULL) {
        return LAMP_NO_MEMORY;
    }
    *out = lengths;
    return LAMP_OK;
}

static void keep(struct lamp_lengths *lengths, const struct lamp_length *length)
{
    if (lengths->count == LAMP_LENGTHS_MAX) {
        lengths->first++;
        lengths->count--;
        lengths->lost++;
    }
    if (lengths->first + lengths->count == ROOM) {
        memmove(lengths->at, lengths->at + lengths->first, lengths->count * sizeof lengths->at[0]);
        lengths->first = 0;
    }
    lengths->at[lengths->first + lengths->count] = *length;
    lengths->count++;
}

/* The length in view ends at `t_ns`. One that lasted no time and was not seen to begin or end tells
 * nothing. */
static void close_open(struct lamp_lengths *lengths, int64_t t_ns, int64_t sd_ns, bool cut_after)
{
    struct lamp_length *open = &lengths->open;
    open->ns = t_ns > open->start_ns ? t_ns - open->start_ns : 0;
    open->sd_ns = (int64_t)llround(hypot((double)lengths->open_sd_ns, (double)sd_ns));
    open->cut_after = cut_after;
    if (open->ns > 0 || !(open->cut_before || cut_after)) {
        keep(lengths, open);
    }
}

static void begin_open(struct lamp_lengths *lengths, const struct lamp_edge *edge, bool cut_before)
{
    lengths->open =
        (struct lamp_length){.start_ns = edge->t_ns, .lit = edge->lit, .cut_before = cut_before};
    lengths->open_sd_ns = edge->sd_ns;
    lengths->is_open = true;
}

void lamp_lengths_begin(struct lamp_lengths *lengths, int64_t t_ns, bool lit)
{
    lamp_lengths_end(lengths, t_ns);
    begin_open(lengths, &(struct lamp_edge){.t_ns = t_ns, .lit = lit}, true);
}

void lamp_lengths_push(struct lamp_lengths *lengths, const struct lamp_edge *edge)
{
    if (!lengths->is_open) {
        begin_open(lengths, edge, true);
        return;
    }
    if (edge->lit == lengths->open.lit) {
        lengths->ignored++;
        return;
    }
    lamp_lengths_note_hole(lengths, &edge->hole);
    bool was_never_seen = lengths->open.cut_before && edge->t_ns <= lengths->open.start_ns;
    close_open(lengths, edge->t_ns, edge->sd_ns, false);
    begin_open(lengths, edge, was_never_seen);
}

void lamp_lengths_note_hole(struct lamp_lengths *lengths, const struct lamp_hole *hole)
{
    struct lamp_hole *longest = &lengths->open.hole;
    if (hole->end_ns - hole->start_ns > longest->end_ns - longest->start_ns) {
        *longest = *hole;
    }
}

void lamp_lengths_end(struct lamp_lengths *lengths, int64_t t_ns)
{
    if (lengths->is_open) {
        close_open(lengths, t_ns, 0, true);
    }
    lengths->is_open = false;
}

const struct lamp_length *lamp_lengths_all(const struct lamp_lengths *lengths, size_t *count)
{
    *count = lengths->count;
    return lengths->at + lengths->first;
}

uint64_t lamp_lengths_lost(const struct lamp_lengths *lengths)
{
    return lengths->lost;
}

uint64_t lamp_lengths_ignored(const struct lamp_lengths *lengths)
{
    return lengths->ignored;
}

void lamp_lengths_copy(struct lamp_lengths *to, const struct lamp_lengths *from)
{
    to->is_open = from->is_open;
    to->open = from->open;
    to->open_sd_ns = from->open_sd_ns;
    to->first = 0;
    to->count = from->count;
    to->lost = from->lost;
    to->ignored = from->ignored;
    memcpy(to->at, from->at + from->first, from->count * sizeof to->at[0]);
}

void lamp_lengths_reset(struct lamp_lengths *lengths)
{
    lengths->is_open = false;
    lengths->first = 0;
    lengths->count = 0;
    lengths->lost = 0;
    lengths->ignored = 0;
}

void lamp_lengths_free(struct lamp_lengths *lengths)
{
    free(lengths);
}
