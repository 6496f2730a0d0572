/* wires.h - Edges into a VCD as they come; the first values are known once time goes on. */
#ifndef LAMP_RECORD_WIRES_H
#define LAMP_RECORD_WIRES_H

#include "lampread/error.h"
#include "lampread/export.h"
#include "lampread/source.h"
#include "record/sink.h"

/** Edges being kept; begin with all zero and the sink. */
struct lamp_wires {
    struct lamp_sink *sink;           /**< Borrowed. */
    struct lamp_export_edges *writer; /**< NULL while all is the first moment. */
    bool has_first;
    int64_t first_ns;
    int64_t last_ns; /**< Last time written. */
    bool starts_lit[LAMP_SOURCE_LAMPS_MAX];
    char name[LAMP_SOURCE_LAMPS_MAX][64]; /**< As a VCD may hold it. */
};

/** Keep one edge. @return LAMP_OK, LAMP_BAD_USE (a name no VCD can hold), LAMP_NO_MEMORY. Failures
 * to write show in the sink. */
enum lamp_err lamp_wires_push(struct lamp_wires *wires, const struct lamp_source *source,
                              const struct lamp_item *item, struct lamp_error *error);

/** Say that the light went on until `t_ns`. As lamp_wires_push. */
enum lamp_err lamp_wires_run_on(struct lamp_wires *wires, const struct lamp_source *source,
                                int64_t t_ns, struct lamp_error *error);

/** Free what it holds. */
void lamp_wires_fini(struct lamp_wires *wires);

#endif
