/* match.c - Which codebook entries fit the light, how likely each, and what speaks against the
 * others. */
#include "lampread/match.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "match/reason.h"
#include "match/suit.h"
#include "match/weigh.h"

/* Whole repeats that a code needs; a blink is plainer and needs more of its short cycles. */
#define REPEATS_TOLD 2
#define CYCLES_TOLD  3

/* One clean repeat is enough if two cycles' worth of lengths was seen and none is further off than
 * this, sd. */
#define Z_TOLD 3.0

/* Repeats that disagree, in the rhythm's eyes, must be outvoted by this many clean ones. */
#define REPEATS_OUTVOTE 3

/* Classes that need more of the tolerance than this among themselves may be of a code like it that
 * no book lists. */
#define STRAIN_TOLD 0.8

/* And this share of the tolerance must be left for the common scale. */
#define ROOM_TOLD 0.25

/* Most that is believed of an entry for which the evidence is not whole. */
#define SHARE_UNTOLD 0.85

/* Most that is believed at all: models are never quite right, and repeats of one film share their
 * faults. */
#define SHARE_MOST   0.999
#define REPEAT_DOUBT 0.12

/* A rhythm stays unlisted while all entries together have no more than this. */
#define ENTRIES_DOUBTED 0.2

/* A pattern that has no wave (steady, flicker) says little: chance that the book does not mean it.
 */
#define KIND_NOT_MEANT 0.05

/* Candidates beyond the third that are less likely than this are not told. */
#define CANDIDATE_LEAST   1e-4
#define CANDIDATES_ANYWAY 3

struct lamp_match_rules lamp_match_rules_default(void)
{
    return (struct lamp_match_rules){.least_confidence = 0.9, .edge_price = 6};
}

static bool is_dark_or_steady(const struct lamp_rhythm *rhythm)
{
    return rhythm->verdict == LAMP_VERDICT_STEADY_ON ||
           rhythm->verdict == LAMP_VERDICT_STEADY_OFF || rhythm->verdict == LAMP_VERDICT_FLICKER;
}

/* Whether the lengths can be trusted as flashes at all. */
static bool is_read_as_flashes(const struct lamp_rhythm *rhythm)
{
    bool undecided = rhythm->verdict == LAMP_VERDICT_UNDECIDED && rhythm->lack != LAMP_LACK_RATE;
    return undecided || rhythm->verdict == LAMP_VERDICT_BLINK ||
           rhythm->verdict == LAMP_VERDICT_UNLISTED;
}

static enum lamp_pattern_kind kind_of(enum lamp_verdict verdict)
{
    switch (verdict) {
    case LAMP_VERDICT_STEADY_ON: return LAMP_PATTERN_STEADY_ON;
    case LAMP_VERDICT_STEADY_OFF: return LAMP_PATTERN_STEADY_OFF;
    default: return LAMP_PATTERN_FLICKER;
    }
}

static void add_candidate(struct lamp_match *out, const struct lamp_candidate *made)
{
    size_t at = out->candidate_count;
    if (at == LAMP_CANDIDATES_MAX) {
        if (out->candidate[--at].confidence >= made->confidence) {
            return;
        }
    } else {
        out->candidate_count++;
    }
    for (; at > 0 && out->candidate[at - 1].confidence < made->confidence; at--) {
        out->candidate[at] = out->candidate[at - 1];
    }
    out->candidate[at] = *made;
}

static double add_of_kind(const struct lamp_evidence *evidence, const struct lamp_book *book,
                          struct lamp_match *out)
{
    double sum = 0;
    for (size_t i = 0; i < book->code_count; i++) {
        double suits = lamp_suit(evidence, book, &book->code[i]);
        if (book->code[i].pattern.kind != kind_of(evidence->rhythm->verdict) || !(suits > 0)) {
            continue;
        }
        struct lamp_candidate made = {
            .book = book, .code = &book->code[i], .confidence = suits, .scale = 1};
        if (suits < LAMP_SUIT_CONTRADICTS) {
            (void)snprintf(made.against, sizeof made.against, "lamp is %s, not %s",
                           lamp_colour_name(evidence->colour),
                           lamp_colour_name(lamp_suit_colour(book, made.code)));
        }
        sum += suits;
        add_candidate(out, &made);
    }
    return sum;
}

/* Steady and flicker: the verdict is the match, only the lamp tells entries apart. */
static void match_kind(const struct lamp_evidence *evidence, const struct lamp_book *const *books,
                       size_t book_count, const struct lamp_match_rules *rules,
                       struct lamp_match *out)
{
    double sum = KIND_NOT_MEANT;
    for (size_t b = 0; b < book_count; b++) {
        sum += add_of_kind(evidence, books[b], out);
    }
    for (size_t i = 0; i < out->candidate_count; i++) {
        out->candidate[i].confidence /= sum;
    }
    if (out->candidate_count > 0 && out->candidate[0].confidence >= rules->least_confidence) {
        out->has_entry = true;
        out->confidence = fmin(out->confidence, out->candidate[0].confidence);
    }
}

static size_t cycle_length(const struct lamp_contender *contender)
{
    struct lamp_model model;
    lamp_model_make(contender->code, &model);
    return model.count;
}

static bool has_repeats(const struct lamp_fit *fit, size_t cycle)
{
    bool is_flawless =
        fit->repeats_flawed == 0 && fit->lost == 0 && fit->extra == 0 && fit->odd == 0;
    if (fit->repeats_clean == 1 && cycle > 2) {
        return is_flawless && fit->matched >= 2 * cycle && fit->worst_z < Z_TOLD;
    }
    return fit->repeats_clean >= (cycle > 2 ? REPEATS_TOLD : CYCLES_TOLD) &&
           3 * fit->repeats_flawed <= 2 * fit->repeats_clean;
}

/* Whether enough of an entry was seen, and nothing that it has not. */
static bool is_seen_whole(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    size_t cycle = cycle_length(contender);
    double most = log1p(contender->code->tolerance);
    bool is_within = fit->beyond < -ROOM_TOLD * most && fit->strain <= STRAIN_TOLD && fabs(fit->middle) <= most;
    return !contender->is_contradicted && is_within && fit->positions_seen == cycle &&
           has_repeats(fit, cycle);
}

/* Whether the rhythm lets the entry be told. */
static bool is_allowed(const struct lamp_evidence *evidence, const struct lamp_contender *contender)
{
    const struct lamp_rhythm *rhythm = evidence->rhythm;
    if (rhythm->verdict == LAMP_VERDICT_UNLISTED) {
        return true;
    }
    if (rhythm->verdict == LAMP_VERDICT_BLINK) {
        return cycle_length(contender) == 2;
    }
    bool is_outvoted =
        contender->fit.repeats_clean >= REPEATS_OUTVOTE && contender->fit.repeats_flawed <= 1;
    bool is_thin = rhythm->lack == LAMP_LACK_REPEAT || rhythm->lack == LAMP_LACK_LENGTH ||
                   (rhythm->lack == LAMP_LACK_AGREEMENT && is_outvoted);
    return rhythm->verdict == LAMP_VERDICT_UNDECIDED && is_thin && cycle_length(contender) > 2;
}

static double most_believed(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    if (!is_seen_whole(contender)) {
        return SHARE_UNTOLD;
    }
    double clean = (double)fit->repeats_clean - (double)fit->repeats_flawed;
    return clean < 2 ? 1 - REPEAT_DOUBT / 1.5
                     : fmin(1 - REPEAT_DOUBT / (clean * clean), SHARE_MOST);
}

/* Cap what is believed of each entry; the rest goes to a code that no book lists. */
static void temper(struct lamp_scales *scales)
{
    for (size_t i = 0; i < scales->count; i++) {
        struct lamp_contender *contender = &scales->at[i];
        if (contender->share > 0.5) {
            double kept = contender->share * most_believed(contender);
            scales->unlisted += contender->share - kept;
            scales->entries -= contender->share - kept;
            contender->share = kept;
        }
    }
}

static void list_candidates(const struct lamp_evidence *evidence, const struct lamp_scales *scales,
                            struct lamp_match *out)
{
    for (size_t i = 0; i < scales->count && out->candidate_count < LAMP_CANDIDATES_MAX; i++) {
        const struct lamp_contender *from = &scales->at[i];
        if (i >= CANDIDATES_ANYWAY && from->share < CANDIDATE_LEAST) {
            continue;
        }
        struct lamp_candidate *to = &out->candidate[out->candidate_count++];
        *to = (struct lamp_candidate){
            .book = from->book,
            .code = from->code,
            .confidence = from->share,
            .log_likelihood = from->fit.log_likelihood,
            .scale = from->fit.scale,
        };
        lamp_reason_write(evidence, from, to->against);
    }
}

static void tell_entry(const struct lamp_rhythm *rhythm, double share, struct lamp_match *out)
{
    out->has_entry = true;
    out->lack = LAMP_LACK_NOTHING;
    if (rhythm->verdict == LAMP_VERDICT_BLINK) {
        out->confidence = fmin(rhythm->confidence, share);
    } else {
        out->verdict = LAMP_VERDICT_CODE;
        out->confidence = share;
    }
}

/* Groups that repeat, and no entry is sure: say why not. */
static void tell_doubt(const struct lamp_scales *scales, const struct lamp_match_rules *rules,
                       struct lamp_match *out)
{
    const struct lamp_contender *first = &scales->at[0];
    if (scales->entries <= ENTRIES_DOUBTED || first->is_contradicted) {
        out->confidence *= 1 - scales->entries;
        return;
    }
    bool is_shared = scales->entries >= rules->least_confidence * most_believed(first) &&
                     first->share < rules->least_confidence * scales->entries;
    out->verdict = LAMP_VERDICT_UNDECIDED;
    bool is_repeated = has_repeats(&first->fit, cycle_length(first));
    out->lack = is_repeated && (is_shared || first->fit.strain > STRAIN_TOLD)
                    ? LAMP_LACK_DISTINCTION
                    : LAMP_LACK_REPEAT;
    out->confidence = first->share;
}

static void match_waves(const struct lamp_evidence *evidence, const struct lamp_book *const *books,
                        size_t book_count, const struct lamp_match_rules *rules,
                        struct lamp_match *out)
{
    struct lamp_sight sight;
    struct lamp_scales scales;
    lamp_sight_take(evidence, &sight);
    lamp_weigh(evidence, &sight, books, book_count, rules->edge_price, &scales);
    if (scales.count == 0) {
        return;
    }
    temper(&scales);
    list_candidates(evidence, &scales, out);
    const struct lamp_contender *first = &scales.at[0];
    bool is_sure = first->share >= rules->least_confidence && is_seen_whole(first);
    if (is_sure && is_allowed(evidence, first)) {
        tell_entry(evidence->rhythm, first->share, out);
    } else if (evidence->rhythm->verdict == LAMP_VERDICT_UNLISTED) {
        tell_doubt(&scales, rules, out);
    }
}

void lamp_match(const struct lamp_evidence *evidence, const struct lamp_book *const *books,
                size_t book_count, const struct lamp_match_rules *rules, struct lamp_match *out)
{
    memset(out, 0, sizeof *out);
    out->verdict = evidence->rhythm->verdict;
    out->confidence = evidence->rhythm->confidence;
    out->lack = evidence->rhythm->lack;
    if (is_dark_or_steady(evidence->rhythm)) {
        match_kind(evidence, books, book_count, rules, out);
    } else if (is_read_as_flashes(evidence->rhythm) && evidence->length_count > 0) {
        match_waves(evidence, books, book_count, rules, out);
    }
}
