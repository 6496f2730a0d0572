/* match.c - Which codebook entries fit the light, how likely each, and what speaks against the
 * others. */
#include "lampread/match.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "match/agree.h"
#include "match/differ.h"
#include "match/reason.h"
#include "match/suit.h"
#include "match/weigh.h"

/* Whole repeats that a code needs; a blink is plainer and needs more of its short cycles. */
#define REPEATS_TOLD 2
#define CYCLES_TOLD  3

/* Clean repeats that each flawed one needs beside it: groups of random counts now and then repeat
 * by chance. */
#define CLEAN_PER_FLAWED   3
#define CLEAN_PER_MISCOUNT 8

/* The same where the rhythm, read without a book, finds the entry's own pattern to repeat. */
#define CLEAN_PER_2_FLAWED_VOUCHED 3
#define CLEAN_PER_MISCOUNT_VOUCHED 6

/* Repeats that disagree, in the rhythm's eyes, must be outvoted by this many clean ones. */
#define REPEATS_OUTVOTE 3

/* What a steady lamp means takes this share of the confidence that a code does: there is no count
 * to mistake. */
#define STEADY_SHARE 0.85

/* Most that is believed of an entry for which the evidence is not whole. */
#define SHARE_UNTOLD 0.88

/* Most that is believed at all: models are never quite right, and repeats of one film share their
 * faults. */
#define SHARE_MOST   0.999
#define REPEAT_DOUBT 0.12

/* A rhythm stays unlisted while all entries together have no more than this. */
#define ENTRIES_DOUBTED 0.2

/* What may be a code although the rhythm is called flicker: at most this many flaws a matched
 * length, at least this much likelier than irregular light, nats. */
#define FLAWS_OF_CODE      0.3
#define LIKELIHOOD_OF_CODE 8.0

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

static bool is_steady(const struct lamp_rhythm *rhythm)
{
    return rhythm->verdict == LAMP_VERDICT_STEADY_ON || rhythm->verdict == LAMP_VERDICT_STEADY_OFF;
}

/* Whether the lengths can be trusted as flashes at all. */
static bool has_flashes(const struct lamp_rhythm *rhythm)
{
    return !is_steady(rhythm) && rhythm->verdict != LAMP_VERDICT_FADE &&
           !(rhythm->verdict == LAMP_VERDICT_UNDECIDED && rhythm->lack == LAMP_LACK_RATE);
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
    double sure =
        out->candidate_count > 0 ? fmin(out->confidence, out->candidate[0].confidence) : 0;
    double least = rules->least_confidence * (is_steady(evidence->rhythm) ? STEADY_SHARE : 1);
    if (sure >= least) {
        out->has_entry = true;
        out->confidence = sure;
    }
}

static size_t cycle_length(const struct lamp_contender *contender)
{
    struct lamp_model model;
    lamp_model_make(contender->code, &model);
    return model.count;
}

/* Whether there are clean repeats enough for what was flawed; the rhythm may vouch for the entry's
 * own pattern. */
static bool has_repeats(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    size_t least = cycle_length(contender) > 2 ? REPEATS_TOLD : CYCLES_TOLD;
    size_t flawed = contender->is_supported ? CLEAN_PER_2_FLAWED_VOUCHED * fit->repeats_flawed / 2
                                            : CLEAN_PER_FLAWED * fit->repeats_flawed;
    size_t miscounted =
        (contender->is_supported ? CLEAN_PER_MISCOUNT_VOUCHED : CLEAN_PER_MISCOUNT) *
        fit->miscounted;
    return fit->repeats_clean >= least && flawed <= fit->repeats_clean &&
           miscounted <= fit->repeats_clean;
}

/* Whether enough of an entry was seen, and nothing that it has not. */
static bool is_seen_whole(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    size_t cycle = cycle_length(contender);
    return !contender->is_contradicted && fit->has_room && fit->positions_seen == cycle &&
           has_repeats(contender);
}

/* Where the rhythm finds that repeats differ: whether those that agree are the entry's, or enough
 * are to outvote it. */
static bool is_outvoted(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    return contender->is_supported ||
           (fit->repeats_clean >= REPEATS_OUTVOTE &&
            CLEAN_PER_FLAWED * fit->repeats_flawed <= fit->repeats_clean);
}

/* Whether the rhythm lets the entry be told. */
static bool is_allowed(const struct lamp_rhythm *rhythm, const struct lamp_contender *contender)
{
    bool is_blink = cycle_length(contender) == 2;
    switch (rhythm->verdict) {
    case LAMP_VERDICT_UNLISTED: return true;
    case LAMP_VERDICT_BLINK: return is_blink;
    case LAMP_VERDICT_UNDECIDED: break;
    default: return false;
    }
    bool is_thin = rhythm->lack == LAMP_LACK_REPEAT || rhythm->lack == LAMP_LACK_LENGTH;
    bool is_mixed = rhythm->lack == LAMP_LACK_AGREEMENT && is_outvoted(contender);
    return !is_blink && (is_thin || is_mixed);
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

static void list_candidate(const struct lamp_evidence *evidence, const struct lamp_contender *from,
                           struct lamp_match *out)
{
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

/* The contender from `first` on whose cycle is nearest to the rhythm's and that is not told yet;
 * count if none is. */
static size_t find_nearest(const struct lamp_scales *scales, const struct lamp_wave *wave,
                           size_t first, const bool is_told[LAMP_CONTENDERS_MAX])
{
    size_t nearest = scales->count;
    double least = INFINITY;
    for (size_t i = first; i < scales->count; i++) {
        struct lamp_model model;
        lamp_model_make(scales->at[i].code, &model);
        double distance = wave->count > 0 ? lamp_differ_distance(&model, wave) : (double)i;
        if (!is_told[i] && distance < least) {
            least = distance;
            nearest = i;
        }
    }
    return nearest;
}

/* Those that may be it, likeliest first; then, to make up the number, those that look most like it.
 */
static void list_candidates(const struct lamp_evidence *evidence, const struct lamp_scales *scales,
                            struct lamp_match *out)
{
    struct lamp_wave wave = {.count = 0};
    bool is_told[LAMP_CONTENDERS_MAX] = {false};
    size_t likely = 0;
    while (likely < scales->count && likely < LAMP_CANDIDATES_MAX &&
           scales->at[likely].share >= CANDIDATE_LEAST) {
        list_candidate(evidence, &scales->at[likely++], out);
    }
    (void)lamp_rhythm_wave(evidence->rhythm, &wave);
    while (out->candidate_count < CANDIDATES_ANYWAY) {
        size_t nearest = find_nearest(scales, &wave, likely, is_told);
        if (nearest == scales->count) {
            break;
        }
        is_told[nearest] = true;
        double before =
            out->candidate_count > 0 ? out->candidate[out->candidate_count - 1].confidence : 1;
        list_candidate(evidence, &scales->at[nearest], out);
        struct lamp_candidate *last = &out->candidate[out->candidate_count - 1];
        last->confidence =
            fmin(last->confidence, before); /* All but 0; likeliest first is the rule. */
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
    if (scales->entries <= ENTRIES_DOUBTED) {
        out->confidence *= 1 - scales->entries;
        return;
    }
    bool is_shared = scales->entries >= rules->least_confidence * most_believed(first) &&
                     first->share < rules->least_confidence * scales->entries;
    out->verdict = LAMP_VERDICT_UNDECIDED;
    out->confidence = first->share;
    if (first->is_contradicted) {
        out->lack = LAMP_LACK_AGREEMENT;
        return;
    }
    bool is_repeated = has_repeats(first);
    out->lack = is_repeated && (is_shared || !first->fit.has_room) ? LAMP_LACK_DISTINCTION
                                                                   : LAMP_LACK_REPEAT;
}

static void match_waves(const struct lamp_evidence *evidence, const struct lamp_scales *scales,
                        const struct lamp_match_rules *rules, struct lamp_match *out)
{
    if (scales->count == 0) {
        return;
    }
    list_candidates(evidence, scales, out);
    const struct lamp_contender *first = &scales->at[0];
    bool is_sure = first->share >= rules->least_confidence && is_seen_whole(first);
    if (is_sure && is_allowed(evidence->rhythm, first)) {
        tell_entry(evidence->rhythm, first->share, out);
    } else if (evidence->rhythm->verdict == LAMP_VERDICT_UNLISTED) {
        tell_doubt(scales, rules, out);
    }
}

/* Light without a rhythm that a code of the book explains all the same, with some edges lost, is
 * not surely flicker. */
static bool may_be_code(const struct lamp_scales *scales)
{
    if (scales->count == 0 || scales->entries <= ENTRIES_DOUBTED) {
        return false;
    }
    const struct lamp_fit *fit = &scales->at[0].fit;
    double flaws = (double)(fit->lost + fit->extra + fit->odd);
    return cycle_length(&scales->at[0]) > 2 && flaws <= FLAWS_OF_CODE * (double)fit->matched &&
           fit->log_likelihood > LIKELIHOOD_OF_CODE;
}

void lamp_match(const struct lamp_evidence *evidence, const struct lamp_book *const *books,
                size_t book_count, const struct lamp_match_rules *rules, struct lamp_match *out)
{
    memset(out, 0, sizeof *out);
    out->verdict = evidence->rhythm->verdict;
    out->confidence = evidence->rhythm->confidence;
    out->lack = evidence->rhythm->lack;
    if (is_steady(evidence->rhythm)) {
        match_kind(evidence, books, book_count, rules, out);
        return;
    }
    if (!has_flashes(evidence->rhythm)) {
        return;
    }
    struct lamp_sight sight;
    struct lamp_scales scales;
    lamp_sight_take(evidence, &sight);
    const struct lamp_weighing weighing = {evidence, &sight, books, book_count, rules->edge_price};
    lamp_weigh(&weighing, &scales);
    temper(&scales);
    if (evidence->rhythm->verdict != LAMP_VERDICT_FLICKER) {
        match_waves(evidence, &scales, rules, out);
    } else if (may_be_code(&scales)) {
        list_candidates(evidence, &scales, out);
        out->verdict = LAMP_VERDICT_UNDECIDED;
        out->lack = LAMP_LACK_AGREEMENT;
        out->confidence = scales.at[0].share;
    } else {
        match_kind(evidence, books, book_count, rules, out);
    }
}
