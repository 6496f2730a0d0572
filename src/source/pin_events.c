/* pin_events.c - What the kernel saw of a line, as edges: lost events told, bounces left out,
 * storms noticed. */
#include "source/pin_events.h"

#include <assert.h>
#include <math.h>

#include "base/number.h"

/* A line that does not come to rest within so many debounces does not bounce: a lamp that is dimmed
 * by switching, or noise. */
enum { BURST_DEBOUNCES = 10 };

static void tell(struct lamp_pin_events *events, int64_t t_ns, int64_t sd_ns, bool is_lit)
{
    assert(!events->has_ready);
    events->has_ready = true;
    events->ready = (struct lamp_edge){.t_ns = t_ns, .sd_ns = sd_ns, .lit = is_lit};
    events->is_lit = is_lit;
}

void lamp_pin_events_begin(struct lamp_pin_events *events,
                           const struct lamp_pin_events_rules *rules, bool is_active,
                           int64_t read_ns)
{
    *events = (struct lamp_pin_events){.rules = *rules, .read_ns = read_ns, .is_active = is_active};
    tell(events, 0, 0, is_active);
}

/* The light changed somewhere in the burst, which begins with the first change that is told:
 * uniform errors from 0 to its length have a root mean square of that over sqrt(3). */
static int64_t burst_sd_ns(const struct lamp_pin_events *events)
{
    double length_ns = (double)(events->burst.last_ns - events->burst.first_ns);
    return (int64_t)llround(hypot((double)events->rules.sd_ns, length_ns / sqrt(3)));
}

/* The line is at rest by `t_ns`: what was a burst is one edge, or none. */
static void settle(struct lamp_pin_events *events, int64_t t_ns)
{
    struct lamp_pin_burst *burst = &events->burst;
    int64_t debounce_ns = events->rules.debounce_ns;
    if (burst->count == 0 || t_ns - burst->last_ns < debounce_ns) {
        return;
    }
    if (burst->last_ns - burst->first_ns > BURST_DEBOUNCES * debounce_ns) {
        events->restless_count++;
        tell(events, burst->last_ns, 0, events->is_active);
    } else {
        events->short_count += burst->count / 2;
        if (events->is_active != events->is_lit) {
            tell(events, burst->first_ns, burst_sd_ns(events), events->is_active);
        }
    }
    burst->count = 0;
}

static void count_rate(struct lamp_pin_events *events, int64_t t_ns, uint64_t count)
{
    if (t_ns - events->window_ns >= LAMP_NS_PER_S) {
        events->window_ns = t_ns;
        events->window_count = 0;
    }
    events->window_count += count;
    if (events->window_count > events->fastest_count) {
        events->fastest_count = events->window_count;
    }
}

/* How many events are missing before this one, by their numbers or because the queue was full. The
 * numbers go round after 2^32. */
static uint64_t count_missing(struct lamp_pin_events *events, const struct lamp_gpio_event *event)
{
    uint64_t missing = events->is_doubtful;
    if (events->rules.is_numbered) {
        missing = (uint32_t)(event->number - events->number - 1);
    }
    events->number = event->number;
    events->is_doubtful = false;
    return missing;
}

/* What the line did until now is not known. */
static void restart(struct lamp_pin_events *events, int64_t t_ns, uint64_t lost)
{
    events->lost_count += lost;
    events->burst.count = 0;
    tell(events, t_ns, 0, events->is_active);
}

static void join_burst(struct lamp_pin_events *events, int64_t t_ns, unsigned count)
{
    struct lamp_pin_burst *burst = &events->burst;
    burst->first_ns = burst->count == 0 ? t_ns : burst->first_ns;
    burst->last_ns = t_ns;
    burst->count += count;
}

/* The line was read too late to see it change and change back; with a debounce that is one more
 * change that did not last. */
static void stay(struct lamp_pin_events *events, int64_t t_ns)
{
    if (t_ns <= events->read_ns) {
        return; /* The value that was read holds this change already. */
    }
    if (events->rules.debounce_ns == 0) {
        restart(events, t_ns, 1);
    } else {
        join_burst(events, t_ns, 2);
    }
}

static void take_change(struct lamp_pin_events *events, int64_t t_ns, bool is_active)
{
    settle(events, t_ns);
    bool is_change = is_active != events->is_active;
    events->is_active = is_active;
    if (!is_change) {
        stay(events, t_ns);
    } else if (events->rules.debounce_ns == 0) {
        tell(events, t_ns, events->rules.sd_ns, is_active);
    } else {
        join_burst(events, t_ns, 1);
    }
}

/* Nothing is known of a burst before it is over. */
static void know(struct lamp_pin_events *events, int64_t t_ns)
{
    t_ns = events->burst.count > 0 ? events->burst.first_ns : t_ns;
    events->known_ns = t_ns > events->known_ns ? t_ns : events->known_ns;
}

void lamp_pin_events_push(struct lamp_pin_events *events, const struct lamp_gpio_event *event)
{
    assert(!events->has_ready);
    uint64_t missing = count_missing(events, event);
    if (event->t_ns < 0) {
        return; /* Before the line's value was read, which holds it. */
    }
    /* Two at one time are 1 ns apart: no length is nothing. */
    int64_t t_ns = event->t_ns > events->last_ns ? event->t_ns : events->last_ns + 1;
    events->last_ns = t_ns;
    count_rate(events, t_ns, 1 + missing);
    if (missing > 0) {
        events->is_active = event->is_active;
        restart(events, t_ns, missing);
    } else {
        take_change(events, t_ns, event->is_active);
    }
    know(events, t_ns);
}

void lamp_pin_events_wait(struct lamp_pin_events *events, int64_t t_ns)
{
    settle(events, t_ns);
    know(events, t_ns);
}

void lamp_pin_events_doubt(struct lamp_pin_events *events)
{
    events->is_doubtful = true;
}

void lamp_pin_events_restart(struct lamp_pin_events *events, bool is_active, int64_t t_ns,
                             int64_t until_ns)
{
    events->is_active = is_active;
    events->is_doubtful = false;
    events->read_ns = until_ns;
    events->last_ns = t_ns > events->last_ns ? t_ns : events->last_ns + 1;
    restart(events, events->last_ns, 1);
    know(events, events->last_ns);
}

int64_t lamp_pin_events_ripe_ns(const struct lamp_pin_events *events)
{
    return events->burst.count > 0 ? events->burst.last_ns + events->rules.debounce_ns : INT64_MAX;
}

bool lamp_pin_events_next(struct lamp_pin_events *events, struct lamp_edge *out)
{
    if (!events->has_ready) {
        return false;
    }
    *out = events->ready;
    events->has_ready = false;
    return true;
}
