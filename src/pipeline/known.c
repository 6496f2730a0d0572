/* known.c - Lamps across peeks: which lamp of a new view is which of the old ones. */
#include "pipeline/known.h"

#include <stdlib.h>
#include <string.h>

struct lamp_doing lamp_doing_of(const struct lamp_report_lamp *lamp)
{
    return (struct lamp_doing){.verdict = lamp->match.verdict,
                               .code = lamp->match.has_entry ? lamp->match.candidate[0].code : NULL,
                               .pattern = lamp->rhythm.pattern};
}

bool lamp_doing_is_same(const struct lamp_doing *a, const struct lamp_doing *b)
{
    return a->verdict == b->verdict && a->code == b->code &&
           (a->verdict != LAMP_VERDICT_UNLISTED || lamp_pattern_equal(&a->pattern, &b->pattern));
}

static bool is_same_place(const struct lamp_report_lamp *lamp, const struct lamp_known *known)
{
    if (!lamp->has_region || !known->has_region) {
        return lamp->has_region == known->has_region && strcmp(lamp->name, known->name) == 0;
    }
    const struct lamp_region *a = &lamp->region;
    const struct lamp_region *b = &known->region;
    int reach = (a->w_px + a->h_px + b->w_px + b->h_px) / 4 + 2; /* of the doubled distance */
    return abs(2 * a->x_px + a->w_px - 2 * b->x_px - b->w_px) <= reach &&
           abs(2 * a->y_px + a->h_px - 2 * b->y_px - b->h_px) <= reach;
}

/* Two colours may share a place: the same colour is preferred. */
struct lamp_known *lamp_known_find(struct lamp_acquaintance *all,
                                   const struct lamp_report_lamp *lamp)
{
    struct lamp_known *found = NULL;
    for (size_t i = 0; i < all->count; i++) {
        struct lamp_known *known = &all->at[i];
        if (!known->is_taken && is_same_place(lamp, known) &&
            (found == NULL || known->colour == lamp->colour)) {
            found = known;
        }
    }
    return found;
}

/* The one of no lamp of this view that was out of view for longest. */
static size_t find_oldest(const struct lamp_acquaintance *all)
{
    size_t oldest = 0;
    for (size_t i = 1; i < all->count; i++) {
        const struct lamp_known *known = &all->at[i];
        bool is_older = all->at[oldest].is_taken || known->seen_ns < all->at[oldest].seen_ns;
        oldest = !known->is_taken && is_older ? i : oldest;
    }
    return oldest;
}

struct lamp_known *lamp_known_add(struct lamp_acquaintance *all, int64_t now_ns)
{
    size_t at = all->count < LAMP_KNOWN_MAX ? all->count++ : find_oldest(all);
    all->at[at] = (struct lamp_known){.since_ns = now_ns};
    return &all->at[at];
}
