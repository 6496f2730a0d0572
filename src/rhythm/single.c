/* single.c - The other ways to see a window's samples: one level that drifts, or one that ripples.
 */
#include "rhythm/single.h"

#include <math.h>
#include <string.h>

#include "rhythm/guess.h"
#include "rhythm/track.h"

/* One level alone follows quicker than one of two, to explain all that is slow. */
#define DRIFT_NEAR_S 0.4
#define DRIFT_FAR_S  2.0

/* Scatter between that of the middle samples and that of all is tried in so many steps. */
#define SPREADS 4

/* Samples over which a ripple keeps its rate: the mains sway. */
#define STRETCH 64

/* Rates tried on either side of the rough one, in parts of a cycle over the stretch. */
#define RATES     6
#define RATE_STEP 0.25

/* A wave and its double; each is taken out so often, as they are not quite apart in uneven samples.
 */
#define WAVES  2
#define ROUNDS 3

/* Free numbers of a stretch: sine and cosine of each wave, their mean, the rate. */
#define FREE_OF_STRETCH (2 * WAVES + 2)

#define TURN 6.283185307179586

double lamp_single_follow(struct lamp_window *window)
{
    memcpy(window->room[0], window->level, window->count * sizeof *window->level);
    const double typical = lamp_quantile(window->room[0], window->count, 0.5);
    for (size_t i = 0; i < window->count; i++) {
        window->weight[i] = 1;
    }
    const struct lamp_track_rules rules = {
        .near_s = DRIFT_NEAR_S, .far_s = DRIFT_FAR_S, .rest = typical, .reach = INFINITY};
    return lamp_track_follow(window, window->weight, &rules, window->one);
}

/* What the one level leaves of the light: room[1]. */
static double *take_off(struct lamp_window *window)
{
    for (size_t i = 0; i < window->count; i++) {
        window->room[1][i] = window->level[i] - window->one[i];
    }
    return window->room[1];
}

static double measure_spread(struct lamp_window *window, const double *off, bool all)
{
    double *size = window->room[0];
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        size[i] = fabs(off[i]);
        sum += size[i] * size[i];
    }
    return all ? sqrt(sum / (double)window->count) : lamp_quantile(size, window->count, 0.6827);
}

double lamp_single_spread(struct lamp_window *window, bool all)
{
    return measure_spread(window, take_off(window), all);
}

/* Log-likelihood of what is left, with the noise that suits it best. */
static double score_rest(struct lamp_window *window, const double *off,
                         const struct lamp_light_model *two)
{
    struct lamp_light_model model = *two;
    model.stray_share = LAMP_STRAY_SHARE_MOST;
    const double middle = measure_spread(window, off, false);
    const double whole = measure_spread(window, off, true);
    double best = -INFINITY;
    for (int tried = 0; tried <= SPREADS; tried++) {
        const double sd = lamp_noise_floor(middle + (whole - middle) * tried / SPREADS, two);
        const struct lamp_scatter scatter = lamp_scatter_make(sd, &model);
        double score = 0;
        for (size_t i = 0; i < window->count; i++) {
            score += lamp_scatter_log(&scatter, off[i]);
        }
        best = fmax(best, score);
    }
    return best;
}

double lamp_single_score(struct lamp_window *window, const struct lamp_light_model *two,
                         double free)
{
    return score_rest(window, take_off(window), two) - free;
}

/* A stretch of samples: when each was, and its light. */
struct stretch {
    size_t count;
    const double *t_s;
    double *off;
};

/* Take one wave out of a stretch; its mean where the rate is 0. */
static void take_wave(struct stretch stretch, double hz)
{
    double along = 0;
    double across = 0;
    for (size_t i = 0; i < stretch.count; i++) {
        along += stretch.off[i] * cos(TURN * hz * stretch.t_s[i]);
        across += stretch.off[i] * sin(TURN * hz * stretch.t_s[i]);
    }
    const double share = (hz > 0 ? 2.0 : 1.0) / (double)stretch.count;
    for (size_t i = 0; i < stretch.count; i++) {
        stretch.off[i] -= share * (along * cos(TURN * hz * stretch.t_s[i]) +
                                   across * sin(TURN * hz * stretch.t_s[i]));
    }
}

/* Take out what goes with one rate. @return the sum of squares of what is left. */
static double take_ripple(struct stretch stretch, double hz)
{
    for (int round = 0; round < ROUNDS; round++) {
        for (int wave = 0; wave <= WAVES; wave++) {
            take_wave(stretch, wave * hz);
        }
    }
    double sum = 0;
    for (size_t i = 0; i < stretch.count; i++) {
        sum += stretch.off[i] * stretch.off[i];
    }
    return sum;
}

/* Take out of a stretch the ripple of whichever rate leaves least. */
static void take_best(struct stretch stretch, double hz)
{
    double tried[2 * STRETCH];
    double kept[2 * STRETCH];
    double least = INFINITY;
    const double long_s = stretch.t_s[stretch.count - 1] - stretch.t_s[0];
    for (int step = -RATES; step <= RATES; step++) {
        memcpy(tried, stretch.off, stretch.count * sizeof *tried);
        const double rate = hz + step * RATE_STEP / long_s;
        const double left =
            rate > 0 ? take_ripple((struct stretch){stretch.count, stretch.t_s, tried}, rate)
                     : INFINITY;
        if (left < least) {
            least = left;
            memcpy(kept, tried, stretch.count * sizeof *kept);
        }
    }
    if (least < INFINITY) {
        memcpy(stretch.off, kept, stretch.count * sizeof *kept);
    }
}

double lamp_single_score_ripple(struct lamp_window *window, const struct lamp_light_model *two,
                                double free, double cycle_s)
{
    double *off = take_off(window);
    for (size_t from = 0; from < window->count;) {
        const size_t left = window->count - from;
        const size_t count = left < (size_t)2 * STRETCH ? left : STRETCH;
        take_best((struct stretch){count, window->t_s + from, off + from}, 1 / cycle_s);
        free += FREE_OF_STRETCH;
        from += count;
    }
    return score_rest(window, off, two) - free;
}
