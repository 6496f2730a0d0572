/* states.h - Edges into a trace as they come: each as two rows, what the lamp was and what it is.
 *
 *   level 1          .---------o     the second row tells how well the time of the change is known;
 *         0 o-------o                further ones, now and then, that the light went on
 */
#ifndef LAMP_RECORD_STATES_H
#define LAMP_RECORD_STATES_H

#include "lampread/error.h"
#include "lampread/source.h"
#include "record/sink.h"

/** Edges being kept; begin with all zero and the sink. */
struct lamp_states {
    struct lamp_sink *sink; /**< Borrowed. */
    bool has_head;
    bool has_begun[LAMP_SOURCE_LAMPS_MAX];
    bool is_lit[LAMP_SOURCE_LAMPS_MAX];
    int64_t last_ns[LAMP_SOURCE_LAMPS_MAX]; /**< Of the last row. */
};

/** Keep one edge, or that the lamp went out of view. Failures to write show in the sink. */
void lamp_states_push(struct lamp_states *states, const struct lamp_source *source,
                      const struct lamp_item *item);

/** Say that the light went on until `t_ns`. Failures to write show in the sink. */
void lamp_states_run_on(struct lamp_states *states, const struct lamp_source *source, int64_t t_ns);

#endif
