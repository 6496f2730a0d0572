/* ticks.c - Where an axis has its marks, and how they are written. */
#include "report/ticks.h"

#include <math.h>
#include <stdio.h>

/* Slack for marks at the very ends, share of a step. */
#define SLACK 1e-6

static double round_step(double least)
{
    double power = pow(10, floor(log10(least)));
    double share = least / power;
    double steps = share <= 1 + SLACK ? 1 : share <= 2 + SLACK ? 2 : share <= 5 + SLACK ? 5 : 10;
    return steps * power;
}

struct lamp_ticks lamp_ticks_choose(double from, double span, size_t most)
{
    struct lamp_ticks ticks = {.step = round_step(span / (double)most)};
    ticks.first = ceil(from / ticks.step - SLACK) * ticks.step;
    ticks.count = (size_t)floor((from + span - ticks.first) / ticks.step + SLACK) + 1;
    ticks.decimals = (int)fmax(0, -floor(log10(ticks.step) + SLACK));
    return ticks;
}

void lamp_ticks_write(const struct lamp_ticks *ticks, size_t index, char *out, size_t size)
{
    double value = ticks->first + (double)index * ticks->step;
    value = fabs(value) < ticks->step / 2 ? 0 : value; /* no "-0" */
    (void)snprintf(out, size, "%.*f", ticks->decimals, value);
}
