/* pin.c - A photodiode on a GPIO line, live: each change of the line is an edge, stamped by the
 * kernel. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/form.h"
#include "source/pin_events.h"
#include "source/pin_fault.h"
#include "source/pin_name.h"

/* From the light's change to the kernel's stamp: an interrupt is served within some 20 us where the
 * machine is not busy (common practice, no source; 7 us at most were seen on a simulated chip of an
 * idle virtual machine). The lag of the comparator is not known and not in it; it is alike for all
 * edges of one direction. */
static const int64_t stamp_sd_ns = 20000;

static const int64_t debounce_most_ns = LAMP_NS_PER_S;

enum pin_note { NOTE_LOST = 1, NOTE_STORM, NOTE_SHORT, NOTE_RESTLESS };

struct pin {
    struct lamp_input *input;
    struct lamp_pin_place place;
    struct lamp_gpio_watch *watch;
    struct lamp_gpio_deal deal;
    int64_t opened_ns; /* Time zero of the edges, on the clock of the events. */
    struct lamp_pin_events events;
    struct lamp_gpio_event batch[LAMP_GPIO_BATCH];
    size_t batch_count;
    size_t batch_at;
};

static bool suits_pin(const struct lamp_sniff *sniff)
{
    return (sniff->is_absent || sniff->is_device) && lamp_pin_name_suits(sniff->name);
}

static void close_pin(void *state)
{
    struct pin *pin = state;
    lamp_gpio_watch_close(pin->watch);
    lamp_gpio_chip_close(pin->place.chip);
    free(pin);
}

static enum lamp_err check_rules(const struct lamp_source_rules *rules, const char *name,
                                 struct lamp_error *error)
{
    if (rules->pin.debounce_ns < 0 || rules->pin.debounce_ns > debounce_most_ns) {
        return lamp_fail(error, LAMP_BAD_USE, name,
                         "the debounce is out of range: expected 0 to 1 s");
    }
    if (rules->pin.pull < LAMP_PULL_AS_IS || rules->pin.pull > LAMP_PULL_DOWN) {
        return lamp_fail(error, LAMP_BAD_USE, name, "there is no such pull of a line");
    }
    return LAMP_OK;
}

static enum lamp_err watch_line(struct pin *pin, struct lamp_error *error)
{
    const struct lamp_source_rules *rules = &pin->input->rules;
    const char *name = pin->input->name;
    struct lamp_pin *line = &pin->place.line;
    if (line->is_used) {
        return lamp_pin_fail_used(name, line, error);
    }
    if (line->is_output) {
        return lamp_pin_fail_output(name, error);
    }
    const struct lamp_gpio_wish wish = {
        .offset = line->offset, .pull = rules->pin.pull, .is_active_low = rules->pin.is_active_low};
    int code = lamp_gpio_watch_open(pin->place.chip, &wish, &pin->watch, &pin->deal);
    /* Something else was quicker. */
    if (code != 0 && lamp_gpio_line_describe(pin->place.chip, line->offset, line) == 0 &&
        line->is_used) {
        return lamp_pin_fail_used(name, line, error);
    }
    return code == 0 ? LAMP_OK : lamp_pin_fail_watch(name, rules, code, error);
}

/* Time zero is when the line's value is read: it may be of any moment until it is there. */
static enum lamp_err read_first(struct pin *pin, struct lamp_error *error)
{
    bool is_active = false;
    pin->opened_ns = lamp_gpio_now_ns();
    int code = lamp_gpio_watch_value(pin->watch, &is_active);
    if (code != 0) {
        return lamp_pin_fail_gone(pin->input->name, code, error);
    }
    const struct lamp_pin_events_rules rules = {.debounce_ns = pin->input->rules.pin.debounce_ns,
                                                .sd_ns = stamp_sd_ns,
                                                .is_numbered = pin->deal.is_numbered};
    lamp_pin_events_begin(&pin->events, &rules, is_active, lamp_gpio_now_ns() - pin->opened_ns);
    return LAMP_OK;
}

static void add_lamp(struct pin *pin)
{
    const struct lamp_pin *line = &pin->place.line;
    bool is_named = lamp_names_is_fit(line->name);
    (void)lamp_names_add(&pin->input->names, is_named ? line->name : pin->place.title);
}

static enum lamp_err open_pin(struct lamp_input *input, const struct lamp_sniff *sniff,
                              void **state, struct lamp_error *error)
{
    enum lamp_err failed = check_rules(&input->rules, sniff->name, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    struct pin *pin = calloc(1, sizeof *pin);
    if (pin == NULL) {
        return lamp_fail_memory(error);
    }
    pin->input = input;
    failed = lamp_pin_find(sniff->name, &pin->place, error);
    failed = failed == LAMP_OK ? watch_line(pin, error) : failed;
    failed = failed == LAMP_OK ? read_first(pin, error) : failed;
    if (failed != LAMP_OK) {
        close_pin(pin);
        return failed;
    }
    add_lamp(pin);
    *state = pin;
    return LAMP_OK;
}

static void note_all(struct pin *pin)
{
    const struct lamp_pin_events *events = &pin->events;
    struct lamp_notes *notes = &pin->input->notes;
    if (events->lost_count > 0) {
        lamp_notes_say(notes, NOTE_LOST,
                       "changes of the line that were lost, at least: %llu: the light is not known "
                       "around them",
                       (unsigned long long)events->lost_count);
    }
    if (events->fastest_count >= LAMP_PIN_STORM_COUNT) {
        lamp_notes_say(
            notes, NOTE_STORM,
            "%llu changes in one second are too fast for a lamp (PWM dimming, room light "
            "or noise): add a capacitor, shield the sensor or raise the debounce",
            (unsigned long long)events->fastest_count);
    }
    if (events->short_count > 0) {
        lamp_notes_say(notes, NOTE_SHORT, "changes shorter than the debounce, left out: %llu",
                       (unsigned long long)events->short_count);
    }
    if (events->restless_count > 0) {
        lamp_notes_say(notes, NOTE_RESTLESS,
                       "times that the line did not come to rest between its changes: %llu: the "
                       "light is not known there",
                       (unsigned long long)events->restless_count);
    }
}

static void take_event(struct pin *pin)
{
    struct lamp_gpio_event event = pin->batch[pin->batch_at++];
    event.t_ns -= pin->opened_ns;
    lamp_pin_events_push(&pin->events, &event);
    /* All that the queue holds: what came after the last of it had no room. */
    if (pin->batch_at == pin->batch_count && pin->batch_count >= pin->deal.queue_count) {
        lamp_pin_events_doubt(&pin->events);
    }
    note_all(pin);
}

/* An edge from the events at hand. */
static bool take_ready(struct pin *pin, struct lamp_item *out)
{
    struct lamp_edge edge;
    while (!lamp_pin_events_next(&pin->events, &edge)) {
        if (pin->batch_at == pin->batch_count) {
            return false;
        }
        take_event(pin);
    }
    *out = (struct lamp_item){.kind = LAMP_ITEM_EDGE, .edge = edge};
    lamp_pace_push(&pin->input->pace, 0, edge.t_ns, 0);
    return true;
}

/* The kernel's queue was full, and nothing came since: what the line is must be read. */
static int read_again(struct pin *pin)
{
    bool is_active = false;
    int64_t from_ns = lamp_gpio_now_ns() - pin->opened_ns;
    int code = lamp_gpio_watch_value(pin->watch, &is_active);
    if (code == 0) {
        lamp_pin_events_restart(&pin->events, is_active, from_ns,
                                lamp_gpio_now_ns() - pin->opened_ns);
        note_all(pin);
    }
    return code;
}

/* Wait for events, at most until a change that waits to last has done so. */
static enum lamp_err fetch(struct pin *pin, int64_t now_ns, int64_t until_ns,
                           struct lamp_error *error)
{
    int64_t ripe_ns = lamp_pin_events_ripe_ns(&pin->events);
    if (ripe_ns < until_ns - pin->opened_ns) {
        until_ns = pin->opened_ns + ripe_ns;
    }
    int64_t wait_ns = until_ns > now_ns && !pin->events.is_doubtful ? until_ns - now_ns : 0;
    size_t count = 0;
    int code = lamp_gpio_watch_take(pin->watch, wait_ns, pin->batch, &count);
    pin->batch_at = 0;
    pin->batch_count = count;
    if (code == 0 && count == 0 && pin->events.is_doubtful) {
        code = read_again(pin);
    } else if (code == 0 && count == 0) {
        lamp_pin_events_wait(&pin->events, lamp_gpio_now_ns() - pin->opened_ns);
        note_all(pin);
    }
    return code == 0 ? LAMP_OK : lamp_pin_fail_gone(pin->input->name, code, error);
}

/* However fast events come, it is over by the deadline. */
static enum lamp_err next_edge(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct pin *pin = state;
    int64_t now_ns = lamp_gpio_now_ns();
    int64_t deadline_ns = now_ns + pin->input->rules.wait_ns;
    bool has_asked = false;
    while (!take_ready(pin, out)) {
        if (has_asked && now_ns >= deadline_ns) {
            return LAMP_NOT_YET;
        }
        enum lamp_err failed = fetch(pin, now_ns, deadline_ns, error);
        if (failed != LAMP_OK) {
            return failed;
        }
        has_asked = true;
        now_ns = lamp_gpio_now_ns();
    }
    return LAMP_OK;
}

/* A line that does not change is known all the same: its time goes on between its edges. */
static void describe_pin(const void *state, struct lamp_source_info *out)
{
    const struct pin *pin = state;
    out->duration_s = (double)pin->events.known_ns * 1e-9;
    out->rate_hz = 0;
    out->dropped_count = pin->events.lost_count;
}

static double pin_progress(const void *state)
{
    (void)state;
    return -1;
}

const struct lamp_form lamp_form_pin = {
    .kind = LAMP_SOURCE_PIN,
    .suits = suits_pin,
    .open = open_pin,
    .next = next_edge,
    .describe = describe_pin,
    .progress = pin_progress,
    .close = close_pin,
};
