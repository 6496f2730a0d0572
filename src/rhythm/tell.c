/* tell.c - What is told of groups that were found: pattern, timing, rate. */
#include "rhythm/tell.h"

#include <math.h>

#include "rhythm/row.h"

/* Flashes of one length only are long from this many gaps on: between one gap and Morse's three, by
 * their geometric mean, and a little more. */
#define LOG_LONG_OVER_GAP 0.6419 /* ln 1.9 */

/* Where two classes of darks part groups, those of this many gaps part words: between Morse's three
 * and seven. */
#define LOG_WORD_OVER_GAP 1.5041 /* ln 4.5 */

struct mean {
    double ns;
    double sd_ns;
};

/* Mean length of class `k` of one side, each length weighed by what is known of it, and the sd of
 * that mean. */
static struct mean mean_length(const struct lamp_row *row, bool lit, size_t k)
{
    const struct lamp_classes *classes = lit ? &row->lit : &row->dark;
    double scatter = classes->sd[k] * exp(classes->mean[k]);
    double weight = 0;
    double sum = 0;
    for (size_t i = 0; i < row->count; i++) {
        const struct lamp_length *length = &row->at[i];
        if (length->lit == lit && row->of[i] == (short)k) {
            double w = 1 / (scatter * scatter + (double)length->sd_ns * (double)length->sd_ns + 1);
            weight += w;
            sum += w * (double)length->ns;
        }
    }
    double members = (double)classes->members[k];
    return (struct mean){.ns = sum / weight, .sd_ns = scatter / sqrt(members)};
}

static void set_length(const struct lamp_row *row, bool lit, size_t k, int64_t *ns, int64_t *sd_ns)
{
    struct mean mean = mean_length(row, lit, k);
    *ns = (int64_t)llround(mean.ns);
    *sd_ns = (int64_t)llround(mean.sd_ns);
}

/* Which classes of flashes the groups told of are made of. */
struct used {
    bool first;
    bool second;
};

static struct used find_used(const struct lamp_groups *groups, size_t first, size_t count)
{
    struct used used = {false, false};
    for (size_t i = first; i < first + count; i++) {
        for (size_t t = groups->segment[i].from; t < groups->segment[i].to; t++) {
            used.first = used.first || groups->token[t] == LAMP_TOKEN_SHORT;
            used.second = used.second || groups->token[t] == LAMP_TOKEN_LONG;
        }
    }
    return used;
}

/* Flashes of one length only are called short or long by the gap between them. */
static void tell_one_flash(const struct lamp_row *row, size_t k, struct lamp_rhythm *out)
{
    if (row->dark.count > 1 && row->lit.mean[k] - row->dark.mean[0] >= LOG_LONG_OVER_GAP) {
        set_length(row, true, k, &out->timing.long_ns, &out->timing_sd.long_ns);
    } else {
        set_length(row, true, k, &out->timing.short_ns, &out->timing_sd.short_ns);
    }
}

static void tell_timing(const struct lamp_row *row, struct used used, struct lamp_rhythm *out)
{
    struct lamp_timing *timing = &out->timing;
    struct lamp_timing *sd = &out->timing_sd;
    if (used.first && used.second) {
        set_length(row, true, 0, &timing->short_ns, &sd->short_ns);
        set_length(row, true, 1, &timing->long_ns, &sd->long_ns);
    } else if (used.first || used.second) {
        tell_one_flash(row, used.first ? 0 : 1, out);
    }
    if (row->dark.count > 0) {
        set_length(row, false, 0, &timing->gap_ns, &sd->gap_ns);
        set_length(row, false, row->dark.count - 1, &timing->rest_ns, &sd->rest_ns);
    }
    if (row->dark.count > 2) {
        set_length(row, false, 1, &timing->pause_ns, &sd->pause_ns);
    }
}

/* One symbol more; false when there is no room. */
static bool add_symbol(struct lamp_rhythm *out, enum lamp_symbol symbol, bool is_word)
{
    struct lamp_pattern *pattern = &out->pattern;
    if (pattern->count == LAMP_SYMBOLS_MAX) {
        return false;
    }
    size_t pauses = 0;
    for (size_t i = 0; i < pattern->count; i++) {
        pauses += pattern->symbol[i] == LAMP_SYMBOL_PAUSE;
    }
    if (symbol == LAMP_SYMBOL_PAUSE) {
        out->word_gaps[pauses] = is_word;
    }
    pattern->symbol[pattern->count++] = symbol;
    return true;
}

static bool add_token(struct lamp_rhythm *out, enum lamp_token token)
{
    switch (token) {
    case LAMP_TOKEN_SHORT:
        return add_symbol(out, out->timing.short_ns > 0 ? LAMP_SYMBOL_SHORT : LAMP_SYMBOL_LONG,
                          false);
    case LAMP_TOKEN_LONG:
        return add_symbol(out, out->timing.long_ns > 0 ? LAMP_SYMBOL_LONG : LAMP_SYMBOL_SHORT,
                          false);
    case LAMP_TOKEN_PAUSE: return add_symbol(out, LAMP_SYMBOL_PAUSE, false);
    case LAMP_TOKEN_WIDE: return add_symbol(out, LAMP_SYMBOL_PAUSE, true);
    case LAMP_TOKEN_ANY:
    case LAMP_TOKEN_ODD: break;
    }
    return false;
}

/* Whether rests that were found to part the groups of one cycle part words. */
static bool rests_part_words(const struct lamp_row *row)
{
    return row->dark.count > 2 ||
           (row->dark.count == 2 && row->dark.mean[1] - row->dark.mean[0] > LOG_WORD_OVER_GAP);
}

/* One of `count` segments from `first` on, told in turn beginning with the `turn`-th. */
struct turn {
    size_t first;
    size_t count;
    size_t turn;
};

static const struct lamp_segment *segment_at(const struct lamp_groups *groups,
                                             const struct turn *turn, size_t i)
{
    return &groups->segment[turn->first + (turn->turn + i) % turn->count];
}

/* Write the pattern; false, and no pattern, when it has no room. */
static bool tell_pattern(const struct lamp_row *row, const struct lamp_groups *groups,
                         const struct turn *turn, struct lamp_rhythm *out)
{
    bool has_room = true;
    out->pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_GROUPS};
    for (size_t i = 0; i < turn->count; i++) {
        const struct lamp_segment *segment = segment_at(groups, turn, i);
        if (i > 0 && row->dark.count > 1) {
            has_room = has_room && add_symbol(out, LAMP_SYMBOL_PAUSE, rests_part_words(row));
        }
        for (size_t t = segment->from; t < segment->to; t++) {
            has_room = has_room && add_token(out, groups->token[t]);
        }
    }
    if (!has_room) {
        out->pattern = (struct lamp_pattern){0};
    }
    return has_room;
}

static int rank(enum lamp_symbol symbol)
{
    return symbol == LAMP_SYMBOL_LONG ? 0 : symbol == LAMP_SYMBOL_PAUSE ? 1 : 2;
}

static bool comes_first(const struct lamp_pattern *a, const struct lamp_pattern *b)
{
    for (size_t i = 0; i < a->count && i < b->count; i++) {
        if (a->symbol[i] != b->symbol[i]) {
            return rank(a->symbol[i]) < rank(b->symbol[i]);
        }
    }
    return a->count < b->count;
}

/* A cycle without a rest of its own has no beginning: tell it long flashes first, small groups
 * before larger ones. */
static void tell_cycle(const struct lamp_row *row, const struct lamp_groups *groups,
                       const struct lamp_cycle *cycle, struct lamp_rhythm *out)
{
    struct turn turn = {.first = cycle->first, .count = cycle->count};
    struct lamp_rhythm best = *out;
    for (; turn.turn < turn.count; turn.turn++) {
        struct lamp_rhythm told = *out;
        if (tell_pattern(row, groups, &turn, &told) &&
            (best.pattern.count == 0 || comes_first(&told.pattern, &best.pattern))) {
            best = told;
        }
    }
    *out = best;
}

/* The longest row of whole groups: a message that was seen once. */
static struct turn find_longest(const struct lamp_groups *groups)
{
    struct turn longest = {0};
    struct turn here = {0};
    for (size_t i = 0; i < groups->count; i++) {
        const struct lamp_segment *segment = &groups->segment[i];
        bool is_usable = lamp_segment_is_whole(segment) && !segment->is_odd;
        if (!is_usable || here.count == 0 || !segment->joins) {
            here = (struct turn){.first = i};
        }
        here.count += is_usable;
        if (here.count > longest.count) {
            longest = here;
        }
    }
    return longest;
}

void lamp_tell_groups(const struct lamp_row *row, const struct lamp_groups *groups,
                      const struct lamp_cycle *cycle, struct lamp_rhythm *out)
{
    bool repeats = cycle->agreeing > 1;
    struct turn once = find_longest(groups);
    tell_timing(row,
                repeats ? find_used(groups, cycle->first, cycle->count)
                        : find_used(groups, once.first, once.count),
                out);
    out->repeats_seen = cycle->seen;
    out->repeats_agreeing = cycle->agreeing;
    if (repeats) {
        tell_cycle(row, groups, cycle, out);
    } else if (once.count > 0 && row->dark.count > 1) {
        (void)tell_pattern(row, groups, &once, out);
    }
    if ((repeats ? cycle->count : once.count) > 1 && row->dark.count == 2) {
        out->timing.pause_ns = out->timing.rest_ns;
        out->timing_sd.pause_ns = out->timing_sd.rest_ns;
    }
}

/* Plain means here: what one length gains at an edge the next one loses, so the period is as exact
 * as its ends. */
void lamp_tell_blink(const struct lamp_row *row, struct lamp_rhythm *out)
{
    double sum[2] = {0, 0};
    for (size_t i = 0; i < row->count; i++) {
        if (row->of[i] == 0) {
            sum[row->at[i].lit] += fmax((double)row->at[i].ns, LAMP_LENGTH_LEAST_NS);
        }
    }
    double lit_ns = sum[1] / (double)row->lit.members[0];
    double dark_ns = sum[0] / (double)row->dark.members[0];
    tell_timing(row, (struct used){true, false}, out);
    out->rate_hz = 1e9 / (lit_ns + dark_ns);
    out->duty = lit_ns / (lit_ns + dark_ns);
    out->pattern = (struct lamp_pattern){
        .kind = LAMP_PATTERN_BLINK, .rate_hz = out->rate_hz, .duty = out->duty};
}
