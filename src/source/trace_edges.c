/* trace_edges.c - Edges written as a trace: rows that tell how well the time of a change is known.
 */
#include "source/trace_edges.h"

#include <string.h>

/* Two rows alike have a change between them that was lost, as have two that differ without saying
 * when. */
bool lamp_trace_edges_take(struct lamp_trace_edges *edges, size_t lamp, const struct lamp_edge *row,
                           struct lamp_edge *out)
{
    bool goes_on = edges->is_known[lamp];
    bool is_change = row->lit != edges->is_lit[lamp];
    edges->is_known[lamp] = true;
    edges->is_lit[lamp] = row->lit;
    if (goes_on && !is_change && row->sd_ns == LAMP_TRACE_NO_SD) {
        return false;
    }
    *out = *row;
    out->sd_ns = goes_on && is_change && row->sd_ns > 0 ? row->sd_ns : 0;
    edges->hole_count += goes_on && out->sd_ns == 0;
    return true;
}

void lamp_trace_edges_lose(struct lamp_trace_edges *edges)
{
    memset(edges->is_known, 0, sizeof edges->is_known);
}
