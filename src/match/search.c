/* search.c - Entries nearest to a pattern that a person wrote down or a lamp showed. */
#include <math.h>
#include <string.h>

#include "match/differ.h"

/* Lit lengths of an entry are of two classes if they differ by this ratio at least. */
#define LONG_OVER_SHORT 1.6

/* Where an entry has flashes of one class only, a long one would be so many times a short one. */
#define LONG_SHORTS 3

/* Patterns farther apart than this are no help to anyone. */
#define DISTANCE_MOST 1.75

/* Nothing differs: what is left is rounding. */
#define DISTANCE_NONE 1e-6

static void take_extremes(const struct lamp_wave *wave, size_t first, int64_t *least, int64_t *most)
{
    *least = INT64_MAX;
    *most = 0;
    for (size_t i = first; i < wave->count; i += 2) {
        *least = wave->length_ns[i] < *least ? wave->length_ns[i] : *least;
        *most = wave->length_ns[i] > *most ? wave->length_ns[i] : *most;
    }
}

/* The longest dark that is neither the rest nor a gap; the rest where there is none. */
static int64_t find_pause(const struct lamp_wave *wave, int64_t gap_ns, int64_t rest_ns)
{
    int64_t pause_ns = 0;
    for (size_t i = 1; i < wave->count; i += 2) {
        int64_t now = wave->length_ns[i];
        if (now > gap_ns + gap_ns / 2 && now < rest_ns && now > pause_ns) {
            pause_ns = now;
        }
    }
    return pause_ns > 0 ? pause_ns : rest_ns;
}

/* The classes of an entry's lengths, whatever its own notation. */
static struct lamp_timing timing_of(const struct lamp_code *code)
{
    struct lamp_timing timing = {0};
    int64_t most_lit;
    take_extremes(&code->wave, 0, &timing.short_ns, &most_lit);
    take_extremes(&code->wave, 1, &timing.gap_ns, &timing.rest_ns);
    bool has_long = (double)most_lit > LONG_OVER_SHORT * (double)timing.short_ns;
    bool is_all_long = !has_long && code->timing.long_ns == timing.short_ns;
    timing.short_ns = is_all_long ? timing.short_ns / LONG_SHORTS : timing.short_ns;
    timing.long_ns = has_long ? most_lit : LONG_SHORTS * timing.short_ns;
    timing.pause_ns = find_pause(&code->wave, timing.gap_ns, timing.rest_ns);
    return timing;
}

/* One common time scale within the tolerance brings both cycles to one period. */
static void scale(struct lamp_wave *wave, const struct lamp_model *model)
{
    double period_s = 0;
    for (size_t i = 0; i < wave->count; i++) {
        period_s += (double)wave->length_ns[i] * 1e-9;
    }
    double most = 1 + model->tolerance;
    double by = fmin(fmax(model->period_s / period_s, 1 / most), most);
    for (size_t i = 0; i < wave->count; i++) {
        wave->length_ns[i] = (int64_t)fmax(1, (double)wave->length_ns[i] * by);
    }
}

/* The pattern as one cycle beside the entry. @return whether it has one. */
static bool play(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                 const struct lamp_code *code, struct lamp_wave *out)
{
    bool takes_own = timing == NULL && pattern->kind == LAMP_PATTERN_GROUPS;
    bool is_morse = pattern->kind == LAMP_PATTERN_MORSE;
    struct lamp_timing of_code = takes_own || is_morse ? timing_of(code) : (struct lamp_timing){0};
    return lamp_pattern_play(pattern, takes_own || is_morse ? &of_code : timing, out, NULL) ==
               LAMP_OK &&
           out->count > 0;
}

/* Two cycles of the same light, one of which is written twice over, are one. */
static void shorten(struct lamp_wave *wave)
{
    for (size_t period = 2; period < wave->count; period += 2) {
        if (wave->count % period == 0 &&
            memcmp(wave->length_ns, wave->length_ns + period,
                   (wave->count - period) * sizeof wave->length_ns[0]) == 0) {
            wave->count = period;
        }
    }
}

static bool is_kind(enum lamp_pattern_kind kind)
{
    return kind == LAMP_PATTERN_STEADY_ON || kind == LAMP_PATTERN_STEADY_OFF ||
           kind == LAMP_PATTERN_FLICKER;
}

/* How far the entry is from the pattern; INFINITY where they have nothing in common. */
static double look(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                   struct lamp_found *found)
{
    struct lamp_wave wave = {.count = 0};
    struct lamp_model model;
    if (is_kind(pattern->kind) || is_kind(found->code->pattern.kind)) {
        return pattern->kind == found->code->pattern.kind ? 0 : INFINITY;
    }
    if (!play(pattern, timing, found->code, &wave)) {
        return INFINITY;
    }
    shorten(&wave);
    lamp_model_make(found->code, &model);
    if (wave.count == model.count) {
        scale(&wave, &model);
    }
    double distance = lamp_differ_distance(&model, &wave);
    lamp_differ_write(&model, &wave, found->against);
    return distance > DISTANCE_NONE ? distance : 0;
}

static bool is_nearer(const struct lamp_found *a, const struct lamp_found *b)
{
    bool a_fits = a->against[0] == '\0';
    bool b_fits = b->against[0] == '\0';
    return a_fits != b_fits ? a_fits : a->distance < b->distance;
}

/* Keep `found` among the nearest. @return how many there are now. */
static size_t enter(struct lamp_found *out, size_t count, size_t room,
                    const struct lamp_found *found)
{
    if (room == 0 || (count == room && !is_nearer(found, &out[count - 1]))) {
        return count;
    }
    size_t at = count == room ? count - 1 : count;
    size_t grown = at + 1;
    for (; at > 0 && is_nearer(found, &out[at - 1]); at--) {
        out[at] = out[at - 1];
    }
    out[at] = *found;
    return grown;
}

/* NOLINTNEXTLINE(readability-function-size): the signature is the public one. */
size_t lamp_find_pattern(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                         const struct lamp_book *const *books, size_t book_count,
                         struct lamp_found *out, size_t room)
{
    size_t count = 0;
    for (size_t b = 0; b < book_count; b++) {
        for (size_t i = 0; i < books[b]->code_count; i++) {
            struct lamp_found found = {.book = books[b], .code = &books[b]->code[i]};
            found.distance = look(pattern, timing, &found);
            count = found.distance <= DISTANCE_MOST ? enter(out, count, room, &found) : count;
        }
    }
    return count;
}
