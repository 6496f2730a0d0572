/* crossing.c - Where a window's lamp changes state: between which samples, or within which. */
#include "rhythm/crossing.h"

#include <math.h>

/* A flash or break is in doubt if its odds are less than e to this power. */
#define LEAST_GAIN 4.0

static enum lamp_kind kind_at(const struct lamp_window *window, size_t i)
{
    return (enum lamp_kind)window->kind[i];
}

/* First of the samples like `last` that end there. */
static size_t find_first(const struct lamp_window *window, size_t last)
{
    size_t first = last;
    while (first > 0 && window->kind[first - 1] == window->kind[last]) {
        first--;
    }
    return first;
}

static size_t add_before(const struct lamp_window *window, size_t i, struct lamp_crossing *out)
{
    const enum lamp_kind was = kind_at(window, i - 1);
    const enum lamp_kind is = kind_at(window, i);
    if (lamp_kind_is_soft(was)) {
        *out = (struct lamp_crossing){find_first(window, i - 1), i - 1, LAMP_CROSSING_SOFT,
                                      was == LAMP_KIND_RISING};
        return was != is;
    }
    *out = (struct lamp_crossing){i - 1, i, LAMP_CROSSING_BETWEEN,
                                  lamp_kind_begin(is) == LAMP_STATE_LIT};
    return lamp_kind_end(was) != lamp_kind_begin(is);
}

static size_t add_within(const struct lamp_window *window, size_t i, struct lamp_crossing *out)
{
    const enum lamp_kind kind = kind_at(window, i);
    const bool on_first = kind == LAMP_KIND_ON || kind == LAMP_KIND_FLASH;
    switch (kind) {
    case LAMP_KIND_ON:
    case LAMP_KIND_OFF:
        out[0] = (struct lamp_crossing){i, i, LAMP_CROSSING_WITHIN, on_first};
        return 1;
    case LAMP_KIND_FLASH:
    case LAMP_KIND_BREAK:
        out[0] = (struct lamp_crossing){i, i, LAMP_CROSSING_PULSE, on_first};
        out[1] = (struct lamp_crossing){i, i, LAMP_CROSSING_PULSE, !on_first};
        return 2;
    default: return 0;
    }
}

size_t lamp_crossings_at(const struct lamp_window *window, size_t i,
                         struct lamp_crossing out[LAMP_CROSSINGS_AT_ONCE])
{
    const size_t count = i > 0 ? add_before(window, i, out) : 0;
    return count + add_within(window, i, out + count);
}

/* How far the light goes from the state before `from` in the samples up to `to`. */
static double measure_depth(const struct lamp_window *window, size_t from, size_t to, bool lit)
{
    double depth = 0;
    for (size_t i = from; i <= to; i++) {
        const double off =
            lit ? window->level[i] - window->dark[i] : window->lit[i] - window->level[i];
        depth = fmax(depth, off);
    }
    return depth;
}

/* First and last sample that a change alone touches. */
static size_t touched_first(const struct lamp_crossing *crossing)
{
    return crossing->how == LAMP_CROSSING_BETWEEN ? crossing->last : crossing->first;
}

static size_t touched_last(const struct lamp_crossing *crossing)
{
    return crossing->how == LAMP_CROSSING_BETWEEN ? crossing->first : crossing->last;
}

/* Whether the flash or break between two changes is too shallow, or in doubt. */
static bool is_weak(const struct lamp_window *window, const struct lamp_light_model *model,
                    double least, const struct lamp_crossing pair[2])
{
    const struct lamp_stretch stretch = {touched_first(&pair[0]), touched_last(&pair[1]),
                                         pair[0].lit ? LAMP_KIND_DARK : LAMP_KIND_LIT};
    return measure_depth(window, stretch.first, stretch.last, pair[0].lit) < least ||
           lamp_path_gain(window, model, stretch) < LEAST_GAIN;
}

static void undo(struct lamp_window *window, const struct lamp_crossing pair[2])
{
    for (size_t i = touched_first(&pair[0]); i <= touched_last(&pair[1]); i++) {
        window->kind[i] = pair[0].lit ? LAMP_KIND_DARK : LAMP_KIND_LIT;
    }
}

/* One more change, `pair[1]`, after the last kept one, `pair[0]`: undo both if nothing much lies
 * between. */
static bool take(struct lamp_window *window, const struct lamp_light_model *model, double least,
                 struct lamp_crossing pair[2], bool has_first)
{
    if (has_first && touched_first(&pair[0]) >= window->decided &&
        is_weak(window, model, least, pair)) {
        undo(window, pair);
        return false;
    }
    pair[0] = pair[1];
    return true;
}

void lamp_crossings_prune(struct lamp_window *window, const struct lamp_light_model *model,
                          double least)
{
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    struct lamp_crossing pair[2];
    bool has_first = false;
    for (size_t i = window->decided; i < window->count; i++) {
        const size_t count = lamp_crossings_at(window, i, at);
        for (size_t c = 0; c < count; c++) {
            pair[1] = at[c];
            has_first = take(window, model, least, pair, has_first);
        }
    }
}
