/* ripple.c - Whether the room's light ripples, and at what rate the camera sees it. */
#include "light/ripple.h"

#include <math.h>

enum { FRAMES_LEAST = 48 };
#define LEAST_AMPLITUDE 0.006 /* share of the light */
#define LEAST_SHARE     0.5   /* of the gain's variance that one rate must explain */
#define SLOWEST_HZ      1.5   /* slower changes are the camera's exposure, or clouds */

void lamp_ripple_push(struct lamp_ripple *ripple, int64_t t_ns, double gain)
{
    ripple->gain[ripple->count % LAMP_RIPPLE_KEPT] = gain;
    ripple->t_ns[ripple->count % LAMP_RIPPLE_KEPT] = t_ns;
    ripple->count++;
}

/* Gains as differences from a running mean of five, oldest first, so that slow changes drop out. */
static unsigned flatten(const struct lamp_ripple *r, double *value, double *t_s)
{
    unsigned kept = r->count < LAMP_RIPPLE_KEPT ? r->count : LAMP_RIPPLE_KEPT;
    unsigned first = r->count - kept;
    unsigned n = 0;
    for (unsigned i = first + 4; i + 4 < r->count; i++) {
        double mean = 0;
        for (unsigned k = i - 4; k <= i + 4; k++) {
            mean += r->gain[k % LAMP_RIPPLE_KEPT] / 9;
        }
        value[n] = r->gain[i % LAMP_RIPPLE_KEPT] / mean - 1;
        t_s[n++] =
            (double)(r->t_ns[i % LAMP_RIPPLE_KEPT] - r->t_ns[first % LAMP_RIPPLE_KEPT]) * 1e-9;
    }
    return n;
}

double lamp_ripple_rate(const struct lamp_ripple *ripple)
{
    double value[LAMP_RIPPLE_KEPT];
    double t_s[LAMP_RIPPLE_KEPT];
    unsigned n = flatten(ripple, value, t_s);
    if (n < FRAMES_LEAST || !(t_s[n - 1] > t_s[0])) {
        return 0;
    }
    double variance = 0;
    for (unsigned i = 0; i < n; i++) {
        variance += value[i] * value[i] / n;
    }
    double rate = (n - 1) / (t_s[n - 1] - t_s[0]);
    double step = 0.25 / (t_s[n - 1] - t_s[0]);
    double best = 0;
    double best_power = 0;
    for (double hz = SLOWEST_HZ; hz < rate / 2; hz += step) {
        double c = 0;
        double s = 0;
        for (unsigned i = 0; i < n; i++) {
            c += value[i] * cos(6.283185307179586 * hz * t_s[i]);
            s += value[i] * sin(6.283185307179586 * hz * t_s[i]);
        }
        double power = 2 * (c * c + s * s) / ((double)n * n);
        if (power > best_power) {
            best_power = power;
            best = hz;
        }
    }
    return sqrt(2 * best_power) > LEAST_AMPLITUDE && best_power > LEAST_SHARE * variance ? best : 0;
}
