/* pin_events.c - What the kernel saw of a line, as edges: lost events told, bounces left out,
 * storms noticed. */
#include "source/pin_events.h"

#include <assert.h>

#include "base/number.h"

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

/* A change that waits has lasted by `t_ns`. */
static void ripen(struct lamp_pin_events *events, int64_t t_ns)
{
    if (events->is_pending && t_ns - events->pending_ns >= events->rules.debounce_ns) {
        events->is_pending = false;
        tell(events, events->pending_ns, events->rules.sd_ns, !events->is_lit);
    }
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
    events->is_pending = false;
    tell(events, t_ns, 0, events->is_active);
}

static void change(struct lamp_pin_events *events, int64_t t_ns)
{
    if (events->rules.debounce_ns == 0) {
        tell(events, t_ns, events->rules.sd_ns, events->is_active);
        return;
    }
    events->is_pending = events->is_active != events->is_lit;
    events->pending_ns = t_ns;
    events->short_count += !events->is_pending;
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
        return;
    }
    events->short_count++;
    events->pending_ns = t_ns;
}

static void take_change(struct lamp_pin_events *events, int64_t t_ns, bool is_active)
{
    ripen(events, t_ns);
    bool is_change = is_active != events->is_active;
    events->is_active = is_active;
    if (is_change) {
        change(events, t_ns);
    } else {
        stay(events, t_ns);
    }
}

static void know(struct lamp_pin_events *events, int64_t t_ns)
{
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
    know(events, t_ns);
    if (missing > 0) {
        events->is_active = event->is_active;
        restart(events, t_ns, missing);
    } else {
        take_change(events, t_ns, event->is_active);
    }
}

void lamp_pin_events_wait(struct lamp_pin_events *events, int64_t t_ns)
{
    ripen(events, t_ns);
    know(events, events->is_pending ? events->pending_ns : t_ns);
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
    know(events, events->last_ns);
    restart(events, events->last_ns, 1);
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
