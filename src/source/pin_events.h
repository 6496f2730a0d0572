/* pin_events.h - What the kernel saw of a line, as edges: lost events told, bounces left out,
 * storms noticed.
 *
 *   line    ___|'|_|''''''|__        debounce: an edge is where the line began to change, before it
 *   edge       ^          ^          came to rest; its sd is told by how long that took
 *
 *   events  up  down  up     up      one was lost: what the line did since the third is not known,
 *   edges   ^    ^    ^      =       so its value is told anew, as an edge with sd 0
 */
#ifndef LAMP_SOURCE_PIN_EVENTS_H
#define LAMP_SOURCE_PIN_EVENTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "source/gpio.h"

/** Changes a second from which on a line is too fast for a lamp: 90 flashes a second look steady to
 * people (common practice, no source), and room light makes 100 or 120. */
#define LAMP_PIN_STORM_COUNT 180

/** How events are taken. */
struct lamp_pin_events_rules {
    int64_t debounce_ns; /**< Levels that last less are left out; 0: none. */
    int64_t sd_ns;       /**< Standard deviation of a stamp. */
    bool is_numbered;    /**< See struct lamp_gpio_deal. */
};

/** Changes of which each follows the one before it within the debounce. */
struct lamp_pin_burst {
    uint64_t count; /**< 0: the line is at rest. */
    int64_t first_ns;
    int64_t last_ns;
};

/** Events of one line; begin with lamp_pin_events_begin. Times are ns since the line was opened. */
struct lamp_pin_events {
    struct lamp_pin_events_rules rules;
    int64_t read_ns; /**< Until then the value was being read. */
    bool is_active;  /**< After the last event. */
    bool is_lit;     /**< After the last edge told. */
    struct lamp_pin_burst burst;
    bool is_doubtful;        /**< Events may have been lost since the last one. */
    uint32_t number;         /**< Of the last event. */
    int64_t last_ns;         /**< Of the last event. */
    int64_t known_ns;        /**< What the line did is known until then. */
    uint64_t lost_count;     /**< Events lost, at least. */
    uint64_t short_count;    /**< Levels left out because they did not last. */
    uint64_t restless_count; /**< Bursts too long to be one change: the light is not known there. */
    int64_t window_ns;       /**< Events are counted by the second, */
    uint64_t window_count;
    uint64_t fastest_count; /**< this is the most. */
    bool has_ready;
    struct lamp_edge ready;
};

/** Begin with the value the line had when it was opened: the first edge. @param read_ns  how long
 * it took to read it. */
void lamp_pin_events_begin(struct lamp_pin_events *events,
                           const struct lamp_pin_events_rules *rules, bool is_active,
                           int64_t read_ns);

/** Take one event, once lamp_pin_events_next has no more. */
void lamp_pin_events_push(struct lamp_pin_events *events, const struct lamp_gpio_event *event);

/** Nothing more happened until `t_ns`. */
void lamp_pin_events_wait(struct lamp_pin_events *events, int64_t t_ns);

/** Events may have been lost after the last one that was pushed. */
void lamp_pin_events_doubt(struct lamp_pin_events *events);

/** End the doubt by a value that was read from `t_ns` on, until `until_ns`. */
void lamp_pin_events_restart(struct lamp_pin_events *events, bool is_active, int64_t t_ns,
                             int64_t until_ns);

/** When nothing but time is needed for the next edge: its time, else INT64_MAX. */
int64_t lamp_pin_events_ripe_ns(const struct lamp_pin_events *events);

/** The next edge; false if there is none yet. */
bool lamp_pin_events_next(struct lamp_pin_events *events, struct lamp_edge *out);

#endif
