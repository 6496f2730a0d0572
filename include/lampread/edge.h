/* edge.h - Brightness to edges: two levels that follow the light, edges placed between samples.
 *
 *   level  1 |      .-------.          .----
 *            |     o         o         o         o: a frame the edge fell into, partly exposed:
 *          0 |----'           '-------'             its level says where in the exposure
 *                 ^edge       ^edge    ^edge
 */
#ifndef LAMPREAD_EDGE_H
#define LAMPREAD_EDGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/trace.h"

/** Samples an edger looks at together; older ones are decided and let go. */
#define LAMP_EDGER_WINDOW 2048

/** A time for which no sample stands: frames were lost or left out. None where both are 0. */
struct lamp_hole {
    int64_t start_ns; /**< The exposure before it ended. */
    int64_t end_ns;   /**< The exposure after it began. */
};

/** One change of the light. */
struct lamp_edge {
    int64_t t_ns;          /**< When, ns on the source's clock; never decreases. */
    int64_t sd_ns;         /**< Standard deviation of t_ns, ns, >= 0. */
    bool lit;              /**< True if the lamp came on. */
    struct lamp_hole hole; /**< The longest since the edge before it, either edge may lie in it. */
};

/** What kind of light a trace shows, before any rhythm is looked for. */
enum lamp_shape {
    LAMP_SHAPE_CONSTANT,  /**< One level. */
    LAMP_SHAPE_TWO_LEVEL, /**< On and off (or bright and dim) with hard edges. */
    LAMP_SHAPE_SMOOTH,    /**< Swells and sinks: edges last many samples. */
    LAMP_SHAPE_UNEVEN     /**< Dips and levels of all depths: no two levels explain it. */
};

/** Whether light repeats though it seems to have no rhythm: then it changes faster than its samples can show. */
enum lamp_cycle_sign {
    LAMP_CYCLE_UNKNOWN, /**< Not looked for, or too little was seen. */
    LAMP_CYCLE_NONE,
    LAMP_CYCLE_FOUND
};

/** How edges are placed. */
struct lamp_edger_rules {
    double least_step;        /**< Least change called an edge, share of the lit level, 0..1; default 0.12. */
    double least_level;       /**< Least lit level of a lamp, linear, default 0.004. */
    int64_t least_length_ns;  /**< Shorter lengths are glitches, dropped and counted; default 0 (none). */
};

/** What an edger learnt of the trace. */
struct lamp_light_shape {
    enum lamp_shape shape;
    uint64_t sample_count;
    int64_t first_ns;          /**< Start of the first sample. */
    int64_t last_ns;           /**< End of the last sample: its start plus one sample interval. */
    double rate_hz;            /**< Median sample rate, 0 if fewer than two samples. */
    double lit_level;          /**< Linear; the upper level (the mean where CONSTANT). */
    double dark_level;         /**< Linear; the lower level. */
    double noise;              /**< Standard deviation of one sample, linear. */
    bool is_lit;               /**< CONSTANT only: whether the level is that of a lit lamp. */
    int64_t exposure_ns;       /**< Given or estimated exposure; 0 where it could not be told. */
    double percent_flicker;    /**< (max-min)/(max+min)*100 (CIE International Lighting Vocabulary), robust max and min. */
    double flicker_index;      /**< Area above the mean over total area (IEC 60050 845-22-094). */
    double soft_share;         /**< Share of edges that lasted longer than one exposure can explain. */
    double period_s;           /**< SMOOTH: its period by autocorrelation, 0 if none was found. */
    double fastest_hz;         /**< Highest rate at which the lamp alternates for a while (>= 4 edges), 0 if none. */
    enum lamp_cycle_sign cycle;/**< UNKNOWN until a caller sets what lamp_edger_find_cycle says. */
    uint64_t glitch_count;     /**< Lengths dropped for being shorter than the rule. */
    uint64_t gap_count;        /**< Times that samples were missing for longer than 1.5 intervals. */
};

struct lamp_edger;

struct lamp_edger_rules lamp_edger_rules_default(void);

/** Make an edger. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_edger_new(const struct lamp_edger_rules *rules, struct lamp_edger **out);

/** Give one sample; its time must not be before the last one's (asserted by the caller's side: equal is dropped). */
enum lamp_err lamp_edger_push(struct lamp_edger *edger, const struct lamp_sample *sample);

/** No more samples for now: decide all that is pending. Pushing may go on after it. */
enum lamp_err lamp_edger_flush(struct lamp_edger *edger);

/** Take the next edge; false when there is none yet. Edges alternate and never go back in time. */
bool lamp_edger_next(struct lamp_edger *edger, struct lamp_edge *out);

/** The longest hole since the last edge. Exact right after a flush. */
struct lamp_hole lamp_edger_hole(const struct lamp_edger *edger);

/** What was learnt so far; exact after a flush. */
void lamp_edger_describe(const struct lamp_edger *edger, struct lamp_light_shape *out);

/**
 * Whether light that seems irregular repeats: of the newest samples those up to 12 s in which it
 * changes most are folded at all periods from 8 ms to a sixth of that time.
 * @note Exact right after a flush. Takes some 10 ms.
 */
enum lamp_cycle_sign lamp_edger_find_cycle(const struct lamp_edger *edger);

/** Whether the lamp was lit at the first sample since new or reset; true before any edge if lit throughout. */
bool lamp_edger_starts_lit(const struct lamp_edger *edger);

/** The state in which a flushed edger's light ends. */
struct lamp_edger_tail {
    bool is_known; /**< False where the light was changing, or nothing was seen. */
    int64_t t_ns;  /**< Of the last sample. */
    double level;  /**< Linear. */
    double reach;  /**< Light within so much of `level` goes on as it was. */
};

/** How the light of an edger ends. Exact right after a flush. */
void lamp_edger_see_tail(const struct lamp_edger *edger, struct lamp_edger_tail *out);

/** Whether every sample pushed since `tail` was seen goes on as it was; false where that is not known. Cheap. */
bool lamp_edger_goes_on(const struct lamp_edger *edger, const struct lamp_edger_tail *tail);

/** Make `to` what `from` is: what is done to it then does nothing to `from`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_edger_copy(struct lamp_edger *to, const struct lamp_edger *from);

/** Forget everything but the rules. */
void lamp_edger_reset(struct lamp_edger *edger);

/** Free; NULL is fine. */
void lamp_edger_free(struct lamp_edger *edger);

#endif
