/* repeats.c - The repeats of a rhythm side by side, and where each differs from the pattern. */
#include "report/repeats.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* What differences cost against each other: as many as a person would count. */
#define PRICE_OTHER_FLASH 1.0F
#define PRICE_OTHER_DARK  0.8F
#define PRICE_CUT         0.1F
#define PRICE_LOST        0.9F
#define PRICE_MISSING     1.1F
#define PRICE_MORE        1.1F

/* A dark this much longer than a gap, of which an end was not seen, may be a pause or a rest. */
#define CUT_DARK_OVER_GAP 1.5

/* How near a dark must be to two gaps and a flash to be taken for them, log. */
#define LOG_LOST 0.15

/* One flash or long dark as it was seen. */
struct token {
    enum lamp_taken taken;
    bool is_cut;
    bool is_lit;
    bool is_lost; /* a dark as long as two gaps and the flash between them: that one was not seen */
    bool joins;   /* something joins it to the token before */
    size_t length;
};

/* How a cell of the table was reached. */
enum from { FROM_NOTHING, FROM_MET, FROM_MORE, FROM_MISSING };

struct table {
    const struct lamp_repeats *cycle;
    struct token *token;
    size_t count;
    unsigned char *from; /* [count][cycle_count] */
    float row[2][LAMP_CYCLE_STEPS_MAX];
};

/* Where pauses are as long as rests, they are told by their place in the cycle alone. */
static enum lamp_taken kind_of_dark(enum lamp_taken taken, const struct lamp_timing *timing)
{
    return taken == LAMP_TAKEN_REST && timing->pause_ns == timing->rest_ns ? LAMP_TAKEN_PAUSE
                                                                           : taken;
}

static void add_step(struct lamp_repeats *out, enum lamp_taken step, int64_t at_ns, int64_t ns)
{
    out->offset_ns[out->cycle_count] = at_ns;
    out->step_ns[out->cycle_count] = ns;
    out->cycle[out->cycle_count++] = step;
}

static void make_cycle(const struct lamp_rhythm *rhythm, struct lamp_repeats *out)
{
    const struct lamp_pattern *pattern = &rhythm->pattern;
    const struct lamp_timing *timing = &rhythm->timing;
    static const enum lamp_taken taken[] = {[LAMP_SYMBOL_SHORT] = LAMP_TAKEN_SHORT,
                                            [LAMP_SYMBOL_LONG] = LAMP_TAKEN_LONG,
                                            [LAMP_SYMBOL_PAUSE] = LAMP_TAKEN_PAUSE};
    int64_t at_ns = 0;
    for (size_t i = 0; i < pattern->count; i++) {
        enum lamp_taken step = taken[pattern->symbol[i]];
        bool after_flash = i > 0 && pattern->symbol[i - 1] != LAMP_SYMBOL_PAUSE;
        at_ns += lamp_taken_is_lit(step) && after_flash ? timing->gap_ns : 0;
        add_step(out, step, at_ns, lamp_taken_ns(step, timing));
        at_ns += lamp_taken_ns(step, timing);
    }
    if (timing->rest_ns > 0) {
        add_step(out, kind_of_dark(LAMP_TAKEN_REST, timing), at_ns, timing->rest_ns);
    }
    out->period_ns = lamp_period_ns(rhythm);
}

/* Whether a dark of no class is as long as two gaps and a flash. */
static bool holds_flash(const struct lamp_length *length, enum lamp_taken flash,
                        const struct lamp_timing *timing)
{
    double both_ns = (double)(2 * timing->gap_ns + lamp_taken_ns(flash, timing));
    return lamp_taken_ns(flash, timing) > 0 && timing->gap_ns > 0 &&
           fabs(log((double)length->ns / both_ns)) < LOG_LOST;
}

static void take_lost(const struct lamp_length *length, const struct lamp_timing *timing,
                      struct token *token)
{
    for (enum lamp_taken flash = LAMP_TAKEN_SHORT; flash <= LAMP_TAKEN_LONG; flash++) {
        if (!token->is_lost && holds_flash(length, flash, timing)) {
            token->is_lost = true;
            token->is_lit = true;
            token->taken = flash;
        }
    }
}

/* False for gaps, which part flashes and say nothing else. */
static bool take_token(const struct lamp_length *length, const struct lamp_timing *timing,
                       struct token *out)
{
    enum lamp_taken taken = lamp_taken_for(length, timing);
    *out = (struct token){.taken = taken, .is_lit = length->lit};
    if (taken == LAMP_TAKEN_CUT) {
        out->is_cut = true;
        out->taken = kind_of_dark(lamp_taken_nearest(length, timing), timing);
        return length->lit || (double)length->ns > CUT_DARK_OVER_GAP * (double)timing->gap_ns;
    }
    out->taken = kind_of_dark(taken, timing);
    if (taken == LAMP_TAKEN_ODD && !length->lit) {
        take_lost(length, timing, out);
    }
    return taken != LAMP_TAKEN_GAP;
}

static void take_tokens(const struct lamp_length *length, size_t count,
                        const struct lamp_timing *timing, struct table *table)
{
    bool joins = false;
    for (size_t i = 0; i < count; i++) {
        struct token token;
        joins = joins && !length[i].cut_before;
        if (take_token(&length[i], timing, &token)) {
            token.length = i;
            token.joins = joins;
            table->token[table->count++] = token;
            joins = true;
        }
        joins = joins && !length[i].cut_after;
    }
}

static float price_of(enum lamp_taken wanted, const struct token *token)
{
    if (lamp_taken_is_lit(wanted) != token->is_lit) {
        return INFINITY;
    }
    if (token->is_lost) {
        return wanted == token->taken ? PRICE_LOST : INFINITY;
    }
    if (token->is_cut) {
        return PRICE_CUT;
    }
    return wanted == token->taken ? 0 : token->is_lit ? PRICE_OTHER_FLASH : PRICE_OTHER_DARK;
}

static void offer(float *best, unsigned char *from, float price, enum from how)
{
    if (price < *best) {
        *best = price;
        *from = (unsigned char)how;
    }
}

/* Twice around, for the cycle has no end. */
static void pass_missing(float *row, unsigned char *from, size_t count)
{
    for (size_t i = 0; i < 2 * count; i++) {
        size_t k = i < count ? i : i - count;
        size_t last = (k > 0 ? k : count) - 1;
        offer(&row[k], &from[k], row[last] + PRICE_MISSING, FROM_MISSING);
    }
}

static void lay_token(struct table *table, size_t j)
{
    const struct lamp_repeats *cycle = table->cycle;
    const struct token *token = &table->token[j];
    const float *before = table->row[(j + 1) % 2];
    float *row = table->row[j % 2];
    unsigned char *from = &table->from[j * cycle->cycle_count];
    bool begins = j == 0 || !token->joins;
    for (size_t k = 0; k < cycle->cycle_count; k++) {
        float price = price_of(cycle->cycle[k], token);
        size_t last = (k > 0 ? k : cycle->cycle_count) - 1;
        row[k] = INFINITY;
        float met = begins ? 0 : before[last];
        float more = begins ? 0 : before[k];
        offer(&row[k], &from[k], met + price, begins ? FROM_NOTHING : FROM_MET);
        offer(&row[k], &from[k], more + PRICE_MORE, begins ? FROM_NOTHING : FROM_MORE);
    }
    pass_missing(row, from, cycle->cycle_count);
}

static size_t cheapest(const float *row, size_t count)
{
    size_t best = 0;
    for (size_t k = 1; k < count; k++) {
        best = row[k] < row[best] ? k : best;
    }
    return best;
}

static struct lamp_repeat_step step_of(const struct table *table, size_t j, size_t k,
                                       enum from from)
{
    const struct token *token = &table->token[j];
    struct lamp_repeat_step step = {.wanted = table->cycle->cycle[k],
                                    .seen = token->is_cut ? LAMP_TAKEN_CUT : token->taken,
                                    .at = k,
                                    .length = token->length};
    bool is_met = from == FROM_MET || from == FROM_NOTHING;
    if (from == FROM_MISSING || (is_met && token->is_lost && token->taken == step.wanted)) {
        step.sameness = LAMP_MISSING;
        step.seen = LAMP_TAKEN_COUNT;
    } else if (from == FROM_MORE || lamp_taken_is_lit(step.wanted) != token->is_lit) {
        step.sameness = LAMP_MORE;
        step.wanted = LAMP_TAKEN_COUNT;
    } else {
        bool is_same = token->is_cut || step.wanted == token->taken;
        step.sameness = is_same ? LAMP_SAME : LAMP_OTHER;
    }
    return step;
}

/* Follow the table back from token j at k, newest first. */
static void trace_back(const struct table *table, size_t j, size_t k, struct lamp_repeats *out,
                       size_t room)
{
    size_t cycle = out->cycle_count;
    size_t first = out->step_count;
    while (out->step_count < room) {
        enum from from = (enum from)table->from[j * cycle + k];
        out->step[out->step_count++] = step_of(table, j, k, from);
        if (from == FROM_NOTHING) {
            break;
        }
        k = from == FROM_MORE ? k : (k > 0 ? k : cycle) - 1;
        j -= from == FROM_MISSING ? 0 : 1;
    }
    if (out->step_count == first) {
        return;
    }
    for (size_t a = first, b = out->step_count - 1; a < b; a++, b--) {
        struct lamp_repeat_step step = out->step[a];
        out->step[a] = out->step[b];
        out->step[b] = step;
    }
    out->step[first].begins = true;
}

static void lay_all(struct table *table, struct lamp_repeats *out, size_t room)
{
    for (size_t j = 0; j < table->count; j++) {
        lay_token(table, j);
        if (j + 1 == table->count || !table->token[j + 1].joins) {
            trace_back(table, j, cheapest(table->row[j % 2], out->cycle_count), out, room);
        }
    }
}

/* When the cycle that holds a step began: a length of which the beginning was not seen ends where
 * it should. */
static int64_t start_by(const struct lamp_repeats *repeats, const struct lamp_repeat_step *step,
                        const struct lamp_length *length)
{
    const struct lamp_length *seen = &length[step->length];
    int64_t begin_ns =
        seen->cut_before ? lamp_length_end_ns(seen) - repeats->step_ns[step->at] : seen->start_ns;
    return begin_ns - repeats->offset_ns[step->at];
}

/* Told from the first flash that is where it should be; else from anything that was seen. */
static int64_t start_of(const struct lamp_repeats *repeats, const struct lamp_repeat *repeat,
                        const struct lamp_length *length)
{
    const struct lamp_repeat_step *any = NULL;
    for (size_t i = 0; i < repeat->step_count; i++) {
        const struct lamp_repeat_step *step = &repeats->step[repeat->first_step + i];
        if (step->sameness == LAMP_SAME && lamp_taken_is_lit(step->wanted) &&
            step->seen != LAMP_TAKEN_CUT) {
            return start_by(repeats, step, length);
        }
        any = any == NULL && step->sameness != LAMP_MISSING ? step : any;
    }
    return any != NULL ? start_by(repeats, any, length) : 0;
}

/* Whether step `i` stands in the first place of a cycle that a rest was seen before. */
static bool follows_rest(const struct lamp_repeats *repeats, size_t i)
{
    bool has_rest = !lamp_taken_is_lit(repeats->cycle[repeats->cycle_count - 1]);
    const struct lamp_repeat_step *step = &repeats->step[i];
    if (step->at != 0 || !has_rest) {
        return step->at == 0;
    }
    return i > 0 && !step->begins && step[-1].at + 1 == repeats->cycle_count &&
           step[-1].sameness != LAMP_MISSING;
}

static void judge_repeat(struct lamp_repeats *repeats, struct lamp_repeat *repeat,
                         const struct lamp_length *length)
{
    const struct lamp_repeat_step *last =
        &repeats->step[repeat->first_step + repeat->step_count - 1];
    repeat->is_whole = follows_rest(repeats, repeat->first_step) &&
                       last->at + 1 == repeats->cycle_count && last->sameness != LAMP_MISSING;
    repeat->is_alike = true;
    repeat->start_ns = start_of(repeats, repeat, length);
    repeat->end_ns = lamp_length_end_ns(&length[last->length]);
    for (size_t i = 0; i < repeat->step_count; i++) {
        const struct lamp_repeat_step *step = &repeats->step[repeat->first_step + i];
        bool is_cut_flash = step->seen == LAMP_TAKEN_CUT && step != last;
        repeat->is_whole = repeat->is_whole && !is_cut_flash;
        repeat->is_alike = repeat->is_alike && step->sameness == LAMP_SAME;
    }
    repeat->is_alike = repeat->is_alike && repeat->is_whole;
    repeats->whole_count += repeat->is_whole;
    repeats->alike_count += repeat->is_alike;
}

static bool begins_repeat(const struct lamp_repeat_step *step)
{
    bool goes_back = step->sameness != LAMP_MORE && step->at <= step[-1].at;
    return step->begins ||
           (goes_back && !(step[-1].sameness == LAMP_MORE && step->at == step[-1].at));
}

static void part_repeats(struct lamp_repeats *repeats, const struct lamp_length *length)
{
    for (size_t i = 0; i < repeats->step_count; i++) {
        if (i == 0 || begins_repeat(&repeats->step[i])) {
            repeats->at[repeats->count++] = (struct lamp_repeat){.first_step = i};
        }
        repeats->at[repeats->count - 1].step_count++;
    }
    for (size_t i = 0; i < repeats->count; i++) {
        judge_repeat(repeats, &repeats->at[i], length);
    }
}

/* Room for what `tokens` may become: in the cheapest row a missing step stands beside one seen. */
static enum lamp_err make_room(struct table *table, size_t tokens, size_t room,
                               struct lamp_repeats *out)
{
    table->token = calloc(tokens, sizeof table->token[0]);
    table->from = calloc(tokens * out->cycle_count, 1);
    out->step = calloc(room, sizeof out->step[0]);
    out->at = calloc(room, sizeof out->at[0]);
    bool has_room =
        table->token != NULL && table->from != NULL && out->step != NULL && out->at != NULL;
    return has_room ? LAMP_OK : LAMP_NO_MEMORY;
}

enum lamp_err lamp_repeats_find(const struct lamp_length *length, size_t count,
                                const struct lamp_rhythm *rhythm, struct lamp_repeats *out)
{
    struct table table = {.cycle = out};
    memset(out, 0, sizeof *out);
    if (rhythm->pattern.kind != LAMP_PATTERN_GROUPS || rhythm->pattern.count == 0 || count == 0) {
        return LAMP_OK;
    }
    make_cycle(rhythm, out);
    size_t room = 2 * count + out->cycle_count;
    enum lamp_err failed = make_room(&table, count, room, out);
    if (failed == LAMP_OK) {
        take_tokens(length, count, &rhythm->timing, &table);
        lay_all(&table, out, room);
        part_repeats(out, length);
    }
    free(table.token);
    free(table.from);
    return failed;
}

void lamp_repeats_fini(struct lamp_repeats *repeats)
{
    free(repeats->at);
    free(repeats->step);
    *repeats = (struct lamp_repeats){.count = 0};
}
