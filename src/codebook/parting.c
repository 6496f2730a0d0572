/* parting.c - How long two entries may look alike before they part.
 *
 *   a  ~~\_/~\_/~~~~~\____        the longest stretch of a's light that can be laid along b's with
 *   b   ~\_/~\_/~\___/~~          one scale: a cut length at its beginning, lengths that agree,
 *        |<-------->|             and at its end what both have of the first that does not
 */
#include <string.h>

#include "codebook/clash.h"

/* The light of one entry laid along that of another. */
struct lay {
    const struct lamp_cycle *a;
    const struct lamp_cycle *b;
    struct lamp_slack slack; /* Of b. */
};

static int64_t at(const struct lamp_cycle *cycle, size_t i)
{
    return cycle->length_ns[i % cycle->count];
}

/* The part of a length of `a` that a length of `b`, drawn out as far as it may be, lasts too. */
static double shared_ns(const struct lay *lay, size_t in_a, size_t in_b, double least_scale)
{
    double of_a = (double)at(lay->a, in_a);
    double of_b = (double)at(lay->b, in_b) * (1 + lay->slack.tolerance) + lay->slack.blur_ns;
    return of_a < of_b / least_scale ? of_a : of_b / least_scale;
}

/* How long a's light passes for b's where the first whole lengths are `in_a` and `in_b`. */
static double stretch_ns(const struct lay *lay, size_t in_a, size_t in_b)
{
    struct lamp_scale_range range = lamp_scale_range_of(&lay->slack);
    struct lamp_scale_range next = range;
    size_t most = 2 * (lay->a->count + lay->b->count);
    double sum_ns = 0;
    size_t i = 0;
    while (i < most &&
           lamp_scale_range_take(&next, &lay->slack, at(lay->a, in_a + i), at(lay->b, in_b + i))) {
        range = next;
        sum_ns += (double)at(lay->a, in_a + i);
        i++;
    }
    return sum_ns +
           shared_ns(lay, in_a + lay->a->count - 1, in_b + lay->b->count - 1, range.least) +
           shared_ns(lay, in_a + i, in_b + i, range.least);
}

/* The longest over all beginnings. */
static double longest_ns(const struct lamp_gist *a, const struct lamp_gist *b, double blur_ns)
{
    const struct lay lay = {&a->cycle, &b->cycle, {b->code->tolerance, blur_ns}};
    double longest = 0;
    for (size_t in_a = 0; in_a < a->cycle.count; in_a++) {
        for (size_t in_b = in_a % 2; in_b < b->cycle.count; in_b += 2) {
            double now = stretch_ns(&lay, in_a, in_b);
            longest = now > longest ? now : longest;
        }
    }
    return longest;
}

/* A steady lamp and one that changes look alike for the longest length of that side. */
static double longest_side_ns(const struct lamp_gist *steady, const struct lamp_gist *changes)
{
    bool is_lit = steady->code->pattern.kind == LAMP_PATTERN_STEADY_ON;
    double longest = 0;
    for (size_t i = is_lit ? 0 : 1; i < changes->cycle.count; i += 2) {
        double now = (double)changes->cycle.length_ns[i] * (1 + changes->code->tolerance);
        longest = now > longest ? now : longest;
    }
    return longest;
}

static double watch_ns(const struct lamp_gist *a, const struct lamp_gist *b, double blur_ns)
{
    if (a->cycle.count == 0 && b->cycle.count == 0) {
        return 0;
    }
    if (a->cycle.count == 0 || b->cycle.count == 0) {
        return a->cycle.count == 0 ? longest_side_ns(a, b) : longest_side_ns(b, a);
    }
    double one = longest_ns(a, b, blur_ns);
    double other = longest_ns(b, a, blur_ns);
    return one > other ? one : other;
}

static bool part(const struct lamp_gist *a, const struct lamp_gist *b, double rate_hz,
                 struct lamp_parting *out)
{
    bool is_flicker = a->code->pattern.kind == LAMP_PATTERN_FLICKER ||
                      b->code->pattern.kind == LAMP_PATTERN_FLICKER;
    bool is_same_kind = a->code->pattern.kind == b->code->pattern.kind;
    if (!lamp_clash_share_a_lamp(a->code, b->code) || (is_flicker && !is_same_kind)) {
        return false;
    }
    double blur_ns = lamp_clash_blur_ns(rate_hz);
    bool never = lamp_clash_are_alike(a, b, blur_ns);
    *out = (struct lamp_parting){.a = a->code,
                                 .b = b->code,
                                 .never = never,
                                 .watch_ns = never ? 0 : (int64_t)watch_ns(a, b, blur_ns)};
    return true;
}

bool lamp_codes_part(const struct lamp_code *a, const struct lamp_code *b, double rate_hz,
                     struct lamp_parting *out)
{
    struct lamp_gist of_a = lamp_gist_of(a, rate_hz);
    struct lamp_gist of_b = lamp_gist_of(b, rate_hz);
    return part(&of_a, &of_b, rate_hz, out);
}

static bool is_harder(const struct lamp_parting *a, const struct lamp_parting *b)
{
    return a->never != b->never ? a->never : a->watch_ns > b->watch_ns;
}

/* Keep `parting` among the hardest. @return how many there are now. */
static size_t enter(struct lamp_parting *out, size_t count, size_t room,
                    const struct lamp_parting *parting)
{
    if (room == 0 || (count == room && !is_harder(parting, &out[count - 1]))) {
        return count;
    }
    size_t place = count == room ? count - 1 : count;
    size_t grown = place + 1;
    for (; place > 0 && is_harder(parting, &out[place - 1]); place--) {
        out[place] = out[place - 1];
    }
    out[place] = *parting;
    return grown;
}

size_t lamp_book_partings(const struct lamp_book *book, double rate_hz, struct lamp_parting *out,
                          size_t room)
{
    struct lamp_gist gist[LAMP_PARTINGS_CODES_MAX];
    size_t count = 0;
    if (book->code_count > LAMP_PARTINGS_CODES_MAX) {
        return 0;
    }
    for (size_t i = 0; i < book->code_count; i++) {
        gist[i] = lamp_gist_of(&book->code[i], rate_hz);
        for (size_t k = 0; k < i; k++) {
            struct lamp_parting parting;
            bool is_close = part(&gist[k], &gist[i], rate_hz, &parting);
            count = is_close ? enter(out, count, room, &parting) : count;
        }
    }
    return count;
}
