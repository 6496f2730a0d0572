/* tally.c - How much time was spent at each level, in memory that does not grow. */
#include "rhythm/tally.h"

#include <math.h>

/* Bins on either side of 0. */
#define HALF LAMP_TALLY_HALF

/* Least range, linear light. */
#define LEAST_REACH 1e-3

/* Merge bins by pairs about the middle. */
static void widen(struct lamp_tally *tally)
{
    for (size_t i = 0; i < HALF / 2; i++) {
        const size_t up = HALF + i;
        const size_t down = HALF - 1 - i;
        tally->time_s[up] = tally->time_s[HALF + 2 * i] + tally->time_s[HALF + 2 * i + 1];
        tally->time_s[down] = tally->time_s[HALF - 1 - 2 * i] + tally->time_s[HALF - 2 - 2 * i];
    }
    for (size_t i = HALF / 2; i < HALF; i++) {
        tally->time_s[HALF + i] = 0;
        tally->time_s[HALF - 1 - i] = 0;
    }
    tally->reach *= 2;
}

void lamp_tally_add(struct lamp_tally *tally, double level, double time_s)
{
    if (tally->reach <= 0) {
        tally->reach = LEAST_REACH;
    }
    while (fabs(level) >= tally->reach) {
        widen(tally);
    }
    const double place = (level / tally->reach + 1) * HALF;
    const size_t bin = place <= 0 ? 0 : (size_t)place;
    tally->time_s[bin < LAMP_TALLY_BINS ? bin : LAMP_TALLY_BINS - 1] += time_s;
}

static double level_of(const struct lamp_tally *tally, size_t bin)
{
    return (((double)bin + 0.5) / HALF - 1) * tally->reach;
}

static double sum_time(const struct lamp_tally *tally)
{
    double sum = 0;
    for (size_t i = 0; i < LAMP_TALLY_BINS; i++) {
        sum += tally->time_s[i];
    }
    return sum;
}

double lamp_tally_quantile(const struct lamp_tally *tally, double share)
{
    const double all = sum_time(tally);
    double sum = 0;
    for (size_t i = 0; i < LAMP_TALLY_BINS && all > 0; i++) {
        sum += tally->time_s[i];
        if (sum > 0 && sum >= share * all) {
            return level_of(tally, i);
        }
    }
    return 0;
}

double lamp_tally_index(const struct lamp_tally *tally)
{
    const double all = sum_time(tally);
    double area = 0;
    for (size_t i = HALF; i < LAMP_TALLY_BINS; i++) {
        area += tally->time_s[i] * level_of(tally, i);
    }
    if (area <= 0) {
        return 0;
    }
    const double mean = area / all;
    double above = 0;
    for (size_t i = HALF; i < LAMP_TALLY_BINS; i++) {
        above += tally->time_s[i] * fmax(0, level_of(tally, i) - mean);
    }
    return above / area;
}
