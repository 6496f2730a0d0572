/* fold.c - Whether light repeats in a period that its edges do not show.
 *
 * Light that changes faster than the frames can follow looks irregular: an alias. Laid over one
 * another at the right period its samples are one wave again, those of irregular light at none:
 * phase dispersion minimisation (R. F. Stellingwerf, Astrophysical Journal 224, 1978, from memory).
 */
#include "rhythm/fold.h"

#include <math.h>
#include <string.h>

#include "base/number.h"

/* So much time is folded: a lamp's clock and a camera's agree over it to a part of a flash. */
#define MOST_S       12.0
#define LEAST_S      4.0
#define LEAST_COUNT  64
#define LEAST_CYCLES 6.0

/* Faster light is gone within an exposure, and stamps are not exact enough to fold it; the ripple
 * of a supply from the mains, at 100 or 120 Hz, is not. */
#define MOST_HZ 130.0

/* From this share of the frame rate on, the wave of one flash is looked for, in so many parts;
 * below it a cycle of flashes, in parts of half an interval. */
#define QUICK_SHARE  0.35
#define QUICK_PARTS  8
#define PARTS_LEAST  6
#define PARTS_MOST   256
#define PARTS_A_STEP 2.0

/* Between two rates that are tried, the last sample moves by this share of a period, or of a part
 * of one. */
#define QUICK_MOVE 0.25
#define PART_MOVE  0.5

/* Share of the light's variation that a period must explain: irregular light of 4 s is explained to
 * seven tenths by the best of all periods, of 12 s to four tenths. */
#define SHARE_EVER 0.36
#define SHARE_S    2.0

struct part {
    double sum;
    size_t count;
};

struct spread {
    double mean;
    double squares; /* Sum of those of the distances from it. */
};

static double at_s(const struct lamp_window *window, size_t i)
{
    return window->t_s[i] + (double)window->exposure_ns[i] / 2 / LAMP_NS_PER_S;
}

static double level_at(const struct lamp_window *window, size_t i)
{
    const double step = window->lit[i] - window->dark[i];
    return step > 0 ? (window->level[i] - window->dark[i]) / step : window->level[i];
}

/* End of the stretch that begins at sample `from`. */
static size_t end_of(const struct lamp_window *window, size_t from)
{
    size_t to = from;
    while (to < window->count && to - from < LAMP_FOLD_MAX &&
           window->t_s[to] - window->t_s[from] <= MOST_S) {
        to++;
    }
    return to;
}

static double way_between(const struct lamp_window *window, size_t from, size_t to)
{
    double way = 0;
    for (size_t i = from + 1; i < to; i++) {
        way += fabs(level_at(window, i) - level_at(window, i - 1));
    }
    return way;
}

void lamp_fold_take(const struct lamp_window *window, struct lamp_fold_light *out)
{
    size_t from = 0;
    double most = -1;
    for (size_t i = 0; i < window->count; i += LAMP_FOLD_MAX / 8) {
        const double way = way_between(window, i, end_of(window, i));
        if (way > most) {
            most = way;
            from = i;
        }
    }
    const size_t to = end_of(window, from);
    out->count = to - from;
    out->rate_hz = window->interval_s > 0 ? 1 / window->interval_s : 0;
    for (size_t i = 0; i < out->count; i++) {
        out->t_s[i] = at_s(window, from + i) - at_s(window, from);
        out->level[i] = level_at(window, from + i);
    }
}

static struct spread measure_spread(const struct lamp_fold_light *light)
{
    struct spread spread = {0, 0};
    for (size_t i = 0; i < light->count; i++) {
        spread.mean += light->level[i] / (double)light->count;
    }
    for (size_t i = 0; i < light->count; i++) {
        const double off = light->level[i] - spread.mean;
        spread.squares += off * off;
    }
    return spread;
}

/* Share of the variation that goes when each sample is compared with those at its part of the
 * period alone. */
static double share_at(const struct lamp_fold_light *light, const struct spread *all, double hz,
                       size_t parts)
{
    struct part part[PARTS_MOST];
    memset(part, 0, parts * sizeof *part);
    for (size_t i = 0; i < light->count; i++) {
        const double phase = light->t_s[i] * hz;
        struct part *own = &part[(size_t)((phase - floor(phase)) * (double)parts)];
        own->sum += light->level[i] - all->mean;
        own->count++;
    }
    double explained = 0;
    size_t free = light->count;
    for (size_t k = 0; k < parts; k++) {
        if (part[k].count > 0) {
            explained += part[k].sum * part[k].sum / (double)part[k].count;
            free--;
        }
    }
    if (free == 0) {
        return 0;
    }
    const double left = (all->squares - explained) / (double)free;
    return 1 - left * (double)(light->count - 1) / all->squares;
}

/* What is asked of every period. */
struct search {
    const struct lamp_fold_light *light;
    struct spread all;
    double seen_s;
    double enough;   /* Share that a period must explain. */
    double quick_hz; /* From here on a single flash is looked for. */
};

/* One flash, again and again. */
static bool repeats_quickly(const struct search *search)
{
    double hz = search->quick_hz;
    while (hz < MOST_HZ &&
           share_at(search->light, &search->all, hz, QUICK_PARTS) < search->enough) {
        hz += QUICK_MOVE / search->seen_s;
    }
    return hz < MOST_HZ;
}

static size_t parts_at(const struct search *search, double hz)
{
    const double wanted = PARTS_A_STEP * search->light->rate_hz / hz;
    return (size_t)fmin(fmax(wanted, PARTS_LEAST), PARTS_MOST);
}

/* A cycle of flashes. */
static bool repeats_slowly(const struct search *search)
{
    const double most_hz = fmin(search->quick_hz, MOST_HZ);
    double hz = LEAST_CYCLES / search->seen_s;
    while (hz < most_hz &&
           share_at(search->light, &search->all, hz, parts_at(search, hz)) < search->enough) {
        hz += PART_MOVE / ((double)parts_at(search, hz) * search->seen_s);
    }
    return hz < most_hz;
}

enum lamp_cycle_sign lamp_fold_look(const struct lamp_fold_light *light)
{
    struct search search = {.light = light, .all = measure_spread(light)};
    search.seen_s = light->count > 0 ? light->t_s[light->count - 1] : 0;
    if (search.seen_s < LEAST_S || light->count < LEAST_COUNT || !(search.all.squares > 0)) {
        return LAMP_CYCLE_UNKNOWN;
    }
    search.enough = SHARE_EVER + SHARE_S / search.seen_s;
    search.quick_hz = QUICK_SHARE * light->rate_hz;
    const bool repeats = repeats_quickly(&search) || repeats_slowly(&search);
    return repeats ? LAMP_CYCLE_FOUND : LAMP_CYCLE_NONE;
}
