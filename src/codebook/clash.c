/* clash.c - Entries of a book that a camera cannot tell apart.
 *
 *   a  __/~\_/~\______/~\_/~\______     one cycle of each, begun at any flash, stretched by one
 * common b  /~~\__/~~\________/~~\__/~~\     scale: alike if every length then lies within b's
 * tolerance
 */
#include <string.h>

#include "base/number.h"
#include "lampread/codebook.h"

/* Edges are placed to about a quarter of a frame; a cycle shorter than 2.5 frames is not read at
 * all. */
#define FRAMES_OF_BLUR    0.25
#define FRAMES_OF_A_CYCLE 2.5

/* By how much a length may differ. */
struct slack {
    double tolerance; /* Share of it. */
    double blur_ns;   /* And what the camera cannot see. */
};

/* The shortest repeating part of a wave, lengths. */
static size_t period_of(const struct lamp_wave *wave)
{
    for (size_t period = 2; period < wave->count; period += 2) {
        if (wave->count % period == 0 &&
            memcmp(wave->length_ns, wave->length_ns + period,
                   (wave->count - period) * sizeof wave->length_ns[0]) == 0) {
            return period;
        }
    }
    return wave->count;
}

/* One cycle of a wave: its shortest repeating part. */
struct cycle {
    const int64_t *length_ns;
    size_t count;
};

static size_t longest_of(const struct cycle *cycle)
{
    size_t longest = 0;
    for (size_t i = 1; i < cycle->count; i++) {
        longest = cycle->length_ns[i] > cycle->length_ns[longest] ? i : longest;
    }
    return longest;
}

/* Whether `a`, begun at `first`, lies within the tolerance of `b`, begun at `begin`, after one
 * scale within it. */
static bool fits_from(const struct cycle *a, size_t first, const struct cycle *b, size_t begin,
                      const struct slack *slack)
{
    double least = 1 / (1 + slack->tolerance);
    double most = 1 + slack->tolerance;
    size_t count = a->count > b->count ? a->count : b->count;
    for (size_t i = 0; i < count && least <= most; i++) {
        double is = (double)a->length_ns[(first + i) % a->count];
        double wanted = (double)b->length_ns[(begin + i) % b->count];
        double low = (wanted * (1 - slack->tolerance) - slack->blur_ns) / is;
        double high = (wanted * (1 + slack->tolerance) + slack->blur_ns) / is;
        least = low > least ? low : least;
        most = high < most ? high : most;
    }
    return least <= most;
}

/* Beginning at the longest length of `b`, which is rare, most ways to turn `a` are out at once. */
static bool fits(const struct cycle *a, const struct cycle *b, const struct slack *slack)
{
    size_t begin = longest_of(b);
    for (size_t first = begin % 2; first < a->count; first += 2) {
        if (fits_from(a, first, b, begin, slack)) {
            return true;
        }
    }
    return false;
}

/* Whether the quickest lit-dark pair is over before the camera has looked often enough. */
static bool is_too_quick(const struct lamp_wave *wave, double least_cycle_ns)
{
    for (size_t i = 0; i + 1 < wave->count; i += 2) {
        if ((double)(wave->length_ns[i] + wave->length_ns[i + 1]) < least_cycle_ns) {
            return true;
        }
    }
    return false;
}

static bool share_a_lamp(const struct lamp_code *a, const struct lamp_code *b)
{
    return a->lamp == NULL || b->lamp == NULL || strcmp(a->lamp, b->lamp) == 0;
}

/* What is learnt of an entry once, so that most pairs are told apart without looking at their
 * lengths. */
struct gist {
    uint16_t period; /* Lengths before its wave repeats. */
    bool is_too_quick;
};

/* Whether waves of these periods could be one light at all. */
static bool could_be_alike(const struct gist *a, const struct gist *b)
{
    if (a->period == 0 || b->period == 0) {
        return a->period == b->period;
    }
    return (a->is_too_quick && b->is_too_quick) || a->period % b->period == 0 ||
           b->period % a->period == 0;
}

/* One entry among those compared. */
struct side {
    const struct lamp_code *code;
    const struct gist *gist;
};

static bool are_alike(const struct side *a, const struct side *b, double blur_ns)
{
    if (!could_be_alike(a->gist, b->gist) || !share_a_lamp(a->code, b->code)) {
        return false;
    }
    if (a->gist->period == 0) {
        return a->code->pattern.kind == b->code->pattern.kind;
    }
    if (a->gist->is_too_quick && b->gist->is_too_quick) {
        return true;
    }
    struct cycle cycle_a = {a->code->wave.length_ns, a->gist->period};
    struct cycle cycle_b = {b->code->wave.length_ns, b->gist->period};
    struct slack slack_a = {a->code->tolerance, blur_ns};
    struct slack slack_b = {b->code->tolerance, blur_ns};
    return fits(&cycle_a, &cycle_b, &slack_b) || fits(&cycle_b, &cycle_a, &slack_a);
}

/* The clashes that are found: all are counted, and those there is room for are written. */
struct finds {
    struct lamp_clash *out;
    size_t room;
    size_t count;
};

static void compare(struct finds *finds, const struct side *a, const struct side *b, double blur_ns)
{
    if (!are_alike(a, b, blur_ns)) {
        return;
    }
    if (finds->count < finds->room) {
        finds->out[finds->count] = (struct lamp_clash){a->code, b->code};
    }
    finds->count++;
}

size_t lamp_book_clashes(const struct lamp_book *book, double rate_hz, struct lamp_clash *out,
                         size_t room)
{
    double frame_ns = rate_hz > 0 ? LAMP_NS_PER_S / rate_hz : 0;
    struct gist gist[LAMP_BOOK_CODES_MAX];
    struct finds finds = {out, room, 0};
    for (size_t i = 0; i < book->code_count; i++) {
        struct side b = {&book->code[i], &gist[i]};
        gist[i] = (struct gist){(uint16_t)period_of(&b.code->wave),
                                is_too_quick(&b.code->wave, FRAMES_OF_A_CYCLE * frame_ns)};
        for (size_t k = 0; k < i; k++) {
            struct side a = {&book->code[k], &gist[k]};
            compare(&finds, &a, &b, FRAMES_OF_BLUR * frame_ns);
        }
    }
    return finds.count;
}
