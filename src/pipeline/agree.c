/* agree.c - Whether two rows of lengths change at the same times. */
#include "pipeline/agree.h"

#include <math.h>

/* A row of lengths, read edge by edge. */
struct row {
    const struct lamp_length *at;
    const struct lamp_length *end;
};

static void skip_cut(struct row *row)
{
    while (row->at < row->end && row->at->cut_before) {
        row->at++;
    }
}

size_t lamp_edges_count(const struct lamp_length *length, size_t count)
{
    size_t edges = 0;
    for (size_t i = 0; i < count; i++) {
        edges += !length[i].cut_before;
    }
    return edges;
}

static bool are_partners(const struct lamp_length *a, const struct lamp_length *b, int64_t slack_ns)
{
    double sd_ns = hypot((double)a->sd_ns, (double)b->sd_ns);
    double allowed_ns = fmax(3 * sd_ns, (double)slack_ns);
    return a->lit == b->lit && fabs((double)(a->start_ns - b->start_ns)) <= allowed_ns;
}

static size_t count_partners(struct row a, struct row b, int64_t slack_ns)
{
    size_t partners = 0;
    for (skip_cut(&a), skip_cut(&b); a.at < a.end && b.at < b.end; skip_cut(&a), skip_cut(&b)) {
        if (are_partners(a.at, b.at, slack_ns)) {
            partners++;
            a.at++;
            b.at++;
        } else if (a.at->start_ns <= b.at->start_ns) {
            a.at++;
        } else {
            b.at++;
        }
    }
    return partners;
}

double lamp_edges_agree(const struct lamp_length *a, size_t a_count, const struct lamp_length *b,
                        size_t b_count, int64_t slack_ns)
{
    size_t edges = lamp_edges_count(a, a_count) + lamp_edges_count(b, b_count);
    if (edges == 0) {
        return 1;
    }
    struct row row_a = {a, a + a_count};
    struct row row_b = {b, b + b_count};
    return 2.0 * (double)count_partners(row_a, row_b, slack_ns) / (double)edges;
}
