/* trace_edges.h - Edges written as a trace: rows that tell how well the time of a change is known.
 *
 *   time_s,lamp,level,sd_s
 *   0,led,0,0              dark from here on; what was before is not known
 *   0.199999999,led,0,     still dark
 *   0.2,led,1,0.00002      came on, at a time known to 20 us
 *   0.9,led,0,0            dark from here on; when it went off is not known
 */
#ifndef LAMP_SOURCE_TRACE_EDGES_H
#define LAMP_SOURCE_TRACE_EDGES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/source.h"

/** What such a row leaves empty where nothing changed. */
#define LAMP_TRACE_NO_SD (-1)

/** The lamps of an edge trace; begin with all zero. */
struct lamp_trace_edges {
    bool is_known[LAMP_SOURCE_LAMPS_MAX]; /**< Since the last row that could not be read. */
    bool is_lit[LAMP_SOURCE_LAMPS_MAX];
    uint64_t hole_count; /**< Rows before which edges are missing. */
};

/**
 * Take a row in.
 * @param row  its sd_ns may be LAMP_TRACE_NO_SD.
 * @param out  the edge, with sd 0 where it is the value from there on; set only if there is one.
 * @return whether the row tells more than that the light is as it was.
 */
bool lamp_trace_edges_take(struct lamp_trace_edges *edges, size_t lamp, const struct lamp_edge *row,
                           struct lamp_edge *out);

/** A row was lost: of no lamp is known what it did since its last one. */
void lamp_trace_edges_lose(struct lamp_trace_edges *edges);

#endif
