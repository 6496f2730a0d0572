/* export.h - Write traces and edges to the open formats that sources read back: CSV (RFC 4180) and
 * VCD (IEEE 1364). */
#ifndef LAMPREAD_EXPORT_H
#define LAMPREAD_EXPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "lampread/edge.h"
#include "lampread/error.h"
#include "lampread/trace.h"

/** Most lamps of one VCD. */
#define LAMP_EXPORT_LAMPS_MAX 64

/**
 * Begin a trace: writes the header time_s,lamp,level[,exposure_s].
 * @param out  written to and not closed. @return LAMP_OK, LAMP_CANNOT_WRITE.
 */
enum lamp_err lamp_export_trace_begin(FILE *out, bool has_exposure);

/**
 * Write one sample: its time to the ns, its level with as many digits as it takes to read the same
 * number back.
 * @param lamp          name of the lamp; quoted where RFC 4180 wants it.
 * @param has_exposure  as the trace was begun; an exposure that is not known is left empty.
 * @return LAMP_OK, LAMP_CANNOT_WRITE.
 */
enum lamp_err lamp_export_trace_push(FILE *out, bool has_exposure, const char *lamp,
                                     const struct lamp_sample *sample);

/** Begin a trace of edges: writes the header time_s,lamp,level,sd_s. As lamp_export_trace_begin. */
enum lamp_err lamp_export_states_begin(FILE *out);

/** What lamp_export_states_push is given as the sd of a row at which nothing changed. */
#define LAMP_EXPORT_NO_SD (-1)

/**
 * Write what a lamp is from a time on, as level 0 or 1.
 * @param edge  its sd_ns is that of the change; 0: no change but the value from there on;
 *              LAMP_EXPORT_NO_SD: the lamp is as it was.
 * @return LAMP_OK, LAMP_CANNOT_WRITE.
 */
enum lamp_err lamp_export_states_push(FILE *out, const char *lamp, const struct lamp_edge *edge);

/** A lamp of a VCD. */
struct lamp_export_lamp {
    const char *name; /**< 1 to 63 printable ASCII characters without blanks; each name once. */
    bool starts_lit;  /**< Its value until the first edge. */
    bool starts_unseen; /**< It has no value until the first edge. */
};

/** What the light of a lamp is taken for. */
struct lamp_export_mark {
    const char *class; /**< Up to LAMP_EXPORT_CLASS_BYTES of printable ASCII; "" for none. */
    unsigned group;    /**< 0 for none. */
    unsigned repeat;   /**< 0 for none. */
};

/** Longest class of a mark, bytes. */
#define LAMP_EXPORT_CLASS_BYTES 5

/** How edges are written. */
struct lamp_export_edges_rules {
    int64_t step_ns;  /**< Time scale: 1 or 1000; default 1000. Times are rounded to it. */
    int64_t start_ns; /**< Time of the first values, >= 0; default 0. */
    bool has_marks;   /**< Declare NAME_group, NAME_class and NAME_repeat beside each lamp; default false. */
};

/** Writes edges. */
struct lamp_export_edges;

struct lamp_export_edges_rules lamp_export_edges_rules_default(void);

/**
 * Begin a VCD: writes the declarations and the values that the lamps begin with.
 * @param out     written to and not closed; must outlive the writer.
 * @param lamps   `count` lamps, 1 to LAMP_EXPORT_LAMPS_MAX.
 * @param writer  freed by the caller; untouched on failure.
 * @return LAMP_OK, LAMP_BAD_USE (a name, rule or number that a VCD cannot hold; nothing was
 * written), LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_export_edges_new(FILE *out, const struct lamp_export_edges_rules *rules,
                                    const struct lamp_export_lamp *lamps, size_t count,
                                    struct lamp_export_edges **writer);

/**
 * Write one edge of lamp `lamp` (< count). Over all lamps, times must not go back.
 * @return LAMP_OK, LAMP_BAD_USE (before the last time; nothing was written), LAMP_CANNOT_WRITE.
 */
enum lamp_err lamp_export_edges_push(struct lamp_export_edges *writer, size_t lamp,
                                     const struct lamp_edge *edge);

/** Write that lamp `lamp` (< count) is out of view from `t_ns` on, until its next edge. As lamp_export_edges_push. */
enum lamp_err lamp_export_edges_lose(struct lamp_export_edges *writer, size_t lamp, int64_t t_ns);

/**
 * Write what the light of lamp `lamp` (< count) is taken for from `t_ns` on, as far as that is new: NAME_group and NAME_repeat
 * as integers, NAME_class as a register of 8 bits a letter, which viewers show as text where they are told ASCII.
 * As lamp_export_edges_push; LAMP_BAD_USE also without rules.has_marks or with a class that is too long.
 */
enum lamp_err lamp_export_edges_mark(struct lamp_export_edges *writer, size_t lamp, int64_t t_ns,
                                     const struct lamp_export_mark *mark);

/** Write the time at which the recording ends, so that its last length is known. As
 * lamp_export_edges_push. */
enum lamp_err lamp_export_edges_flush(struct lamp_export_edges *writer, int64_t end_ns);

/** Free; NULL is fine. */
void lamp_export_edges_free(struct lamp_export_edges *writer);

#endif
