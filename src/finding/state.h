/* state.h - A lamp as findings see it: whether it fits a condition, what it shows in words. */
#ifndef LAMP_FINDING_STATE_H
#define LAMP_FINDING_STATE_H

#include "finding/readings.h"

/** All that is known of the board. Borrowed. */
struct lamp_bench {
    const struct lamp_lamp_state *lamp;
    size_t lamp_count;
    struct lamp_readings readings;
    const struct lamp_book *const *book;
    size_t book_count;
};

/** The lamp called `name`; NULL: not seen. */
const struct lamp_lamp_state *lamp_bench_find(const struct lamp_bench *bench, const char *name);

/** Whether the lamp shows `value`: a verdict, or a code of `book`. */
bool lamp_state_fits(const struct lamp_lamp_state *state, const struct lamp_book *book,
                     const char *value);

/** "status lamp flickers with no rhythm". */
void lamp_state_say(const struct lamp_lamp_state *state, char out[LAMP_REASON_MAX]);

/** What the books say that the lamp shows ("3.3 V rail"); NULL where they do not say. */
const char *lamp_bench_shows(const struct lamp_bench *bench, const char *name);

/** Whether the lamp is tied to a supply or rail, by its name or by what the books say. */
bool lamp_bench_is_power(const struct lamp_bench *bench, const char *name);

/** Whether any light was seen of it. */
bool lamp_state_gives_light(const struct lamp_lamp_state *state);

#endif
