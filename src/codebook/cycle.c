/* cycle.c - One cycle of an entry's light, and whether another lies within its tolerance.
 *
 *   a  __/~\_/~\______/~\_/~\______    one cycle of each, begun at any flash,
 *   b  /~~\__/~~\________/~~\__/~~\    stretched by one common scale: alike if
 *                                      every length lies within b's tolerance
 */
#include "codebook/cycle.h"

#include <string.h>

struct lamp_cycle lamp_cycle_of(const struct lamp_wave *wave)
{
    for (size_t period = 2; period < wave->count; period += 2) {
        if (wave->count % period == 0 &&
            memcmp(wave->length_ns, wave->length_ns + period,
                   (wave->count - period) * sizeof wave->length_ns[0]) == 0) {
            return (struct lamp_cycle){wave->length_ns, period};
        }
    }
    return (struct lamp_cycle){wave->length_ns, wave->count};
}

struct lamp_scale_range lamp_scale_range_of(const struct lamp_slack *slack)
{
    return (struct lamp_scale_range){1 / (1 + slack->tolerance), 1 + slack->tolerance};
}

bool lamp_scale_range_take(struct lamp_scale_range *range, const struct lamp_slack *slack,
                           int64_t is_ns, int64_t wanted_ns)
{
    double is = (double)is_ns;
    double wanted = (double)wanted_ns;
    double low = (wanted * (1 - slack->tolerance) - slack->blur_ns) / is;
    double high = (wanted * (1 + slack->tolerance) + slack->blur_ns) / is;
    range->least = low > range->least ? low : range->least;
    range->most = high < range->most ? high : range->most;
    return range->least <= range->most;
}

bool lamp_cycle_fits_from(const struct lamp_cycle *a, size_t first, const struct lamp_cycle *b,
                          size_t begin, const struct lamp_slack *slack)
{
    struct lamp_scale_range range = lamp_scale_range_of(slack);
    size_t count = a->count > b->count ? a->count : b->count;
    bool fits = true;
    for (size_t i = 0; i < count && fits; i++) {
        fits = lamp_scale_range_take(&range, slack, a->length_ns[(first + i) % a->count],
                                     b->length_ns[(begin + i) % b->count]);
    }
    return fits;
}

static size_t longest_of(const struct lamp_cycle *cycle)
{
    size_t longest = 0;
    for (size_t i = 1; i < cycle->count; i++) {
        longest = cycle->length_ns[i] > cycle->length_ns[longest] ? i : longest;
    }
    return longest;
}

/* Beginning at the longest length of `b`, which is rare, most ways to turn `a` are out at once. */
bool lamp_cycle_fits(const struct lamp_cycle *a, const struct lamp_cycle *b,
                     const struct lamp_slack *slack)
{
    size_t begin = longest_of(b);
    for (size_t first = begin % 2; first < a->count; first += 2) {
        if (lamp_cycle_fits_from(a, first, b, begin, slack)) {
            return true;
        }
    }
    return false;
}

bool lamp_cycle_is_too_quick(const struct lamp_cycle *cycle, double least_cycle_ns)
{
    for (size_t i = 0; i + 1 < cycle->count; i += 2) {
        if ((double)(cycle->length_ns[i] + cycle->length_ns[i + 1]) < least_cycle_ns) {
            return true;
        }
    }
    return false;
}
