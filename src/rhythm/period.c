/* period.c - The period of light that swells and sinks. */
#include "rhythm/period.h"

#include <math.h>

/* The window is read at so many even times, and compared with itself up to two thirds as many
 * later. */
#define POINTS 1024
#define LAGS   (2 * POINTS / 3)

/* A peak this much below the highest is taken for it if it comes sooner: not a multiple of the
 * period. */
#define NEAR_HIGHEST 0.85

/* Less than this is no period. */
#define LEAST_STRENGTH 0.6

/* Read the light at even times, its mean taken off. */
static double read_evenly(const struct lamp_window *window, double *out)
{
    const double step_s = window->t_s[window->count - 1] / (POINTS - 1);
    double sum = 0;
    size_t i = 0;
    for (size_t p = 0; p < POINTS; p++) {
        const double t_s = step_s * (double)p;
        while (i + 2 < window->count && window->t_s[i + 1] <= t_s) {
            i++;
        }
        const double share = fmin(fmax((t_s - window->t_s[i]) / window->span_s[i], 0), 1);
        out[p] = window->level[i] + share * (window->level[i + 1] - window->level[i]);
        sum += out[p];
    }
    for (size_t p = 0; p < POINTS; p++) {
        out[p] -= sum / POINTS;
    }
    return step_s;
}

/* Mean product of the points with those `lag` later. */
static double correlate(const double *point, size_t lag)
{
    double product = 0;
    for (size_t p = 0; p + lag < POINTS; p++) {
        product += point[p] * point[p + lag];
    }
    return product / (double)(POINTS - lag);
}

static bool is_peak(const double *value, size_t i)
{
    return value[i] >= value[i - 1] && value[i] > value[i + 1];
}

/* First lag at which the correlation has gone below 0; LAGS if it never does. */
static size_t find_turn(const double *value)
{
    size_t lag = 1;
    while (lag < LAGS && value[lag] > 0) {
        lag++;
    }
    return lag;
}

static size_t find_peak(const double *value)
{
    const size_t turn = find_turn(value);
    double highest = LEAST_STRENGTH;
    for (size_t i = turn; i + 1 < LAGS; i++) {
        highest = is_peak(value, i) ? fmax(highest, value[i]) : highest;
    }
    for (size_t i = turn; i + 1 < LAGS; i++) {
        if (is_peak(value, i) && value[i] >= NEAR_HIGHEST * highest && value[i] >= LEAST_STRENGTH) {
            return i;
        }
    }
    return 0;
}

double lamp_period_find(struct lamp_window *window, double *strength)
{
    *strength = 0;
    if (window->count < 8 || window->t_s[window->count - 1] <= 0) {
        return 0;
    }
    double *point = window->room[0];
    double *value = window->room[1];
    const double step_s = read_evenly(window, point);
    for (size_t lag = 0; lag < LAGS; lag++) {
        value[lag] = correlate(point, lag);
    }
    for (size_t lag = LAGS; lag-- > 0 && value[0] > 0;) {
        value[lag] /= value[0];
    }
    const size_t peak = find_peak(value);
    if (peak == 0) {
        return 0;
    }
    const double bend = value[peak - 1] - 2 * value[peak] + value[peak + 1];
    const double shift = bend < 0 ? 0.5 * (value[peak - 1] - value[peak + 1]) / bend : 0;
    *strength = value[peak];
    return step_s * ((double)peak + shift);
}
