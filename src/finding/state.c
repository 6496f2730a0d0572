/* state.c - A lamp as findings see it: whether it fits a condition, what it shows in words. */
#include "finding/state.h"

#include <stdio.h>
#include <string.h>

const struct lamp_lamp_state *lamp_bench_find(const struct lamp_bench *bench, const char *name)
{
    for (size_t i = 0; i < bench->lamp_count; i++) {
        if (strcmp(bench->lamp[i].name, name) == 0) {
            return &bench->lamp[i];
        }
    }
    return NULL;
}

bool lamp_state_fits(const struct lamp_lamp_state *state, const struct lamp_book *book,
                     const char *value)
{
    const struct lamp_match *match = state->match;
    if (strcmp(lamp_verdict_name(match->verdict), value) == 0) {
        return true;
    }
    return match->has_entry && match->candidate[0].book == book &&
           strcmp(match->candidate[0].code->id, value) == 0;
}

static const char *verdict_words(enum lamp_verdict verdict)
{
    switch (verdict) {
    case LAMP_VERDICT_STEADY_ON: return "is lit throughout";
    case LAMP_VERDICT_STEADY_OFF: return "is dark throughout";
    case LAMP_VERDICT_BLINK: return "blinks evenly";
    case LAMP_VERDICT_CODE: return "shows a code";
    case LAMP_VERDICT_UNLISTED: return "shows a code that no book lists";
    case LAMP_VERDICT_FLICKER: return "flickers with no rhythm";
    case LAMP_VERDICT_FADE: return "swells and sinks smoothly";
    case LAMP_VERDICT_UNDECIDED: break;
    }
    return "is not decided";
}

void lamp_state_say(const struct lamp_lamp_state *state, char out[LAMP_REASON_MAX])
{
    const struct lamp_match *match = state->match;
    if (match->has_entry && match->verdict != LAMP_VERDICT_FLICKER) {
        (void)snprintf(out, LAMP_REASON_MAX, "%.60s lamp shows '%.60s'", state->name,
                       match->candidate[0].code->id);
        return;
    }
    (void)snprintf(out, LAMP_REASON_MAX, "%.60s lamp %s", state->name,
                   verdict_words(match->verdict));
}

static const char *book_shows(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return book->lamp[i].shows;
        }
    }
    return NULL;
}

const char *lamp_bench_shows(const struct lamp_bench *bench, const char *name)
{
    const char *shows = NULL;
    for (size_t b = 0; b < bench->book_count && shows == NULL; b++) {
        shows = book_shows(bench->book[b], name);
    }
    return shows;
}

bool lamp_bench_is_power(const struct lamp_bench *bench, const char *name)
{
    const char *shows = lamp_bench_shows(bench, name);
    if (shows != NULL) {
        return strstr(shows, "rail") != NULL || strstr(shows, "supply") != NULL;
    }
    return strcmp(name, "power") == 0 || strcmp(name, "pwr") == 0 || strcmp(name, "PWR") == 0;
}

bool lamp_state_gives_light(const struct lamp_lamp_state *state)
{
    return state->match->verdict != LAMP_VERDICT_STEADY_OFF &&
           state->match->verdict != LAMP_VERDICT_UNDECIDED;
}
