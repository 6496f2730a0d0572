/* group.c - Lengths to rhythm: classes, groups, repeats, regularity, and the verdict they make. */
#include "lampread/group.h"

#include <math.h>

#include "rhythm/blind.h"
#include "rhythm/cycle.h"
#include "rhythm/letters.h"
#include "rhythm/regularity.h"
#include "rhythm/row.h"
#include "rhythm/split.h"
#include "rhythm/tell.h"

/* A rhythm is told from this probability on, irregular light from the other. */
#define SLOW_HZ              1.25 /* cycles a second */
#define LEAST_REPEATING      0.93
#define LEAST_REPEATING_SLOW 0.85
#define RESTLESS             0.2 /* noise of a sample over the level */
#define LEAST_IRREGULAR      0.98

/* With a lamp of uneven light less is asked for: its levels are irregular already. */
#define LEAST_IRREGULAR_UNEVEN 0.70
#define LEAST_EDGES_UNEVEN     5

/* Irregular light has no more than this share of soft edges. */
#define MOST_SOFT 0.5

/* Order must beat chance by this much, nats, and more than this share of the repeats must agree. */
#define LEAST_ORDER     1.0
#define LEAST_AGREEMENT 0.6

/* A cycle of several groups must beat groups drawn by chance from a few kinds by this much, nats;
 * one that not all agree with by this much more. */
#define LEAST_OVER_FEW         1.5
#define LEAST_OVER_FEW_DAMAGED 0.5

/* More where the others are longer: then the majority may be what lost edges, alike by chance. */
#define LEAST_AGREEMENT_GROWN 0.75

/* Loose lengths in so good an order are a rhythm badly seen, not chance, nats. */
#define ORDER_OF_A_RHYTHM 6.0

/* And so are lengths of which those that are in classes are in some order, nats. */
#define ORDER_OF_SOME 2.0

/* Irregular light of few lengths (multiples of one tick) fills neighbouring multiples, so lengths
 * in random order are rare where the rest is far longer than the gap: from this log ratio on,
 * ln 3.5. */
#define LOG_FAR_APART     1.2528
#define PRIOR_RANDOM_FAR  0.04
#define PRIOR_RANDOM_NEAR 0.25

/* A blink that something longer interrupts or ends is a group of many flashes, until it went on
 * for so many cycles and so long. */
#define MANY_CYCLES  24
#define LONG_BLINK_S 4.0

/* A length is longer than its class from this on, ln 1.3, and is two with one lost between to this
 * share. */
#define LOG_LONGER 0.2624
#define LOST_FIT   0.15

/* A cycle without rests may be the inside of a long group: it has to be seen this often. */
#define LEAST_RESTLESS_CYCLES 3

/* Groups whose rest may not be the longest dark of the code have to agree this often. */
#define LEAST_DOUBTED_REPEATS 4

/* A lamp that alternates faster than this share of the frame rate may be an alias. */
#define FASTEST_SHARE 0.4

/* A length of fewer sample intervals may be an alias; those of more must be irregular by
 * themselves, the less surely where the light was found to have no cycle. */
#define SLOW_INTERVALS         4.0
#define LEAST_IRREGULAR_FOLDED 0.60

/* A verdict is never told as certain. */
#define MOST_CONFIDENCE 0.995

struct judge {
    const struct lamp_light_shape *shape; /* NULL for edges. */
    const struct lamp_rhythm_rules *rules;
    struct lamp_reading reading;
    struct lamp_row row;
    struct lamp_groups groups;
    struct lamp_cycle cycle;
    struct lamp_regularity regularity;
};

struct lamp_rhythm_rules lamp_rhythm_rules_default(void)
{
    return (struct lamp_rhythm_rules){
        .jitter = 0.03, .least_repeats = 2, .least_cycles = 3, .least_edges = 9};
}

const char *lamp_verdict_name(enum lamp_verdict verdict)
{
    switch (verdict) {
    case LAMP_VERDICT_STEADY_ON: return "steady-on";
    case LAMP_VERDICT_STEADY_OFF: return "steady-off";
    case LAMP_VERDICT_BLINK: return "blink";
    case LAMP_VERDICT_CODE: return "code";
    case LAMP_VERDICT_UNLISTED: return "unlisted";
    case LAMP_VERDICT_FLICKER: return "flicker";
    case LAMP_VERDICT_FADE: return "fade";
    case LAMP_VERDICT_UNDECIDED: return "undecided";
    }
    return "undecided";
}

static void conclude(struct lamp_rhythm *out, enum lamp_verdict verdict, double confidence)
{
    out->verdict = verdict;
    out->confidence = fmin(fmax(confidence, 0), MOST_CONFIDENCE);
    out->lack = LAMP_LACK_NOTHING;
}

/* Undecided claims nothing, so there is nothing to be sure of. */
static void doubt(struct lamp_rhythm *out, enum lamp_lack lack)
{
    conclude(out, LAMP_VERDICT_UNDECIDED, 0);
    out->lack = lack;
}

static bool has_shape(const struct judge *judge, enum lamp_shape shape)
{
    return judge->shape != NULL && judge->shape->shape == shape;
}

/* Whether light that has no two levels scatters too much about its one to be called steady. */
static bool is_restless(const struct judge *judge)
{
    return has_shape(judge, LAMP_SHAPE_CONSTANT) && judge->shape->is_lit &&
           judge->shape->noise > RESTLESS * judge->shape->lit_level;
}

/* No edges: lit or dark throughout, the surer the longer. */
static void judge_steady(const struct lamp_length *lengths, size_t count, const struct judge *judge,
                         struct lamp_rhythm *out)
{
    bool is_lit = count > 0 ? lengths[0].lit : judge->shape != NULL && judge->shape->is_lit;
    for (size_t i = 1; i < count; i++) {
        if (lengths[i].lit != is_lit) {
            doubt(out, LAMP_LACK_LENGTH);
            return;
        }
    }
    double seen_s = (double)judge->reading.seen_ns / 1e9;
    if (count == 0 && judge->shape != NULL) {
        seen_s = (double)(judge->shape->last_ns - judge->shape->first_ns) / 1e9;
    }
    bool is_unseen = seen_s <= 0; /* one moment says nothing of what is throughout */
    if (is_unseen || has_shape(judge, LAMP_SHAPE_UNEVEN) || is_restless(judge)) {
        doubt(out, is_unseen ? LAMP_LACK_LENGTH : LAMP_LACK_LIGHT);
        return;
    }
    if (has_shape(judge, LAMP_SHAPE_CONSTANT)) {
        is_lit = judge->shape->is_lit;
    }
    conclude(out, is_lit ? LAMP_VERDICT_STEADY_ON : LAMP_VERDICT_STEADY_OFF,
             1 - 0.4 * exp(-seen_s / 2));
    out->pattern.kind = is_lit ? LAMP_PATTERN_STEADY_ON : LAMP_PATTERN_STEADY_OFF;
}

static bool is_blink_row(const struct lamp_row *row)
{
    return row->lit.count == 1 && row->dark.count == 1;
}

static bool is_far_apart(const struct lamp_row *row)
{
    const struct lamp_classes *side = row->dark.count > 1 ? &row->dark : &row->lit;
    return side->count > 1 && side->mean[side->count - 1] - side->mean[0] >= LOG_FAR_APART;
}

static void weigh_all(struct judge *judge)
{
    lamp_reading_row(&judge->reading, LAMP_BAND_TIGHT, LAMP_BAND_TIGHT, &judge->row);
    lamp_groups_split(&judge->row, &judge->groups);
    lamp_cycle_find(&judge->groups, &judge->cycle);
    struct lamp_regularity_evidence evidence = {
        .lit = judge->reading.lit.bands,
        .dark = judge->reading.dark.bands,
        .is_coarse_lit = judge->reading.lit.is_coarse,
        .is_coarse_dark = judge->reading.dark.is_coarse,
        .has_order = !is_blink_row(&judge->row),
        .order = judge->cycle.order,
        .few = judge->cycle.few,
        .random_order = is_far_apart(&judge->row) ? PRIOR_RANDOM_FAR : PRIOR_RANDOM_NEAR,
    };
    lamp_regularity_weigh(&evidence, &judge->regularity);
}

/* Whether most groups agree, by more than `least` nats over chance of either kind. */
static bool is_in_order(const struct lamp_cycle *cycle, double least)
{
    return cycle->order > least && cycle->order > cycle->few && 2 * cycle->agreeing >= cycle->seen;
}

/* Whether the lengths, classed as chance would have it, still come in a cycle. */
static bool is_ordered_though_loose(const struct judge *judge)
{
    size_t odd = judge->row.lit.odd + judge->row.dark.odd;
    if (is_in_order(&judge->cycle, ORDER_OF_SOME) && odd * 3 <= judge->row.count) {
        return true;
    }
    enum lamp_band lit = LAMP_BAND_TIGHT;
    enum lamp_band dark = LAMP_BAND_TIGHT;
    for (int band = LAMP_BAND_DOUBTFUL; band < LAMP_BAND_COUNT; band++) {
        const struct lamp_reading *reading = &judge->reading;
        lit = reading->lit.bands[band].evidence > reading->lit.bands[lit].evidence
                  ? (enum lamp_band)band
                  : lit;
        dark = reading->dark.bands[band].evidence > reading->dark.bands[dark].evidence
                   ? (enum lamp_band)band
                   : dark;
    }
    struct lamp_row row;
    struct lamp_groups groups;
    struct lamp_cycle cycle;
    lamp_reading_row(&judge->reading, lit, dark, &row);
    lamp_groups_split(&row, &groups);
    lamp_cycle_find(&groups, &cycle);
    return is_in_order(&cycle, ORDER_OF_A_RHYTHM);
}

/* For the camera, or, where edges come ready, for any lamp. */
static bool is_too_fast(const struct judge *judge)
{
    if ((double)judge->reading.seen_ns < (double)judge->reading.edges * LAMP_LENGTH_LEAST_NS) {
        return true;
    }
    return judge->shape != NULL && judge->shape->rate_hz > 0 &&
           judge->shape->fastest_hz > FASTEST_SHARE * judge->shape->rate_hz;
}

static bool has_no_cycle(const struct judge *judge)
{
    return judge->shape != NULL && judge->shape->cycle == LAMP_CYCLE_NONE;
}

/* Whether the lengths that last many sample intervals, which are no aliases, say by themselves that
 * the light is irregular. */
static bool is_irregular_where_slow(const struct judge *judge)
{
    const struct lamp_reading *all = &judge->reading;
    const double rate_hz = judge->shape != NULL ? judge->shape->rate_hz : 0;
    const double least_ns = rate_hz > 0 ? SLOW_INTERVALS * 1e9 / rate_hz : 0;
    struct lamp_reading slow;
    lamp_reading_take(all->at, all->count, judge->rules->jitter, least_ns, &slow);
    if (slow.lit.measures.count + slow.dark.measures.count < judge->rules->least_edges) {
        return false;
    }
    const struct lamp_regularity_evidence evidence = {.lit = slow.lit.bands,
                                                      .dark = slow.dark.bands,
                                                      .is_coarse_lit = slow.lit.is_coarse,
                                                      .is_coarse_dark = slow.dark.is_coarse};
    struct lamp_regularity regularity;
    lamp_regularity_weigh(&evidence, &regularity);
    return regularity.irregular >= (has_no_cycle(judge) ? LEAST_IRREGULAR_FOLDED : LEAST_IRREGULAR);
}

/* Whether light that looks irregular may only be too fast for its samples. */
static bool may_be_alias(const struct judge *judge)
{
    if (judge->shape != NULL && judge->shape->cycle == LAMP_CYCLE_FOUND) {
        return true;
    }
    return is_too_fast(judge) && !is_irregular_where_slow(judge);
}

/* Whether most edges take longer than an exposure explains: a hand and its shadow do that, a supply
 * that sags seldom. */
static bool is_soft(const struct judge *judge)
{
    return judge->shape != NULL && judge->shape->soft_share > MOST_SOFT;
}

/* Light that seems irregular: enough hard edges, no length classes, no order. */
static bool is_irregular(const struct judge *judge)
{
    bool is_uneven = has_shape(judge, LAMP_SHAPE_UNEVEN);
    size_t least_edges = judge->rules->least_edges;
    if (is_uneven && least_edges > LEAST_EDGES_UNEVEN) {
        least_edges = LEAST_EDGES_UNEVEN;
    }
    return judge->reading.edges >= least_edges && !is_soft(judge) &&
           judge->regularity.irregular >= (is_uneven ? LEAST_IRREGULAR_UNEVEN : LEAST_IRREGULAR) &&
           !is_ordered_though_loose(judge) && !lamp_row_returns(&judge->row, judge->rules->jitter);
}

static void judge_flicker(const struct judge *judge, struct lamp_rhythm *out)
{
    conclude(out, LAMP_VERDICT_FLICKER,
             judge->regularity.irregular * (1 - 0.5 / (double)judge->reading.edges));
    out->pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_FLICKER};
}

static size_t count_cycles(const struct lamp_row *row)
{
    return row->lit.members[0] < row->dark.members[0] ? row->lit.members[0] : row->dark.members[0];
}

/* Lengths that do not belong to a blink. */
struct flaws {
    size_t lost;  /* As long as two, with the lost one between them. */
    size_t other; /* Explained by nothing. */
    size_t ends;  /* Longer at an end, where the light may have rested. */
};

static struct flaws find_flaws(const struct lamp_row *row)
{
    struct flaws flaws = {0, 0, 0};
    for (size_t i = 0; i < row->count; i++) {
        const struct lamp_length *length = &row->at[i];
        double own = length->lit ? row->lit.mean[0] : row->dark.mean[0];
        double other = length->lit ? row->dark.mean[0] : row->lit.mean[0];
        double two = 2 * exp(own) + exp(other);
        if (row->of[i] == LAMP_CLASS_ODD) {
            bool is_lost = fabs((double)length->ns - two) < LOST_FIT * two;
            flaws.lost += is_lost;
            flaws.other += !is_lost;
        } else if (row->of[i] == LAMP_CLASS_CUT) {
            flaws.ends += lamp_length_exceeds(length, own + LOG_LONGER);
        }
    }
    return flaws;
}

/* What is longer than the rest of a blink may be the rest of a group of many flashes. */
static bool is_plain_blink(const struct judge *judge, const struct flaws *flaws, double blinking_s)
{
    size_t cycles = count_cycles(&judge->row);
    bool is_long = cycles >= MANY_CYCLES && blinking_s >= LONG_BLINK_S;
    bool is_flawless = flaws->lost == 0 && flaws->ends == 0;
    return flaws->other == 0 && flaws->ends < 2 && flaws->lost * 10 <= cycles &&
           (is_flawless || is_long);
}

/* Flashes this slow are hardly those of one group, so that two cycles of them say what three quick
 * ones do; if they are alike, as chance seldom makes them. */
static bool is_slow(const struct lamp_rhythm *rhythm)
{
    return rhythm->rate_hz <= SLOW_HZ;
}

/* One lit length, one dark length. */
static void judge_blink(const struct judge *judge, struct lamp_rhythm *out)
{
    size_t cycles = count_cycles(&judge->row);
    lamp_tell_blink(&judge->row, out);
    if (cycles + is_slow(out) < judge->rules->least_cycles) {
        doubt(out, LAMP_LACK_LENGTH);
        return;
    }
    if (cycles < judge->rules->least_cycles && !lamp_row_is_even(&judge->row)) {
        doubt(out, LAMP_LACK_REPEAT);
        return;
    }
    struct flaws flaws = find_flaws(&judge->row);
    if (!is_plain_blink(judge, &flaws, (double)cycles / out->rate_hz) ||
        judge->regularity.repeating < (is_slow(out) ? LEAST_REPEATING_SLOW : LEAST_REPEATING)) {
        doubt(out, flaws.other + flaws.lost > 2 ? LAMP_LACK_AGREEMENT : LAMP_LACK_REPEAT);
        return;
    }
    if (lamp_row_is_blind(&judge->row)) {
        doubt(out, LAMP_LACK_FRAMES);
        return;
    }
    double share = (double)cycles / (double)(cycles + 2 * flaws.lost + flaws.ends);
    double counted = (double)cycles + is_slow(out);
    double seen = 1 - 2.2 / (counted * counted);
    conclude(out, LAMP_VERDICT_BLINK, judge->regularity.repeating * share * seen);
}

/* Why groups that were found are not told as a rhythm; NOTHING if they are. */
static enum lamp_lack lack_of_groups(const struct judge *judge)
{
    const struct lamp_cycle *cycle = &judge->cycle;
    bool has_rest = judge->row.dark.count > 1;
    unsigned least = judge->rules->least_repeats;
    if (!has_rest && least < LEAST_RESTLESS_CYCLES) {
        least = LEAST_RESTLESS_CYCLES;
    }
    if (judge->groups.longer > 0 && least < LEAST_DOUBTED_REPEATS) {
        least = LEAST_DOUBTED_REPEATS;
    }
    if (cycle->agreeing < least) {
        return cycle->seen > cycle->agreeing + 1 ? LAMP_LACK_AGREEMENT : LAMP_LACK_REPEAT;
    }
    double share = cycle->has_grown ? LEAST_AGREEMENT_GROWN : LEAST_AGREEMENT;
    double over_few = cycle->count > 1 ? LEAST_OVER_FEW : 0;
    over_few += cycle->agreeing < cycle->seen ? LEAST_OVER_FEW_DAMAGED : 0;
    if (cycle->agreeing < share * cycle->seen || cycle->order < LEAST_ORDER ||
        cycle->order < cycle->few + over_few) {
        return cycle->agreeing == cycle->seen ? LAMP_LACK_REPEAT : LAMP_LACK_AGREEMENT;
    }
    return judge->regularity.repeating < LEAST_REPEATING ? LAMP_LACK_AGREEMENT : LAMP_LACK_NOTHING;
}

static void judge_groups(const struct judge *judge, struct lamp_rhythm *out)
{
    enum lamp_lack lack = lack_of_groups(judge);
    if (lack != LAMP_LACK_AGREEMENT && lamp_row_is_blind(&judge->row)) {
        lack = LAMP_LACK_FRAMES; /* the more repeats, the surer of a wrong count */
    }
    lamp_tell_groups(&judge->row, &judge->groups, &judge->cycle, out);
    lamp_letters_read(&judge->row, out);
    if (lack != LAMP_LACK_NOTHING || out->pattern.count == 0) {
        doubt(out, lack == LAMP_LACK_NOTHING ? LAMP_LACK_REPEAT : lack);
        return;
    }
    double repeats = (double)judge->cycle.agreeing;
    double share = repeats / (double)judge->cycle.seen;
    conclude(out, LAMP_VERDICT_UNLISTED,
             judge->regularity.repeating * (0.5 + 0.5 * share) * (1 - 0.15 / (repeats * repeats)));
}

/* Neither a rhythm nor chance: what is missing. */
static void judge_unclear(const struct judge *judge, struct lamp_rhythm *out)
{
    bool is_coarse = judge->reading.lit.is_coarse || judge->reading.dark.is_coarse;
    if (judge->reading.edges < judge->rules->least_edges) {
        doubt(out, LAMP_LACK_LENGTH);
    } else {
        doubt(out, is_coarse ? LAMP_LACK_LIGHT : LAMP_LACK_AGREEMENT);
    }
}

static void judge_edges(const struct judge *judge, struct lamp_rhythm *out)
{
    const struct lamp_regularity *regularity = &judge->regularity;
    bool is_timed = regularity->repeating + regularity->random_order >= 0.5;
    const bool seems_irregular = is_irregular(judge);
    if (seems_irregular && !may_be_alias(judge)) {
        judge_flicker(judge, out);
    } else if (seems_irregular || is_too_fast(judge)) {
        doubt(out, LAMP_LACK_RATE);
    } else if (judge->row.lit.count == 0 || judge->row.dark.count == 0) {
        doubt(out, LAMP_LACK_LENGTH);
    } else if (is_timed && is_blink_row(&judge->row)) {
        judge_blink(judge, out);
    } else if (is_timed) {
        judge_groups(judge, out);
    } else {
        judge_unclear(judge, out);
    }
}

/* What swells once may be a hand that passes; a lamp does it again. */
static void judge_smooth(const struct lamp_light_shape *shape, struct lamp_rhythm *out)
{
    if (shape->period_s > 0) {
        conclude(out, LAMP_VERDICT_FADE, 0.9);
    } else {
        doubt(out, LAMP_LACK_REPEAT);
    }
}

void lamp_rhythm_read(const struct lamp_length *lengths, size_t count,
                      const struct lamp_light_shape *shape, const struct lamp_rhythm_rules *rules,
                      struct lamp_rhythm *out)
{
    struct judge judge = {.shape = shape, .rules = rules};
    struct lamp_rhythm rhythm = {.verdict = LAMP_VERDICT_UNDECIDED};
    lamp_reading_take(lengths, count, rules->jitter, 0, &judge.reading);
    if (judge.reading.seen_ns > 0) {
        rhythm.edges_per_s = (double)judge.reading.edges * 1e9 / (double)judge.reading.seen_ns;
    }
    if (has_shape(&judge, LAMP_SHAPE_SMOOTH)) {
        judge_smooth(shape, &rhythm);
    } else if (judge.reading.edges == 0) {
        judge_steady(lengths, count, &judge, &rhythm);
    } else {
        weigh_all(&judge);
        rhythm.regularity = judge.regularity.nats;
        judge_edges(&judge, &rhythm);
    }
    *out = rhythm;
}
