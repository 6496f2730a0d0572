/* track.c - A level that drifts slowly, followed through the samples that show it.
 *
 * A sample's neighbours count with a weight that falls off exponentially with time, both ways.
 * Where few are near, those farther off are asked, and where there are none of these the level at
 * rest. What the average misses of a bend is averaged once more and added ("twicing"), so that a
 * level that swells over a few seconds is followed without being pulled flat.
 */
#include "rhythm/track.h"

#include <math.h>

/* Samples' worth of trust in the farther average, and in the level at rest. */
#define FAR_TRUST  1.0
#define REST_TRUST 0.5

/* out[i]: weighted sum of `value` around i; its mass is left in room[1]. */
static void average(struct lamp_window *window, const double *weight, const double *value,
                    double tau_s, double *out)
{
    double *sum = window->room[0];
    double *mass = window->room[1];
    double s = 0;
    double m = 0;
    for (size_t i = 0; i < window->count; i++) {
        const double decay = i > 0 ? exp(-window->span_s[i - 1] / tau_s) : 0;
        s = s * decay + weight[i] * value[i];
        m = m * decay + weight[i];
        sum[i] = s;
        mass[i] = m;
    }
    s = 0;
    m = 0;
    for (size_t i = window->count; i-- > 0;) {
        const double decay = exp(-window->span_s[i] / tau_s);
        s *= decay;
        m *= decay;
        out[i] = sum[i] + s;
        mass[i] += m;
        s += weight[i] * value[i];
        m += weight[i];
    }
}

/* Turn sums into means that lean on `rest` where the mass is small. */
static void settle(const struct lamp_window *window, double *sum, const double *rest, double flat,
                   double trust)
{
    for (size_t i = 0; i < window->count; i++) {
        const double fallback = rest != NULL ? rest[i] : flat;
        sum[i] = (sum[i] + trust * fallback) / (window->room[1][i] + trust);
    }
}

/* Sum of each sample's share in its own level, by the mass that averaging left; twicing takes it
 * twice. */
static double count_free(const struct lamp_window *window, const double *weight)
{
    double sum = 0;
    for (size_t i = 0; i < window->count; i++) {
        const double share = weight[i] / (window->room[1][i] + FAR_TRUST);
        sum += share * (2 - share);
    }
    return sum;
}

double lamp_track_follow(struct lamp_window *window, const double *weight,
                         const struct lamp_track_rules *rules, double *out)
{
    double *far = window->room[2];
    average(window, weight, window->level, rules->far_s, far);
    settle(window, far, NULL, rules->rest, REST_TRUST);
    average(window, weight, window->level, rules->near_s, out);
    settle(window, out, far, 0, FAR_TRUST);
    const double free = count_free(window, weight);

    double *missed = window->room[2];
    for (size_t i = 0; i < window->count; i++) {
        missed[i] = window->level[i] - out[i];
    }
    double *more = window->room[3];
    average(window, weight, missed, rules->near_s, more);
    settle(window, more, NULL, 0, FAR_TRUST);
    for (size_t i = 0; i < window->count; i++) {
        const double level = out[i] + more[i];
        out[i] = fmin(fmax(level, rules->rest - rules->reach), rules->rest + rules->reach);
    }
    return free;
}
