/* cycle.c - The smallest cycle of groups that explains them, and how little chance does.
 *
 *   2 . 5 . 2 . 5 . 2        a cycle of two groups: two whole occurrences, and one group more that
 * agrees
 *
 * Every whole group was either told by the cycle or is out of order. One that was told gains its
 * surprise, what it would have cost as one of random order, the first occurrence excepted: that one
 * has to be told itself. One that is out of order costs the log of its share, and so does a cycle
 * of several that begins anew. So a cycle of many groups must earn its telling, and chance seldom
 * does.
 */
#include "rhythm/cycle.h"

#include <math.h>
#include <string.h>

/* Of eight groups seven are told by the cycle, before any is seen. */
#define MOSTLY_TOLD 7.0

/* A cycle of several groups falls out of step once in eight. */
#define LOG_SLIP (-2.08)

/* Weight of kinds not seen yet where groups come by chance. */
#define NEW_KINDS 2.0

/* What a group costs that was cut by the end of the recording and yet does not fit: the log of a
 * 20th. */
#define UNFIT_END 3.0

struct trial {
    const struct lamp_groups *groups;
    size_t first;
    size_t count;
    bool is_told[LAMP_ROW_MAX];
    unsigned agreeing;
    unsigned slips; /* Whole cycles out of step with the one before them. */
};

static bool is_usable(const struct lamp_segment *segment)
{
    return lamp_segment_is_whole(segment) && !segment->is_odd;
}

/* Whether segment `i` can be the one `step` places on from a segment before it. */
static bool follows(const struct lamp_groups *groups, size_t i, size_t step)
{
    return i < groups->count && is_usable(&groups->segment[i]) &&
           (step == 0 || groups->segment[i].joins);
}

static bool is_cycle_here(const struct trial *trial, size_t at)
{
    for (size_t i = 0; i < trial->count; i++) {
        if (!follows(trial->groups, at + i, i) ||
            trial->groups->segment[at + i].id != trial->groups->segment[trial->first + i].id) {
            return false;
        }
    }
    return true;
}

/* Whether the same groups in the same order begin earlier. */
static bool was_tried(const struct trial *trial)
{
    for (size_t at = 0; at < trial->first; at++) {
        if (is_cycle_here(trial, at)) {
            return true;
        }
    }
    return false;
}

/* Groups just after a whole cycle that begin another one. */
static void tell_after(struct trial *trial, size_t at)
{
    for (size_t i = 0; i < trial->count; i++) {
        if (!follows(trial->groups, at + i, 1) || trial->is_told[at + i] ||
            trial->groups->segment[at + i].id != trial->groups->segment[trial->first + i].id) {
            return;
        }
        trial->is_told[at + i] = true;
    }
}

/* Groups just before a whole cycle that end another one. */
static void tell_before(struct trial *trial, size_t at)
{
    for (size_t i = trial->count; i-- > 0 && at > 0;) {
        const struct lamp_segment *segment = &trial->groups->segment[at];
        at--;
        if (!segment->joins || !is_usable(&trial->groups->segment[at]) || trial->is_told[at] ||
            trial->groups->segment[at].id != trial->groups->segment[trial->first + i].id) {
            return;
        }
        trial->is_told[at] = true;
    }
}

static void find_occurrences(struct trial *trial)
{
    size_t begin[LAMP_ROW_MAX];
    trial->agreeing = 0;
    memset(trial->is_told, 0, sizeof trial->is_told);
    for (size_t at = 0; at < trial->groups->count;) {
        if (!is_cycle_here(trial, at)) {
            at++;
            continue;
        }
        begin[trial->agreeing++] = at;
        memset(trial->is_told + at, true, trial->count * sizeof trial->is_told[0]);
        at += trial->count;
    }
    trial->slips = 0;
    for (unsigned i = 0; i < trial->agreeing; i++) {
        trial->slips += i > 0 && (begin[i] - begin[i - 1]) % trial->count != 0;
        tell_before(trial, begin[i]);
        tell_after(trial, begin[i] + trial->count);
    }
}

static size_t length_of(const struct lamp_segment *segment)
{
    return segment->to - segment->from;
}

/* How well the groups are explained as drawn by chance from a few kinds: the first of each kind is
 * told, the others come from an urn that holds those seen and NEW_KINDS more. So do counts of
 * retries. */
static double weigh_few(const struct lamp_groups *groups)
{
    size_t seen[LAMP_ROW_MAX] = {0};
    double all = NEW_KINDS;
    double few = 0;
    for (size_t i = 0; i < groups->count; i++) {
        const struct lamp_segment *segment = &groups->segment[i];
        if (lamp_segment_is_whole(segment)) {
            size_t before = seen[segment->id]++;
            few += before > 0 ? segment->surprise + log((double)before) : log(NEW_KINDS);
            few -= log(all);
            all++;
        }
    }
    return few;
}

/* Whether one lost or extra pair of edges makes `damaged` out of `told`: then all is the same but
 * for a flash or two that became one length, or none, or one length that became three. */
static bool is_damaged(const struct lamp_groups *groups, const struct lamp_segment *damaged,
                       const struct lamp_segment *told)
{
    size_t shorter = length_of(damaged) < length_of(told) ? length_of(damaged) : length_of(told);
    size_t begin = 0;
    while (begin < shorter &&
           groups->token[damaged->from + begin] == groups->token[told->from + begin]) {
        begin++;
    }
    size_t end = 0;
    while (begin + end < shorter &&
           groups->token[damaged->to - end - 1] == groups->token[told->to - end - 1]) {
        end++;
    }
    size_t now = length_of(damaged) - begin - end;
    size_t before = length_of(told) - begin - end;
    return (before <= 2 && now <= 1) || (before <= 1 && now <= 3);
}

/* What an untold group says for the cycle if one of the cycle's groups explains it: which of that
 * group's edges are at fault, against what it would have cost as one of random order. */
static double weigh_untold(const struct trial *trial, const struct lamp_segment *untold)
{
    double order = 0;
    for (size_t i = 0; i < trial->count; i++) {
        const struct lamp_segment *told = &trial->groups->segment[trial->first + i];
        if (is_damaged(trial->groups, untold, told)) {
            order = fmax(order, untold->surprise - log(2.0 * (double)length_of(told)));
        }
    }
    return order;
}

/* Log probability of so many groups told and untold, their share not known: one untold, and
 * MOSTLY_TOLD told, are taken as seen before. */
static double weigh_shares(size_t told, size_t untold)
{
    double sum = 0;
    for (size_t i = 0; i < told; i++) {
        sum += log(MOSTLY_TOLD + (double)i) - log(MOSTLY_TOLD + 1 + (double)i);
    }
    for (size_t i = 0; i < untold; i++) {
        sum += log(1 + (double)i) - log(MOSTLY_TOLD + 1 + (double)(told + i));
    }
    return sum;
}

/* Edges are lost more often than made: a group out of order should not be longer than those it may
 * be. */
static bool has_grown(const struct trial *trial)
{
    size_t longest = 0;
    for (size_t i = 0; i < trial->count; i++) {
        size_t length = length_of(&trial->groups->segment[trial->first + i]);
        longest = length > longest ? length : longest;
    }
    for (size_t i = 0; i < trial->groups->count; i++) {
        const struct lamp_segment *segment = &trial->groups->segment[i];
        if (lamp_segment_is_whole(segment) && !trial->is_told[i] && length_of(segment) > longest) {
            return true;
        }
    }
    return false;
}

/* Weigh what was found: see the top of this file. */
static void weigh(const struct trial *trial, struct lamp_cycle *out)
{
    size_t told = 0;
    size_t untold = 0;
    double order = -log((double)trial->count);
    if (trial->count > 1) {
        order += trial->slips * (LOG_SLIP - log((double)trial->count));
    }
    for (size_t i = 0; i < trial->groups->count; i++) {
        const struct lamp_segment *segment = &trial->groups->segment[i];
        if (!lamp_segment_is_whole(segment)) {
            continue;
        }
        told += trial->is_told[i];
        untold += !trial->is_told[i];
        order += trial->is_told[i] ? segment->surprise : weigh_untold(trial, segment);
    }
    for (size_t i = 0; i < trial->count; i++) {
        order -= trial->groups->segment[trial->first + i].surprise;
    }
    order += weigh_shares(told, untold);
    *out = (struct lamp_cycle){.first = trial->first,
                               .count = trial->count,
                               .agreeing = trial->agreeing,
                               .has_grown = has_grown(trial),
                               .seen = trial->agreeing +
                                       (unsigned)ceil((double)untold / (double)trial->count),
                               .order = order};
}

static bool token_fits(enum lamp_token seen, enum lamp_token told)
{
    return seen == told ||
           (seen == LAMP_TOKEN_ANY && (told == LAMP_TOKEN_SHORT || told == LAMP_TOKEN_LONG));
}

/* Whether a segment cut at an end can be a part of `told`: its end, its beginning, or something
 * between. */
static bool is_part(const struct lamp_groups *groups, const struct lamp_segment *cut,
                    const struct lamp_segment *told)
{
    size_t length = cut->to - cut->from;
    size_t whole = told->to - told->from;
    for (size_t shift = 0; shift + length <= whole; shift++) {
        if ((cut->has_start && shift > 0) || (cut->has_end && shift + length < whole)) {
            continue;
        }
        size_t same = 0;
        while (same < length && token_fits(groups->token[cut->from + same],
                                           groups->token[told->from + shift + same])) {
            same++;
        }
        if (same == length) {
            return true;
        }
    }
    return false;
}

static bool fits_cycle(const struct lamp_groups *groups, const struct lamp_segment *cut,
                       const struct lamp_cycle *cycle)
{
    for (size_t i = 0; i < cycle->count; i++) {
        if (cut->is_odd || is_part(groups, cut, &groups->segment[cycle->first + i])) {
            return true;
        }
    }
    return false;
}

/* Groups that the ends of the recording cut are not counted, but they may speak against the cycle.
 */
static void weigh_ends(const struct lamp_groups *groups, struct lamp_cycle *cycle)
{
    for (size_t i = 0; i < groups->count; i++) {
        const struct lamp_segment *segment = &groups->segment[i];
        if (!lamp_segment_is_whole(segment) && !fits_cycle(groups, segment, cycle)) {
            cycle->order -= UNFIT_END;
        }
    }
}

static bool is_better(const struct lamp_cycle *a, const struct lamp_cycle *b)
{
    if ((a->agreeing > 1) != (b->agreeing > 1)) {
        return a->agreeing > 1;
    }
    return b->count == 0 || a->order > b->order + 1e-9;
}

/* Try every cycle of `count` segments, each of its kind once. */
static void try_count(const struct lamp_groups *groups, size_t count, struct lamp_cycle *best)
{
    struct trial trial = {.groups = groups, .count = count};
    for (; trial.first + count <= groups->count; trial.first++) {
        if (!is_cycle_here(&trial, trial.first) || was_tried(&trial)) {
            continue;
        }
        struct lamp_cycle found;
        find_occurrences(&trial);
        weigh(&trial, &found);
        if (is_better(&found, best)) {
            *best = found;
        }
    }
}

void lamp_cycle_find(const struct lamp_groups *groups, struct lamp_cycle *out)
{
    struct lamp_cycle best = {0};
    for (size_t count = 1; count <= LAMP_CYCLE_MAX && count <= groups->count; count++) {
        try_count(groups, count, &best);
    }
    if (best.count > 0) {
        weigh_ends(groups, &best);
    }
    best.few = weigh_few(groups);
    *out = best;
}
