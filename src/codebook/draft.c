/* draft.c - From light that was seen to repeat to the pattern and the lengths of an entry. */
#include <math.h>
#include <string.h>

#include "base/fail.h"
#include "lampread/teach.h"

/* A length stands for a position of the cycle if it is within this of it, log: nearer to it than to
 * one half as long again. */
#define POSITION_SLACK 0.2

/* Whole cycles that have to be seen for exact lengths. */
enum { CYCLES_LEAST = 2 };

/* One position of a cycle, as it was measured over and over. */
struct position {
    double weight;
    double sum;
};

struct lamp_draft_rules lamp_draft_rules_default(void)
{
    return (struct lamp_draft_rules){.least_confidence = 0.9};
}

/* What is missing, and what would help. */
static const char *words_of(enum lamp_lack lack)
{
    switch (lack) {
    case LAMP_LACK_LENGTH: return "no whole repeat was seen; expected three, film for longer";
    case LAMP_LACK_REPEAT: return "it was seen to repeat once at most; expected three repeats";
    case LAMP_LACK_LIGHT: return "the light is too faint; film nearer, or in a darker room";
    case LAMP_LACK_RATE:
        return "the lamp is too fast for this recording; film at more frames a second";
    case LAMP_LACK_AGREEMENT: return "the repeats differ; expected three that are alike";
    case LAMP_LACK_FRAMES:
        return "frames are missing at the same place of every repeat; film again";
    case LAMP_LACK_DISTINCTION:
    case LAMP_LACK_NOTHING: break;
    }
    return "the rhythm is not clear; expected three repeats that are alike";
}

static enum lamp_err refuse(const struct lamp_rhythm *rhythm, struct lamp_error *error)
{
    switch (rhythm->verdict) {
    case LAMP_VERDICT_FLICKER:
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the light flickers with no rhythm, which is no code");
    case LAMP_VERDICT_FADE:
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the light swells and fades, of which no pattern can be written");
    case LAMP_VERDICT_UNDECIDED:
        return lamp_fail(error, LAMP_BAD_USE, "", "undecided: %s", words_of(rhythm->lack));
    default:
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the rhythm is only %.0f %% sure; expected three repeats that are alike",
                         100 * rhythm->confidence);
    }
}

static bool is_usable(const struct lamp_rhythm *rhythm, const struct lamp_draft_rules *rules)
{
    bool has_kind =
        rhythm->verdict == LAMP_VERDICT_FLICKER
            ? rules->takes_flicker
            : rhythm->verdict != LAMP_VERDICT_FADE && rhythm->verdict != LAMP_VERDICT_UNDECIDED;
    return has_kind && rhythm->confidence >= rules->least_confidence;
}

/* The lengths that the pattern plays; others were seen, but belong to no part of it. */
static struct lamp_timing used_timing(const struct lamp_pattern *pattern,
                                      const struct lamp_timing *all)
{
    struct lamp_timing used = {.rest_ns = all->rest_ns};
    for (size_t i = 0; i < pattern->count; i++) {
        enum lamp_symbol symbol = pattern->symbol[i];
        bool follows =
            i > 0 && symbol != LAMP_SYMBOL_PAUSE && pattern->symbol[i - 1] != LAMP_SYMBOL_PAUSE;
        used.short_ns = symbol == LAMP_SYMBOL_SHORT ? all->short_ns : used.short_ns;
        used.long_ns = symbol == LAMP_SYMBOL_LONG ? all->long_ns : used.long_ns;
        used.pause_ns = symbol == LAMP_SYMBOL_PAUSE ? all->pause_ns : used.pause_ns;
        used.gap_ns = follows ? all->gap_ns : used.gap_ns;
    }
    return used;
}

static bool fits(const struct lamp_length *length, size_t at, const struct lamp_wave *wave)
{
    return !length->cut_before && !length->cut_after && length->lit == (at % 2 == 0) &&
           length->ns > 0 &&
           fabs(log((double)length->ns / (double)wave->length_ns[at])) < POSITION_SLACK;
}

/* Add up each whole cycle among the lengths. @return how many there are. */
static size_t sum_cycles(const struct lamp_wave *wave, const struct lamp_length *length,
                         size_t count, struct position *position)
{
    size_t cycles = 0;
    for (size_t first = 0; first + wave->count <= count;) {
        size_t at = 0;
        while (at < wave->count && fits(&length[first + at], at, wave)) {
            at++;
        }
        if (at < wave->count) {
            first++;
            continue;
        }
        for (at = 0; at < wave->count; at++) {
            double sd_ns = fmax((double)length[first + at].sd_ns, 1e3);
            position[at].weight += 1 / (sd_ns * sd_ns);
            position[at].sum += (double)length[first + at].ns / (sd_ns * sd_ns);
        }
        cycles++;
        first += wave->count;
    }
    return cycles;
}

/* One cycle as the rhythm's classes have it. */
static bool play(const struct lamp_draft *draft, struct lamp_wave *out)
{
    return lamp_pattern_play(&draft->pattern, &draft->timing, out, NULL) == LAMP_OK &&
           out->count >= 2 && out->count <= LAMP_SYMBOLS_MAX;
}

/* Each length of the cycle by itself. */
static enum lamp_err draft_exact(const struct lamp_length *length, size_t count,
                                 struct lamp_draft *draft, struct lamp_error *error)
{
    struct lamp_wave wave = {.count = 0};
    struct position position[LAMP_SYMBOLS_MAX] = {{0}};
    double variance = 0;
    if (!play(draft, &wave)) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "a cycle has too many lengths to write each of them");
    }
    if (sum_cycles(&wave, length, count, position) < CYCLES_LEAST) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "fewer than two whole cycles were seen; expected three, film for longer");
    }
    draft->pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_EXACT, .count = wave.count};
    draft->timing = (struct lamp_timing){0};
    for (size_t i = 0; i < wave.count; i++) {
        draft->pattern.length_ns[i] = (int64_t)llround(position[i].sum / position[i].weight);
        variance += 1 / position[i].weight / (double)wave.count;
    }
    draft->taught.sd_ns = (int64_t)ceil(sqrt(variance));
    return LAMP_OK;
}

/* Root mean square of the standard deviations of the lengths in use. */
static int64_t class_sd_ns(const struct lamp_timing *timing, const struct lamp_timing *sd)
{
    const double pairs[][2] = {{(double)timing->short_ns, (double)sd->short_ns},
                               {(double)timing->long_ns, (double)sd->long_ns},
                               {(double)timing->gap_ns, (double)sd->gap_ns},
                               {(double)timing->pause_ns, (double)sd->pause_ns},
                               {(double)timing->rest_ns, (double)sd->rest_ns}};
    double squares = 0;
    double count = 0;
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        squares += pairs[i][0] > 0 ? pairs[i][1] * pairs[i][1] : 0;
        count += pairs[i][0] > 0;
    }
    return count > 0 ? (int64_t)ceil(sqrt(squares / count)) : 0;
}

static void draft_classes(const struct lamp_rhythm *rhythm, struct lamp_draft *draft)
{
    struct lamp_timing seen = rhythm->timing;
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS) {
        draft->timing = used_timing(&rhythm->pattern, &rhythm->timing);
        seen = draft->timing;
    }
    bool has_lengths =
        rhythm->pattern.kind == LAMP_PATTERN_GROUPS || rhythm->pattern.kind == LAMP_PATTERN_BLINK;
    draft->taught.sd_ns = has_lengths ? class_sd_ns(&seen, &rhythm->timing_sd) : 0;
}

/* NOLINTNEXTLINE(readability-function-size): the signature is the public one. */
enum lamp_err lamp_book_draft(const struct lamp_rhythm *rhythm, const struct lamp_length *length,
                              size_t count, const struct lamp_draft_rules *rules,
                              struct lamp_draft *out, struct lamp_error *error)
{
    if (!is_usable(rhythm, rules)) {
        return refuse(rhythm, error);
    }
    struct lamp_draft draft = *out;
    draft.pattern = rhythm->pattern;
    draft.timing = (struct lamp_timing){0};
    draft.taught = (struct lamp_taught){.recordings = 1};
    draft_classes(rhythm, &draft);
    bool has_cycle =
        draft.pattern.kind == LAMP_PATTERN_GROUPS || draft.pattern.kind == LAMP_PATTERN_BLINK;
    if (rules->is_exact && has_cycle) {
        enum lamp_err err = draft_exact(length, count, &draft, error);
        if (err != LAMP_OK) {
            return err;
        }
    }
    if (draft.pattern.kind == LAMP_PATTERN_NONE) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "a repeat has more flashes than notation carries");
    }
    *out = draft;
    return LAMP_OK;
}
